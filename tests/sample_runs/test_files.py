"""How the simulator writes times, and that its files keep to the data contract."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from sample_runs.simulate.files import LOCAL, OFFSET, UTC, time_text
from shared.tables import TABLES

SAMPLES = Path(__file__).parents[2] / "sample_runs"
# 2026-10-25 02:30 of the plant, first in summer time, then an hour later in winter time.
TWICE = [1792888200, 1792891800]


def test_a_time_is_written_in_utc_with_offset_or_without() -> None:
    assert time_text(TWICE[:1], "Europe/Berlin", UTC) == ["2026-10-25T00:30:00Z"]
    assert time_text(TWICE, "Europe/Berlin", OFFSET) == ["2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"]
    assert time_text([1792880000], "America/Chicago", OFFSET) == ["2026-10-24T17:13:20-05:00"]


def test_a_time_shown_twice_keeps_its_offset_unless_the_counter_settles_it() -> None:
    before_and_after = [TWICE[0] - 3600, *TWICE, TWICE[1] + 3600]
    settled = time_text(before_and_after, "Europe/Berlin", LOCAL)
    assert [text[11:] for text in settled] == ["01:30:00", "02:30:00+02:00", "02:30:00+01:00", "03:30:00"]
    unsettled = time_text(before_and_after, "Europe/Berlin", LOCAL, settle=False)
    assert [text[11:] for text in unsettled] == ["01:30:00", "02:30:00", "02:30:00", "03:30:00"]


@pytest.mark.parametrize("path", sorted((SAMPLES / "fortnight").glob("*.[cp]*")), ids=lambda path: path.name)
def test_every_file_of_the_fortnight_has_the_columns_of_its_table(path: Path) -> None:
    table = TABLES[path.name.split("-")[0].split(".")[0]]
    names = pq.read_schema(path).names if path.suffix == ".parquet" else list(pd.read_csv(path, nrows=1))
    assert set(names) <= {*table.required, *table.optional}
    assert set(table.required) <= set(names)
