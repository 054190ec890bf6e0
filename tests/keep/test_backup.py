"""A backup of a ledger that lacks something says so and keeps the rest; the logo goes along."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.check import check
from monitor.cli.main import app
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.small import PLANT, strokes, write_book

LOGO = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'
#: Only a folder of its own could hold the logo elsewhere, which plant.toml does not let it name.
TOML = PLANT.replace("[[shift]]", '[report]\nlogo = "sign.svg"\n[[shift]]', 1)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    drop = write_book(tmp_path / "drop")
    (drop / "plant.toml").write_text(TOML)
    (drop / "strokes-1.csv").write_text(strokes(0, 5))
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
        (drop / "strokes-2.csv").write_text(strokes(5, 9, "P1"))
        load([drop], ledger)
    (tmp_path / "ledger" / "sign.svg").write_bytes(LOGO)
    return tmp_path / "ledger"


def run(*words: object) -> tuple[int, str]:
    ran = CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "300"})
    return ran.exit_code, ran.output


def test_the_logo_goes_along_and_comes_back(root: Path, tmp_path: Path) -> None:
    assert run("backup", tmp_path / "copy", "--ledger", root)[0] == 0
    assert (tmp_path / "copy" / "sign.svg").read_bytes() == LOGO
    assert run("restore", tmp_path / "copy", "--ledger", tmp_path / "again")[0] == 0
    assert (tmp_path / "again" / "sign.svg").read_bytes() == LOGO


def test_a_logo_that_is_missing_is_told(root: Path, tmp_path: Path) -> None:
    (root / "sign.svg").unlink()
    code, told = run("backup", tmp_path / "copy", "--ledger", root)
    assert code == 1
    assert "the logo sign.svg that plant.toml names is missing\n    mend: copy the file into the folder" in told
    with Ledger.open(tmp_path / "copy") as copy:
        assert check(copy) == []


@pytest.mark.parametrize("damage", ["missing", "shorter", "other bytes"])
def test_a_backup_of_a_damaged_ledger_fails_names_the_files_and_keeps_the_rest(
    root: Path, tmp_path: Path, damage: str
) -> None:
    victim, *others = sorted((root / "parts").iterdir())
    data = victim.read_bytes()
    if damage == "missing":
        victim.unlink()
    else:
        victim.write_bytes(data[:-1] if damage == "shorter" else data[:-9] + b"x" + data[-8:])
    code, told = run("backup", tmp_path / "copy", "--ledger", root)
    assert code == 1
    assert victim.name in told
    assert "load these files again, all at once and in this order: strokes-1.csv (load" in told
    assert f"incomplete: {tmp_path / 'copy'} holds all the rest" in told
    for other in others:
        assert (tmp_path / "copy" / "parts" / other.name).read_bytes() == other.read_bytes()
    code, told = run("restore", tmp_path / "copy", "--ledger", tmp_path / "again")
    assert (code, victim.name in told) == (1, True)


def test_a_ledger_whose_catalogue_is_damaged_is_told_of(root: Path, tmp_path: Path) -> None:
    catalogue = root / "catalogue.sqlite"
    data = bytearray(catalogue.read_bytes())
    # Pages in the middle: the catalogue still opens.
    for place in range(len(data) // 2, len(data) - 4096, 4096):
        data[place : place + 64] = b"\xff" * 64
    catalogue.write_bytes(bytes(data))
    code, told = run("backup", tmp_path / "copy", "--ledger", root)
    assert code == 1
    assert "Traceback" not in told
    assert not (tmp_path / "copy.unfinished").exists()
