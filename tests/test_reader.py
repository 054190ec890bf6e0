"""The way in for programs of other people: figures as typed frames, from a ledger that nothing is written to."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

import monitor
from monitor import open_ledger
from monitor.figures import FIGURES, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.upgrade import upgrade_facts
from monitor.reader import LedgerReader
from shared.calendar import Calendar
from shared.errors import LedgerError, StrokeledgerError
from shared.fields import Kind
from shared.plant import Plant
from tests.invented.small import strokes, write_book

MANUAL = (Path(__file__).parents[1] / "docs" / "python.md").read_text("utf-8")
OLDER = Path(__file__).parent / "ledger" / "data" / "reckoning-1"
STOPS = "press_id,start_at,end_at,reason\nP1,2026-11-02T08:00:00,2026-11-02T09:00:00,PUN\n"
TYPES = {
    Kind.COUNT: "Int64",
    Kind.NUMBER: "float64",
    Kind.FLAG: "boolean",
    Kind.TEXT: "str",
    Kind.TIME: "datetime64[us, Europe/Berlin]",
    Kind.DATE: "datetime64[us]",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of one press: it ran from 6 to 8 and from 9 to 10, on Monday 2 November."""
    folder = tmp_path_factory.mktemp("reader")
    files = write_book(folder / "in")
    (files / "reasons.csv").write_text("reason,kind\nPUN,tooling\n", "utf-8")
    (files / "stops.csv").write_text(STOPS, "utf-8")
    later = strokes(120, 180, heading=False).replace("T09:", "T10:").replace("T08:", "T09:")
    (files / "strokes-1.csv").write_text(strokes(0, 121) + later, "utf-8")
    with Ledger.open(folder / "demo_ledger", create=True) as ledger:
        load([files], ledger)
    return folder / "demo_ledger"


@pytest.fixture
def reader(folder: Path) -> Iterator[LedgerReader]:
    with open_ledger(folder) as opened:
        yield opened


def test_every_table_has_its_columns_in_the_types_that_are_promised(reader: LedgerReader) -> None:
    assert reader.names() == tuple(FIGURES)
    for name in reader.names():
        table = reader.figures(name)
        assert tuple(table.columns) == FIGURES[name].names
        for field in FIGURES[name].columns:
            assert str(table[field.name].dtype) == TYPES[field.kind], (name, field.name)


def test_figures_are_those_of_the_command(reader: LedgerReader, folder: Path) -> None:
    with Ledger.open(folder) as ledger:
        for name in reader.names():
            told, seen = figure(ledger, name), reader.figures(name)
            assert len(told) == len(seen)
            for field in FIGURES[name].columns:
                if field.kind is Kind.TIME:
                    assert [dt.datetime.fromisoformat(text) if text else None for text in told[field.name]] == [
                        None if pd.isna(moment) else moment for moment in seen[field.name]
                    ]
                elif field.kind in (Kind.COUNT, Kind.NUMBER):
                    pd.testing.assert_series_equal(told[field.name], seen[field.name])
    assert reader.figures("shifts")["strokes"].sum() == 10_740
    assert reader.figures("stops")["start_at"].tolist()[0] == pd.Timestamp("2026-11-02T08:00", tz="Europe/Berlin")


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("2026-11-02T06:00", "2026-11-02T07:00"),
        (dt.datetime(2026, 11, 2, 6), dt.datetime(2026, 11, 2, 7)),
        (pd.Timestamp("2026-11-02T05:00Z"), pd.Timestamp("2026-11-02T07:00", tz="Europe/Berlin")),
    ],
)
def test_start_is_included_and_end_is_not(reader: LedgerReader, start: dt.datetime, end: dt.datetime) -> None:
    hours = reader.figures("hours", start=start, end=end)
    assert hours["hour_start"].tolist() == [pd.Timestamp("2026-11-02T06:00", tz="Europe/Berlin")]


def test_a_bare_date_is_the_start_of_that_plant_day(reader: LedgerReader) -> None:
    day, next_day = dt.date(2026, 11, 2), dt.date(2026, 11, 3)
    assert reader.figures("shifts", start=day, end=next_day)["strokes"].sum() == 10_740
    assert reader.figures("shifts", end=day).empty
    assert reader.figures("shifts", start=next_day.isoformat()).empty


