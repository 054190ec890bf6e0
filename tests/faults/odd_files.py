"""Files that hold what no file should, each with what must become of it: refused with a reason, or rows set aside."""

from __future__ import annotations

import datetime as dt
import decimal
import io
import os
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from tests.invented.small import strokes

HEAD = b"time,press_id,counter\n"
ROW = b"2026-11-02T15:00:00Z,P1,54000\n"
_PLAUSIBLE = dt.datetime(2026, 11, 2, 15, tzinfo=dt.UTC)
#: Seconds since 1970 of the ends of the years that Python has dates for, and one beyond each.
_ENDS_S = (253_402_300_799, 253_402_300_800, -62_135_596_800, -62_135_596_801, -62_167_219_201)
_PER_S = {"ms": 10**3, "us": 10**6, "ns": 10**9}


class Fate(NamedTuple):
    """What must become of a file: words in the reason it is refused with, or rows set aside of rows read."""

    refused: str = ""
    aside: int = 0
    read: int = 0


def _parquet(columns: dict[str, object] | pa.Table) -> bytes:
    sink = io.BytesIO()
    pq.write_table(columns if isinstance(columns, pa.Table) else pa.table(columns), sink)
    return sink.getvalue()


def _of_numbers(numbers: list[int], kind: pa.DataType, width: pa.DataType) -> pa.Array:
    return pa.Array.from_buffers(kind, len(numbers), [None, pa.array(numbers, width).buffers()[1]])


def _times(unit: str, zone: str | None) -> tuple[bytes, Fate]:
    """Readings at both ends of 64 bits and of the years there are, and a last one that is plausible."""
    per_s = _PER_S[unit]
    numbers = [0, 2**63 - 1, 1 - 2**63, *(end * per_s for end in _ENDS_S if abs(end * per_s) < 2**63)]
    numbers.append(int(_PLAUSIBLE.timestamp()) * per_s)
    n = len(numbers)
    columns = {
        "time": _of_numbers(numbers, pa.timestamp(unit, zone), pa.int64()),
        "press_id": ["P1"] * n,
        "counter": [54_000] * n,
    }
    return _parquet(columns), Fate(aside=n - 1, read=n)


def _dates(name: str, days: list[int]) -> dict[str, tuple[bytes, Fate]]:
    """Dates far out, and a last one that is plausible (2024-10-04 is day 20,000)."""
    column = _of_numbers([*days, 20_000], pa.date32(), pa.int32())
    ids = [f"q{number}" for number in range(len(days) + 1)]
    parts = {"part_no": ids, "net_weight_g": [1.0] * len(ids), "valid_from": column}
    coils = {"coil_id": ids, "lot": ids, "material": ["DC01"] * len(ids), "received_at": column} | {
        name: [10.0] * len(ids) for name in ("width_mm", "thickness_mm", "weight_kg")
    }
    fate = Fate(aside=len(days), read=len(ids))
    return {f"parts-{name}.parquet": (_parquet(parts), fate), f"coils-{name}.parquet": (_parquet(coils), fate)}


def _strokes(**columns: object) -> bytes:
    return _parquet({"time": [_PLAUSIBLE] * 3, "press_id": ["P1"] * 3, "counter": [54_000] * 3, **columns})


