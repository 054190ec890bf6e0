from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from shared.errors import StrokeledgerError

DIALECTS = Path(__file__).parents[1] / "intake" / "dialects"


def run(*words: str | Path) -> str:
    result = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert result.exit_code == 0
    return result.output


def test_try_says_rows_in_words_with_a_profile_given(tmp_path: Path) -> None:
    path = shutil.copy(DIALECTS / "zaehler-01.csv", tmp_path / "zaehler-01.csv")
    out = run("profile", "try", path, "--profile", DIALECTS / "profile-zaehler.toml", "--timezone", "Europe/Berlin")
    assert out.startswith("profile zaehler ")
    assert "table strokes, plant time Europe/Berlin\n" in out
    assert "row 1 (line 2) means 2 November 2026 06:00, press P07, counter 4 812 330\n" in out


def test_try_finds_the_profile_and_the_plant_beside_the_file(tmp_path: Path) -> None:
    for name in ("log-03.txt", "profile-banner.toml", "profile-zaehler.toml"):
        shutil.copy(DIALECTS / name, tmp_path / name)
    (tmp_path / "plant.toml").write_text('timezone = "America/Chicago"\n')
    out = run("profile", "try", tmp_path / "log-03.txt")
    assert "plant time America/Chicago" in out
    assert "row 1 (line 5) means 2 November 2026 06:00, press P07, counter 4 812 330" in out


def test_try_without_a_profile_says_what_to_do(tmp_path: Path) -> None:
    path = shutil.copy(DIALECTS / "log-03.txt", tmp_path / "log-03.txt")
    with pytest.raises(StrokeledgerError, match=r"no profile beside it; .*Draft one"):
        run("profile", "try", path)


def test_draft_proposes_a_profile() -> None:
    assert run("profile", "draft", DIALECTS / "unicode-12.txt").startswith('table = "strokes"\n')


def test_load_takes_a_profile_and_prints_what_was_remarked(tmp_path: Path) -> None:
    plant = tmp_path / "plant"
    plant.mkdir()
    (plant / "presses.csv").write_text("press_id\nP07\nP08\n")
    shutil.copy(DIALECTS / "rejects-06.csv", plant / "rejects-06.csv")
    words = ("load", plant, "--ledger", tmp_path / "ledger", "--profile", DIALECTS / "profile-rejects.toml")
    out = " ".join(run(*words).split())
    assert "rejects-06.csv: line 6: the total of Pieces is 6, the rows above it add up to 5" in out
    assert "refused" not in out
