"""The page *Bench*: callbacks, model, view."""

from typing import Final

BENCH_URL: Final = "bench-url"
BENCH_DATES: Final = "bench-dates"
BENCH_RANGES: Final = "bench-ranges"
BENCH_DIE: Final = "bench-die"
BENCH_CAUSE: Final = "bench-cause"
BENCH_BODY: Final = "bench-body"
BENCH_RATES: Final = "bench-rates"
BENCH_ROWS: Final = "bench-rows"
BENCH_WEAR: Final = "bench-wear"
BENCH_CERTIFICATE: Final = "bench-certificate"
BENCH_STRIP: Final = "bench-strip"
BENCH_PDF: Final = "bench-pdf"
BENCH_CSV: Final = "bench-csv"
BENCH_FILE: Final = "bench-file"