def _parquets() -> dict[str, tuple[bytes, Fate]]:
    type_ = Fate(refused="column counter: type")
    nested: dict[str, pa.Array] = {
        "list": pa.array([[1], [2], [3]]),
        "struct": pa.array([{"a": 1}] * 3),
        "map": pa.array([[("a", 1)]] * 3, pa.map_(pa.string(), pa.int64())),
        "decimal": pa.array([decimal.Decimal(10) ** 60] * 3, pa.decimal256(70, 2)),
        "duration": pa.array([1, 2, 3], pa.duration("s")),
        "flag": pa.array([True] * 3),
    }
    twice = pa.table([[_PLAUSIBLE], ["P1"], [1], [1]], names=["time", "press_id", "counter", "counter"])
    found = {f"strokes-{name}.parquet": (_strokes(counter=column), type_) for name, column in nested.items()}
    for unit in _PER_S:
        for zone in (None, "UTC", "Europe/Berlin", "+05:30"):
            found[f"strokes-{unit}-{(zone or 'plant').replace('/', '-')}.parquet"] = _times(unit, zone)
    nowhere = pa.array([1, 2, 3], pa.timestamp("us", "Mars/Olympus"))
    return {
        **found,
        **_dates("far", [2**31 - 1, -(2**31), 2_932_896, 2_932_897, -719_163]),
        "strokes-nowhere.parquet": (_strokes(time=nowhere), Fate(aside=3, read=3)),
        "strokes-days.parquet": (_strokes(time=pa.array([1, 2, 3], pa.date32())), Fate(refused="column time: type")),
        "strokes-nan.parquet": (_strokes(counter=[float("nan"), float("inf"), -float("inf")]), Fate(aside=3, read=3)),
        "strokes-wide.parquet": (_strokes(counter=pa.array([2**64 - 1] * 3, pa.uint64())), Fate(aside=3, read=3)),
        "strokes-big.parquet": (_strokes(counter=[10**18, 2**63 - 1, -(2**63)]), Fate(aside=3, read=3)),
        "strokes-half.parquet": (_strokes(counter=np.array([np.inf, np.nan, -1], "f2")), Fate(aside=3, read=3)),
        "strokes-words.parquet": (
            _strokes(counter=pa.array(["x", "²", ""]).dictionary_encode()),
            Fate(aside=3, read=3),
        ),
        "strokes-empty.parquet": (_strokes(counter=pa.nulls(3)), Fate(aside=3, read=3)),
        "strokes-twice.parquet": (_parquet(twice), Fate(refused="expected strokes to have counter once")),
        "strokes-none.parquet": (_parquet(pa.table({})), Fate(refused="expected strokes to have time")),
        "strokes-rows.parquet": (_parquet(pa.table(twice.columns[:3], names=twice.column_names[:3])[:0]), Fate()),
    }


def _texts() -> dict[str, tuple[bytes, Fate]]:
    years = ["0000-01-01T00:00", "0001-01-01T00:00", "9999-12-31T24:00", "9999-12-31T23:59:59-12:00",
             "0001-01-01T00:00+14:00", "10000-01-01T00:00", "2026-11-02T06:00+24:00", "1989-12-31T23:59Z"]  # fmt: skip
    far = "".join(f"{year},P1,54000\n" for year in years)
    digits = b"time,press_id,event,die_id,outs_running\n2026-11-02T06:00:00Z,P1,change,D1," + b"9" * 5_000 + b"\n"
    many = b"time,press_id,counter" + b"".join(b",c%d" % number for number in range(100_000)) + b"\n" + ROW
    plain = (HEAD + ROW).decode()
    one = Fate(aside=1, read=1)
    return {
        "strokes-years.csv": (HEAD + far.encode(), Fate(aside=len(years), read=len(years))),
        "die_changes-digits.csv": (digits, one),
        "strokes-digits.csv": (HEAD + ROW + b"2026-11-02T15:00:01Z,P1," + b"9" * 5_000, Fate(aside=1, read=2)),
        "strokes-zero.csv": (HEAD + b"2026-11-02T15:00:00Z,P\x001,5\n", Fate(refused="a zero byte")),
        "strokes-quote.csv": (HEAD + b'2026-11-02T15:00:00Z,"P1,5\n', one),
        "strokes-columns.csv": (many, Fate(refused="100,003 columns; expected 10,000 at most")),
        "strokes-long.csv": (HEAD + b"2026-11-02T15:00:00Z," + b"P" * 2_000_000 + b",5\n", one),
        "strokes-16.csv": (plain.encode("utf-16"), Fate(refused="UTF-16 text")),
        "strokes-16be.csv": (b"\xfe\xff" + plain.encode("utf-16-be"), Fate(refused="UTF-16 text")),
        "strokes-32be.csv": (b"\0\0\xfe\xff" + plain.encode("utf-32-be"), Fate(refused="a zero byte")),
        "strokes-16bare.csv": (plain.encode("utf-16-le"), Fate(refused="a zero byte")),
        "strokes-cr.csv": ((HEAD + ROW).replace(b"\n", b"\r"), Fate(refused="a line end of CR alone")),
        "strokes-half.csv": (HEAD + b"2026-11-02T15:00:00Z,P\xed\xa0\x801,5\n", Fate(refused="so not UTF-8")),
        "profile-16.toml": ("a = 1\n".encode("utf-16"), Fate(refused="UTF-16 text")),
        "profile-list.toml": (b"table = ['a']\n", Fate(refused="no name")),
        "profile-deep.toml": (b"x = " + b"[" * 3_000 + b"]" * 3_000, Fate(refused="expected a TOML file")),
    }