def test_filters_leave_only_rows_of_what_they_name(reader: LedgerReader) -> None:
    for which in ({"press": "P1"}, {"die": "D1"}, {"part": "N1"}):
        assert reader.figures("shifts", **which)["strokes"].sum() == 10_740, which
    for which in ({"press": "P2"}, {"die": "D2"}, {"part": "N2"}):
        assert reader.figures("shifts", **which).empty, which


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"name": "shift"}, "figures: 'shift'; expected one of shifts, hours"),
        ({"start": "yesterday"}, "start: 'yesterday'; expected a date or time in ISO 8601"),
        ({"end": 5}, "end: 5; expected text, a date or a datetime"),
        ({"start": pd.NaT}, "start: NaT; expected text, a date or a datetime"),
        ({"start": "2026-11-03", "end": "2026-11-02"}, "end: 2026-11-02, not after 2026-11-03; expected an end after"),
        ({"version": 99}, "no version 99; expected a version from"),
    ],
)
def test_what_cannot_be_answered_is_told_in_one_sentence(
    reader: LedgerReader, asked: dict[str, str], told: str
) -> None:
    with pytest.raises(StrokeledgerError) as raised:
        reader.figures(**{"name": "shifts", **asked})
    assert told in str(raised.value)


def test_a_folder_without_a_ledger_stays_without_one(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "none"):
        with pytest.raises(LedgerError, match="no ledger; expected the folder of a ledger"):
            open_ledger(folder)
    assert list(tmp_path.iterdir()) == []


def test_a_ledger_of_an_older_release_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    shutil.copytree(OLDER / "parts", tmp_path / "old" / "parts")
    catalogue = sqlite3.connect(tmp_path / "old" / "catalogue.sqlite")
    catalogue.executescript((OLDER / "catalogue.sql").read_text("utf-8"))
    before = list(catalogue.iterdump())
    with pytest.raises(LedgerError, match=r"an older release wrote; .* run strokeledger upkeep once"):
        open_ledger(tmp_path / "old")
    assert list(catalogue.iterdump()) == before
    catalogue.close()
    Ledger.open(tmp_path / "old").close()  # Its tables are those of today, its figures are not.
    with pytest.raises(LedgerError, match=r"rules of an older release; .* run strokeledger upkeep once"):
        open_ledger(tmp_path / "old")
    with Ledger.open(tmp_path / "old") as ledger:
        upgrade_facts(ledger)
    with open_ledger(tmp_path / "old") as opened:
        assert not opened.figures("shifts").empty


def test_nothing_is_written(folder: Path, reader: LedgerReader) -> None:
    def stored() -> dict[str, bytes]:
        paths = [path for path in folder.rglob("*") if path.is_file() and not path.name.endswith(("-shm", "-wal"))]
        return {str(path): path.read_bytes() for path in paths}

    before = stored()
    for name in reader.names():
        reader.figures(name)
    assert stored() == before
    with (
        pytest.raises(LedgerError, match="readonly"),
        reader._ledger.writer(Calendar(Plant(timezone="UTC")), wait_s=0),
    ):
        pass


def test_figures_are_those_of_one_version_while_another_program_loads(folder: Path, tmp_path: Path) -> None:
    root = shutil.copytree(folder, tmp_path / "own")
    files = tmp_path / "in"
    files.mkdir()
    (files / "strokes-2.csv").write_text(strokes(300, 420), "utf-8")
    with open_ledger(root) as reader:
        before, version = reader.figures("shifts"), reader.version
        with Ledger.open(root) as ledger:
            with ledger.writer(Calendar(Plant(timezone="Europe/Berlin"))):  # As long as a load is under way.
                pd.testing.assert_frame_equal(reader.figures("shifts"), before)
            load([files], ledger)
        assert reader.version == version + 1
        assert reader.figures("shifts")["strokes"].sum() > before["strokes"].sum()
        pd.testing.assert_frame_equal(reader.figures("shifts", version=version), before)


def test_importing_the_package_alone_imports_nothing_slow() -> None:
    script = "import sys; from monitor import open_ledger; print(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert not {"numpy", "pandas", "pyarrow", "sqlalchemy", "typer"} & set(ran.stdout.split())
    assert monitor.__all__ == ["open_ledger"]


def test_the_example_of_the_manual_runs(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (example,) = re.findall(r"```python\n(.*?)```", MANUAL, re.DOTALL)
    monkeypatch.chdir(folder.parent)
    exec(example, {})
    told = capsys.readouterr().out
    assert "'capability'" in told
    assert "P1         10738         0  10738" in told
    assert "PUN    3600.0" in told
