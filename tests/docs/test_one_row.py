"""docs/one-row.md is true: its code, run from top to bottom, gives what the page shows."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

from tests.docs.manual import ROOT, code, read

PAGE = ROOT / "docs" / "one-row.md"


def test_code_gives_what_the_page_shows(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    steps = doctest.DocTestParser().get_doctest("".join(code(read(PAGE), "python")), {}, PAGE.name, str(PAGE), 0)
    run = doctest.DocTestRunner(verbose=False).run(steps)
    assert run.attempted > 40
    assert run.failed == 0, capsys.readouterr().out


def test_page_shows_every_stage() -> None:
    text = read(PAGE)
    shown = [text.index(f"## {stage}") for stage in ("Intake", "Ledger", "Fold", "Facts", "Figures", "Screens")]
    assert shown == sorted(shown)
