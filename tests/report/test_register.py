"""The register of reports sent, and the command that makes and notes them."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import pytest

from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.report import REGISTER, Branding, Output, SentReport, add, as_sent, gather, last_sent, make, view_of
from monitor.report.register import KEPT, MADE, read
from monitor.report.words import PHRASES
from shared.plant import ReportStyle
from tests.report.plant import PLANT, Works, loaded, run, text

MONDAY = dt.date(2026, 11, 2)
SENT = SentReport(
    "Acme",
    "2026-W45",
    version=3,
    sent_at="2026-11-09T08:00:00+01:00",
    figures_hash="ab",
    files={"report.pdf": "cd"},
    figures={"parts|x|made": "1"},
)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return loaded(Works({"Acme": 1, "Acme West": 1}, MONDAY, days=2), tmp_path)


def test_what_was_sent_is_found_again_by_customer_and_week(tmp_path: Path) -> None:
    assert last_sent(tmp_path, "Acme", "2026-W45") is None
    add(tmp_path, SENT)
    add(tmp_path, SentReport("Acme West", *list(vars(SENT).values())[1:]))
    assert last_sent(tmp_path, "Acme", "2026-W45") == SENT
    assert last_sent(tmp_path, "Acme", "2026-W46") is None
    assert last_sent(tmp_path, "Acme", "2026-W45", SENT.version) is None
    assert last_sent(tmp_path, "Acme", "2026-W45", SENT.version + 1) == SENT


def test_a_line_cut_short_by_a_crash_costs_only_itself(tmp_path: Path) -> None:
    add(tmp_path, SENT)
    with (tmp_path / REGISTER).open("ab") as file:
        file.write(b'{"customer": "Acme", "we')
    add(tmp_path, SENT)
    assert read(tmp_path) == [SENT, SENT]


def test_the_command_writes_every_customers_files_and_notes_them(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert (
        run(monkeypatch, "--ledger", root, "--week", "2026-W45", "--out", out, "--format", "html,data", "--sent") == 0
    )
    assert sorted(path.name for path in out.iterdir()) == ["Acme", "Acme-West"]
    assert {p.name for p in (out / "Acme" / "2026-W45").iterdir()} == {"report.html", "data"}
    sent = last_sent(root, "Acme", "2026-W45")
    assert sent is not None
    assert "report.html" in sent.files
    assert sent.version == 1
    assert "2 reports of week 2026-W45 from ledger version 1" in capsys.readouterr().err


def test_a_report_made_after_a_correction_says_what_changed(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    common = ("--ledger", root, "--week", "2026-W45", "--customer", "Acme")
    assert run(monkeypatch, *common, "--out", tmp_path / "first", "--sent") == 0
    box = {"container_id": "B-zqaa-0-1", "opened_at": "2026-11-02T07:00:00", "closed_at": "2026-11-02T07:59:59"}
    row = {**box, "quantity": 3000, "press_id": "P-zqaa", "part_no": "zqaa"}
    (tmp_path / "containers-new.csv").write_text(text([row]), "utf-8")
    with Ledger.open(root) as ledger:
        load([tmp_path / "containers-new.csv"], ledger, correct=True)
    assert run(monkeypatch, *common, "--out", tmp_path / "second") == 0
    page = next((tmp_path / "second").rglob("report.html")).read_text("utf-8")
    assert "Changed since the report sent on" in page
    assert "zqaa, Shipped" in page
    assert "zqaa, Made" not in page.split("All parts")[0]
    for version, sent in ((1, "first"), (2, "second")):
        assert run(monkeypatch, *common, "--version", version, "--out", tmp_path / "again", "--sent") == 0
        made = [path for path in (tmp_path / sent).rglob("*") if path.is_file()]
        assert {"report.pdf", "report.html", "report.xlsx", "parts.csv"} <= {path.name for path in made}
        for path in made:
            again = tmp_path / "again" / path.relative_to(tmp_path / sent)
            assert path.read_bytes() == again.read_bytes(), path.name


def test_a_report_of_a_later_version_says_that_nothing_changed(root: Path) -> None:
    with Ledger.open(root) as ledger:
        view = view_of(gather(ledger.snapshot(), "2026-W45"), "Acme West")
    before = dataclasses.replace(as_sent(view, {}, "2026-11-09T08:00:00+01:00"), version=0)
    page = make(view, Branding(ReportStyle()), {Output.HTML}, before)["report.html"].decode()
    assert "No figure has changed" in page


def test_who_sent_it_is_kept_and_a_line_without_it_is_read(tmp_path: Path) -> None:
    add(tmp_path, SENT)
    older = {name: value for name, value in vars(SENT).items() if name != "by"}
    with (tmp_path / REGISTER).open("a", encoding="utf-8") as file:
        file.write(json.dumps(older) + "\n")
    add(tmp_path, dataclasses.replace(SENT, by="Quality"))
    assert [entry.by for entry in read(tmp_path)] == ["", "", "Quality"]


def test_the_command_makes_what_is_due_until_it_is_sent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    style = '[report]\n[[report.customer]]\ncustomer = "Acme"\nday = "mon"\n'
    root = loaded(Works({"Acme": 1, "Acme West": 1}, MONDAY, days=1), tmp_path, PLANT + style)
    common = ("--ledger", root, "--week", "2026-W45", "--format", "html", "--out", tmp_path / "out", "--due")
    assert run(monkeypatch, *common, "--sent", "--by", "Quality") == 0
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["Acme"]
    sent = last_sent(root, "Acme", "2026-W45")
    assert sent is not None
    assert sent.by == "Quality"
    capsys.readouterr()
    assert run(monkeypatch, *common) == 0
    assert "0 reports" in capsys.readouterr().err


def test_of_a_week_that_no_reading_reaches_into_nothing_is_made_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    style = '[report]\n[[report.customer]]\ncustomer = "Acme"\nday = "mon"\n'
    root = loaded(Works({"Acme": 1}, MONDAY - dt.timedelta(days=14), days=1), tmp_path, PLANT + style)
    common = ("--ledger", root, "--week", "2026-W45", "--format", "html", "--out", tmp_path / "out")
    monkeypatch.setattr("monitor.cli.week._now_us", lambda: int(dt.datetime(2026, 11, 10).timestamp() * 1e6))
    assert run(monkeypatch, *common, "--due") == 1
    assert "no counter reading of week 2026-W45" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert read(root, MADE) == []
    assert run(monkeypatch, *common) == 0
    assert "no counter reading of week 2026-W45" in capsys.readouterr().err


def test_every_figure_that_is_compared_has_a_name_to_be_told_by() -> None:
    assert {column for _, columns in KEPT.values() for column in columns} <= set(PHRASES)


def test_a_customer_is_not_told_what_was_sent_to_another(root: Path) -> None:
    with Ledger.open(root) as ledger:
        week = gather(ledger.snapshot(), "2026-W45")
    view = view_of(week, "Acme West")
    assert "Changed since" not in make(view, Branding(ReportStyle()), {Output.HTML})["report.html"].decode()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--customer", "Acm"), "Acme West"),
        (("--format", "docx"), "pdf,xlsx"),
        (("--week", "2025-W53"), "2026-W45"),
        (("--week", ""), "2026-W45"),
        (("--version", "99"), "version"),
    ],
)
def test_a_question_that_cannot_be_answered_is_told_in_words(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    words: tuple[str, str], told: str,
) -> None:  # fmt: skip
    week = () if words[0] == "--week" else ("--week", "2026-W45")
    assert run(monkeypatch, "--ledger", root, "--out", tmp_path / "out", *week, *words) == 1
    shown = capsys.readouterr().err
    assert told in shown
    assert "Traceback" not in shown
    assert not (tmp_path / "out").exists()


def test_the_register_is_one_line_of_json_a_report(tmp_path: Path) -> None:
    add(tmp_path, SENT)
    (line,) = (tmp_path / REGISTER).read_text("utf-8").splitlines()
    assert json.loads(line)["figures"] == {"parts|x|made": "1"}
