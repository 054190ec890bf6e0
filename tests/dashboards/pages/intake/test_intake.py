"""The intake page over a small ledger: reasons, rows as they came, mending and the watch in words."""

from __future__ import annotations

import base64
import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from dash import no_update

from dashboards.ledger.service import LedgerService
from dashboards.pages.intake import INTAKE_PUT, INTAKE_RELEASE
from dashboards.pages.intake import page as intake
from dashboards.pages.intake.model import ALL, DOWNLOADS, ids_of, load_intake, watch_words
from dashboards.pages.intake.view import clocks_html, files_html, rows_html
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.set_aside import export, read_back
from shared.phrases import phrase
from shared.reasons.kept import plain
from shared.reasons.ledger import FOLDER_LOST
from tests.invented.small import strokes, write_book

DAY = dt.timedelta(days=1)
BAD = "2026-11-02T06:1{0}:00,P1,6{0}O\n"


@pytest.fixture
def service(tmp_path: Path) -> LedgerService:
    drop = write_book(tmp_path / "drop")
    text = strokes(0, 10) + "".join(BAD.format(number) for number in range(4))
    (drop / "strokes-1.csv").write_text(text + "2026-11-02T06:20:00,P9,1200\n")
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
    return LedgerService(tmp_path / "ledger")


def test_counts_close_and_reasons_are_grouped_most_first(service: LedgerService) -> None:
    shown = load_intake(service.read(), View())
    assert [total.value for total in shown.totals] == ["11", "27", "22", "0", "0", "5"]
    assert [group.label.partition(":")[0] for group in shown.groups] == ["4 × strokes", "1 × strokes"]
    assert shown.files["File"].tolist().count("strokes-1.csv") == 1


def test_reason_narrows_rows_and_shows_them_as_they_came(service: LedgerService) -> None:
    groups = load_intake(service.read(), View()).groups
    shown = load_intake(service.read(), View(value=groups[0].key))
    assert shown.rows["counter"].tolist() == ["60O", "61O", "62O", "63O"]
    assert "counter" in shown.columns
    assert load_intake(service.read(), View(value="gone")).chosen == ALL


def test_a_range_leaves_only_what_was_loaded_in_it_and_the_counts_still_close(service: LedgerService) -> None:
    today = service.read().clock.local_time(int(service.read().figure("loads")["loaded_at"].max())).date()
    around = load_intake(service.read(), View(since=today - DAY, until=today + DAY))
    assert [total.value for total in around.totals] == ["11", "27", "22", "0", "0", "5"]
    before = load_intake(service.read(), View(until=today - 3 * DAY))
    assert [total.value for total in before.totals] == ["0", "0", "0", "0", "0", "0"]
    assert before.files.empty
    assert before.rows.empty


def test_what_is_taken_away_is_what_is_shown(service: LedgerService) -> None:
    view = View(value=load_intake(service.read(), View()).groups[0].key)
    assert DOWNLOADS["set_aside"](service.read(), view)["id"].tolist() == ids_of(load_intake(service.read(), view), "")
    assert len(DOWNLOADS["set_aside"](service.read(), View())) == 5
    assert DOWNLOADS["loads"](service.read(), View(until=dt.date(2020, 1, 1))).empty


def test_rows_are_named_by_numbers_and_ranges(service: LedgerService) -> None:
    shown = load_intake(service.read(), View())
    assert ids_of(shown, "") == [1, 2, 3, 4, 5]
    assert ids_of(shown, "2, 4-9") == [2, 4, 5]
    with pytest.raises(ValueError, match="invalid literal"):
        ids_of(shown, "two")


@pytest.fixture
def pressed(monkeypatch: pytest.MonkeyPatch):
    def press(component: str) -> None:
        monkeypatch.setattr(intake, "ctx", type("Context", (), {"triggered_id": component}))

    return press


def test_value_put_in_lets_a_row_in_and_the_counts_follow(service: LedgerService, pressed) -> None:
    pressed(INTAKE_RELEASE)
    told, version = intake.release(
        service, 1, content=None, search="", rows="1", column="counter", value="600", correct=[], who="K. Berg"
    )
    assert (told, version) == ("1 row let in. 0 stay.", 2)
    assert [total.value for total in load_intake(service.read(), View()).totals] == ["11", "27", "23", "0", "0", "4"]
    kept = service._ledger.snapshot().released_rows()
    assert kept["released_by"].tolist() == ["K. Berg"]


def test_row_that_still_does_not_hold_stays_with_its_reason(service: LedgerService, pressed) -> None:
    pressed(INTAKE_RELEASE)
    told, _ = intake.release(
        service, 1, content=None, search="", rows="5", column="", value="", correct=[], who="K. Berg"
    )
    assert told.startswith("0 rows let in. 1 stays. Row 5: ")
    assert "P9" in told


def test_nobody_lets_rows_in_and_nonsense_is_told(service: LedgerService, pressed) -> None:
    pressed(INTAKE_RELEASE)
    assert intake.release(service, 1, content=None, search="", rows="1", column="", value="", correct=[], who=" ") == (
        "Nothing entered: say who you are.",
        no_update,
    )
    told, _ = intake.release(
        service, 1, content=None, search="", rows="x", column="", value="", correct=[], who="K. Berg"
    )
    assert "numbers such as 7, 12-20" in told


