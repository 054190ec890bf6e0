"""The command `strokeledger evidence` on a plant of a few rows: one press, two coils, an inspection every half hour."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from shared.errors import RequestError
from tests.invented.tiny import Tiny, at

SHEET, ROWS, LINES = "evidence-D-BUR.pdf", "evidence-D-BUR-rows.csv", "evidence-D-BUR-lines.csv"


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("evidence")
    plant = Tiny(folder, stations=4)
    for coil, lot in (("C1", "L1"), ("C2", "L2")):
        plant.coil(coil, lot=lot)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.change(at("10:00"), "splice", "C2")
    plant.run(at("06:00"), at("14:00"))
    for number in range(16):
        hour, half = divmod(number, 2)
        begin = f"{6 + hour:02d}:{30 * half:02d}"
        end = f"{6 + (number + 1) // 2:02d}:{30 * ((number + 1) % 2):02d}"
        plant.look(
            f"I{number}", at("15:00"), "full", 1800, 80 if number >= 8 else 2, made_from=at(begin), made_to=at(end)
        )
    plant.load()
    plant.ledger.close()
    return folder / "ledger"


def asked(ledger: Path, out: Path, *more: str) -> None:
    words = ["evidence", "--ledger", str(ledger), "--die", "D", "--cause", "BUR", "--out", str(out), *more]
    done = CliRunner().invoke(app, words)
    if done.exception is not None:
        raise done.exception


def rows_of(folder: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((folder / ROWS).read_text("utf-8-sig"))))


def test_a_sheet_its_rows_and_all_lines_are_written(ledger: Path, tmp_path: Path) -> None:
    asked(ledger, tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([SHEET, ROWS, LINES])
    assert (tmp_path / SHEET).read_bytes().startswith(b"%PDF")
    rows = rows_of(tmp_path)
    assert sum(int(row["inspected"]) for row in rows) == 16 * 1800
    assert sum(int(row["rejected"]) for row in rows) == 8 * 80 + 8 * 2


def test_the_same_version_gives_the_same_bytes_again(ledger: Path, tmp_path: Path) -> None:
    for name in ("one", "other"):
        asked(ledger, tmp_path / name, "--version", "1", "--language", "es")
    for name in (SHEET, ROWS, LINES):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes()


def test_a_range_narrows_what_is_looked_at_and_a_line_can_be_named(ledger: Path, tmp_path: Path) -> None:
    asked(ledger, tmp_path, "--from", "2026-11-02T09:00", "--to", "2026-11-02T11:00", "--factor", "lot")
    assert {row["inspection_id"] for row in rows_of(tmp_path)} == {"I6", "I7", "I8", "I9"}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--level", "nothing of the kind"], "a line of this die and cause"),
        (["--language", "xx"], "one of en, es, de"),
        (["--from", "2027-01-01"], "a die with inspections in range"),
    ],
)
def test_what_there_is_not_is_refused_with_what_there_is(
    ledger: Path, tmp_path: Path, more: list[str], told: str
) -> None:
    with pytest.raises(RequestError, match=told):
        asked(ledger, tmp_path, *more)
    assert not list(tmp_path.iterdir())