def _named() -> dict[str, tuple[bytes, Fate]]:
    """Names that are no text, or look like an order to a shell or a terminal."""
    unknown = Fate(refused="no table is called")
    return {
        os.fsdecode(b"strokes-\xff\xfe.csv"): (HEAD + b"x,P1,1\n", Fate(aside=1, read=1)),
        os.fsdecode(b"str\xe4.csv"): (HEAD + ROW, unknown),
        os.fsdecode(b"profile-\xe4.toml"): (b"a = 1\n", Fate(refused="expected a value for table")),
        "strokes-\x1b]0;x\x07\n.csv": (HEAD + b"x,P1,1\n", Fate(aside=1, read=1)),
        "strokes-" + "x" * 243 + ".csv": (HEAD + b"x,P1,1\n", Fate(aside=1, read=1)),
        "-strokes.csv": (HEAD + ROW, unknown),
        "strokes-....csv": (HEAD + b"x,P1,1\n", Fate(aside=1, read=1)),
    }


def odd_files() -> dict[str, tuple[bytes, Fate]]:
    """Bytes and fate of each file, by its name."""
    return {**_parquets(), **_texts(), **_named()}


_PLANT = b'timezone = "Europe/Berlin"\n'
_SHIFT = b'[[shift]]\nname = "%s"\nstart = "%s"\nend = "14:00"\n'
#: What may stand in a plant.toml that cannot be taken, and words in the reason.
ODD_PLANTS = {
    "UTF-16": (_PLANT.decode().encode("utf-16"), "UTF-16 text; expected UTF-8 text"),
    "Latin": (_PLANT + b'name = "\xe4"\n', "line 2: byte 0xE4, so not UTF-8"),
    "empty": (b"", "expected a value for timezone"),
    "list": (_PLANT + b'shift = "x"\n', "expected a list"),
    "table": (_PLANT + b"report = []\n", "plant.toml, report: []"),
    "zone": (b'timezone = "Mars/Olympus"\n', "expected a zone of the IANA time zone database"),
    "path": (b'timezone = "../../etc/passwd"\n', "expected a zone of the IANA time zone database"),
    "overlap": (_PLANT + _SHIFT % (b"a", b"06:00") + _SHIFT % (b"b", b"13:00"), "that do not overlap"),
    "deep": (_PLANT + b"x = " + b"[" * 3_000 + b"]" * 3_000, "expected a TOML file"),
    "digits": (_PLANT + b"stop_after_s = 1" + b"0" * 5_000, "expected a TOML file"),
    "endless": (_PLANT + b"stop_after_s = 1e300\n", "plant.toml, stop_after_s"),
    "big": (_PLANT + b"#" * (1 << 20), "more than 1,048,576 bytes"),
}

GOOD = "strokes-good.csv"
GOOD_TEXT = strokes(0, 10)