def test_mended_csv_comes_back_in(service: LedgerService, pressed) -> None:
    aside = service.read().figure("set_aside")
    text = export(aside[aside["id"] <= 4])
    assert text == intake.download(service, 1, View(value=load_intake(service.read(), View()).groups[0].key).search)[
        "content"
    ].removeprefix("\ufeff")
    for number in range(4):
        text = text.replace(f"6{number}O\r\n", f"6{number}0\r\n").replace(f",6{number}O,", f",6{number}0,")
    pressed(INTAKE_PUT)
    content = "data:text/csv;base64," + base64.b64encode(text.encode()).decode()
    told, _ = intake.release(
        service, None, content=content, search="", rows="", column="", value="", correct=[], who="K. Berg"
    )
    assert told == "4 rows let in. 0 stay."
    told, version = intake.release(
        service, None, content="data:;base64,AAA=", search=ALL, rows="", column="", value="", correct=[], who="K. Berg"
    )
    assert "expected a file from set-aside export" in told
    assert version is no_update


def test_reasons_and_refusals_are_told_in_the_language_of_whoever_looks(service: LedgerService, pressed) -> None:
    pressed(INTAKE_PUT)
    use_locale(Locale("de"))
    try:
        shown = load_intake(service.read(), View())
        told, _ = intake.release(
            service,
            None,
            content="data:;base64,/w==",
            search="",
            rows="",
            column="",
            value="",
            correct=[],
            who="K. Berg",
        )
        content = intake.download(service, 1, "")["content"]
    finally:
        use_locale(None)
    assert "counter ist '60O', erwartet: eine ganze Zahl nicht unter 0 [Hübe]" in shown.rows["Grund"].tolist()
    assert shown.groups[0].label.startswith("4 × strokes: counter ist '60O'")
    assert shown.groups[0].key == load_intake(service.read(), View()).groups[0].key
    assert told == "die Datei: kein Text in UTF-8; erwartet: eine berichtigte CSV. Als CSV UTF-8 speichern."
    assert "press_id ist 'P9', erwartet: etwas, das in presses steht; die Zeile wartet darauf" in content


HOSTILE = ("{}", "{column!r}", "'; lot is empty, expected text", '"', "1; 2", "a 'b' \"c\"", "%s", "\\n")


def test_hostile_cells_are_one_kind_and_stand_as_they_came_in_any_language(tmp_path: Path) -> None:
    drop = write_book(tmp_path / "drop")
    quoted = (cell.replace('"', '""') for cell in HOSTILE)
    rows = "".join(f'2026-11-02T06:1{at}:00,P1,"{cell}"\n' for at, cell in enumerate(quoted))
    (drop / "strokes-1.csv").write_text(strokes(0, 10) + rows)
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
    service = LedgerService(tmp_path / "ledger")
    told = {"en": "counter is {!r}, expected a whole number not below 0 [strokes]"}
    told["de"] = "counter ist {!r}, erwartet: eine ganze Zahl nicht unter 0 [Hübe]"
    for language, sentence in told.items():
        use_locale(Locale(language))
        shown = load_intake(service.read(), View())
        content = intake.download(service, 1, "")["content"]
        use_locale(None)
        assert [group.label.partition(":")[0] for group in shown.groups] == [f"{len(HOSTILE)} × strokes"]
        assert shown.rows.iloc[:, 3].tolist() == [sentence.format(cell) for cell in HOSTILE]
        assert len(read_back(content, "set-aside.csv")) == len(HOSTILE)


def test_watch_in_words(service: LedgerService) -> None:
    state = {
        "folder": "/drop", "looked_us": 0, "running": True, "files": 1200, "waiting": 1, "taken": 3, "problem": "",
    }  # fmt: skip
    assert "No folder is watched" in watch_words({}, 0)
    told = watch_words(state, 2_000_000)
    assert told.startswith(
        "Watching /drop: last look 2\u202fs ago, 1\u202f200 files there, 1 not finished yet, 3 taken"
    )
    assert "has stopped; it last looked 10\u202fmin ago" in watch_words(state, 600_000_000)
    assert watch_words({**state, "problem": "disk full"}, 0).endswith("disk full")
    lost = {**state, "problem": plain(phrase(FOLDER_LOST, why="gone"))}
    assert watch_words(lost, 0).endswith("the folder cannot be looked into: gone")
    use_locale(Locale("de"))
    assert watch_words(lost, 0).endswith("Der Ordner lässt sich nicht öffnen: gone")
    use_locale(None)


def test_page_is_drawn_anew_for_a_newer_version_alone(service: LedgerService) -> None:
    told, version = intake.tick(service, 1, service.read().version)
    assert "No folder is watched" in told
    assert version is no_update
    assert intake.tick(service, 1, 0)[1] == service.read().version


def test_clocks_that_disagree_are_told(tmp_path: Path) -> None:
    shown = load_intake(LedgerService(empty(tmp_path)).read(), View())
    assert shown.clocks == ()
    assert clocks_html(replace(shown, clocks=("a <b>line",)))[1].children[0].children == "a <b>line"


def test_page_without_findings_or_files_says_so(tmp_path: Path) -> None:
    shown = load_intake(LedgerService(empty(tmp_path)).read(), View())
    assert clocks_html(shown) == []
    assert "Nothing has been loaded yet" in files_html(shown)[0].children
    assert "No rows are set aside" in rows_html(shown)[0].children


def empty(folder: Path) -> Path:
    Ledger.open(folder / "empty", create=True).close()
    return folder / "empty"
