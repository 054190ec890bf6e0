"""The hand-over: every figure as in the figure tables, one page for a small plant, and text that stays text."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from monitor.enter.entry import enter
from monitor.enter.floor import Work, service, write_note
from monitor.figures import figure
from monitor.handover import HandOver, hand_over
from monitor.handover.model import CoilLine, HoldLine, NoteLine, PressLine, ScrapLine, StopLine
from monitor.handover.paper import hand_over_pdf
from monitor.handover.sheet import HandoverSheet, sheet
from monitor.plant.book import plant_of
from shared.calendar import Calendar
from shared.words import ENGLISH, LANGUAGES, words
from tests.invented.tiny import DAY, SHIFTS, Tiny, at
from tests.programs import need

CALENDAR = Calendar(plant_of(SHIFTS))
HOSTILE = '=HYPERLINK("x") <script>alert(1)</script> #import "x" $x$ *b* `c` \\ ' + "longname" * 10


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tiny]:
    """P ran an order from 06:00 to 12:00 with stops at 07:00 (20 min), 09:00 (4 min) and over the break at 10:00."""
    one = Tiny(tmp_path_factory.mktemp("handover"), SHIFTS)
    one.rows["dies"].clear()
    one.die("D", 1, sharpen_every_strokes=18_000)
    one.rows["stations"] = one.rows["stations"][-1:]
    one.coil("C1", weight_kg=500)
    one.add(
        "orders", order_id="O1", part_no="N", press_id="P", quantity=90_000, start_at=at("06:00"), due_at=at("13:00")
    )
    one.add("reasons", reason="CCH", name="coil change", kind="setup")
    one.add("stops", press_id="P", start_at=at("07:00"), end_at=at("07:20"), reason="CCH")
    one.set_die(at("06:00"), order_id="O1")
    one.change(at("06:00"), "mount", "C1")
    for begin, end in (("06:00", "07:00"), ("07:20", "09:00"), ("09:04", "10:00"), ("10:40", "12:00")):
        one.run(at(begin), at(end))
    one.look("I1", at("12:00"), "full", 17_760, 40, made_from=at("06:00"), made_to=at("12:00"))
    one.load()
    service(one.ledger, Work("D", _us("06:00"), station=1))
    hold = {"hold_id": "H1", "placed_at": _us("08:00"), "scope": "lot", "value": "L", "reason": HOSTILE}
    enter(one.ledger, "holds", hold)
    write_note(one.ledger, DAY, "early", "P", HOSTILE, by="Shift leader")
    write_note(one.ledger, DAY, "late", "", "for another shift")
    yield one
    one.ledger.close()


def _us(clock: str) -> int:
    return int(dt.datetime.fromisoformat(at(clock)).timestamp()) * 1_000_000


def told(plant: Tiny) -> HandOver:
    return hand_over(plant.ledger.snapshot())


def test_output_stands_as_in_the_figures(plant: Tiny) -> None:
    (line,) = told(plant).presses
    rows = figure(plant.ledger, "shifts")
    assert (line.pieces, line.good) == (rows["pieces"].sum(), rows["good"].sum()) == (17_760, 17_720)
    assert (line.running_s, line.stopped_s, line.planned_s) == (17_760, 2_040, 19_800)
    assert line.plan == 200 * 19_800 / 60
    assert line.order is not None
    assert (line.order.done, line.order.late) == (17_720, True)


def test_a_die_of_two_parts_has_its_time_once(tmp_path: Path) -> None:
    plant = Tiny(tmp_path, SHIFTS)
    plant.die("E", 1, outs=2)
    plant.add("parts", part_no="M", net_weight_g=10, customer="K")
    for out, part in ((1, "M"), (2, "N")):
        plant.add("outs", die_id="E", out=out, part_no=part, station=1)
    plant.set_die(at("06:00"), "E", part_no="N")
    plant.coil("C1")
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("07:00"))
    plant.load()
    by_part = figure(plant.ledger, "shifts").set_index("part_no")
    assert by_part["pieces"].to_dict() == {"M": 3600, "N": 3600}
    assert (by_part.loc["M", "strokes"], by_part.loc["M", "running_s"]) == (3600, 3600)
    assert by_part.loc["N", ["strokes", "running_s", "planned_s"]].isna().all()
    (line,) = told(plant).presses
    assert (line.pieces, line.running_s, line.planned_s) == (7200, 3600, 3600)
    shown = sheet(told(plant), ENGLISH, CALENDAR)
    assert not any("nan" in cell.lower() for part in shown.parts for row in part.rows for cell in row)
    plant.ledger.close()


def test_stops_over_five_minutes_without_the_planned_ones(plant: Tiny) -> None:
    shown = [(line.start_us, line.end_us, line.reason, line.kind) for line in told(plant).stops]
    assert shown == [
        (_us("07:00"), _us("07:20"), "coil change", "setup"),
        (_us("10:30"), _us("10:40"), "no reason yet", ""),
    ]


def test_what_is_open(plant: Tiny) -> None:
    handed = told(plant)
    assert [(line.cause, line.rejected, line.low) for line in handed.scrap] == [("BUR", 40, None)]
    (coil,) = handed.coils
    # 17,760 strokes of 30 mm at 0.24 kg a metre off 500 kg.
    assert (coil.coil_id, coil.left_kg) == ("C1", pytest.approx(500 - 17_760 * 0.03 * 0.24))
    assert coil.left_m == pytest.approx(500 / 0.24 - 17_760 * 0.03)
    assert [(line.die_id, line.stations, line.strokes) for line in handed.due] == [("D", (1,), 17_760)]
    assert [(line.hold_id, line.value) for line in handed.holds] == [("H1", "L")]
    assert [(line.press_id, line.note) for line in handed.notes] == [("P", HOSTILE)]
    assert handed.alarms == ()


def test_a_cause_is_held_against_what_is_usual(tmp_path: Path) -> None:
    one = Tiny(tmp_path, SHIFTS)
    one.set_die(at("06:00", DAY - dt.timedelta(days=14)))
    for day in range(14, -1, -1):
        date = DAY - dt.timedelta(days=day)
        if date.weekday() < 5:
            one.run(at("06:00", date), at("08:00", date), every_s=60)
            rejected = 7 if day else 60
            one.look(f"I{day}", at("08:00", date), "full", 7_200, rejected, made_from=at("06:00", date),
                     made_to=at("08:00", date))  # fmt: skip
    one.load()
    (line,) = hand_over(one.ledger.snapshot(), DAY, "early").scrap
    assert (line.rejected, line.low, line.high, line.out) == (60, 2, 13, "above")
    (line,) = hand_over(one.ledger.snapshot(), DAY - dt.timedelta(days=3), "early").scrap
    assert (line.rejected, line.out) == (7, "")
    one.ledger.close()


def test_a_shift_that_is_asked_for_and_one_that_was_not(plant: Tiny) -> None:
    snapshot = plant.ledger.snapshot()
    late = hand_over(snapshot, DAY, "late")
    assert (late.shift, late.stops, late.presses[0].pieces, late.over) == ("late", (), 0, False)
    assert [line.note for line in late.notes] == ["for another shift"]
    assert hand_over(snapshot, DAY, "night").lack
    assert hand_over(snapshot, DAY, "early", "X").lack == "There is no press “X”."


def crowd(presses: int, name: str = "P") -> HandOver:
    """A shift of so many presses with seven stops, three causes, a hold and a note each."""
    names = [f"{name}{number:02d}" for number in range(1, presses + 1)]
    start, end = _us("06:00"), _us("06:20")
    return HandOver(
        plant="Tiny",
        date=DAY,
        shift="early",
        start_us=start,
        end_us=_us("14:00"),
        newest_us=_us("13:50"),
        zone="UTC",
        version=7,
        presses=tuple(
            PressLine(
                p,
                "",
                dies="D-101, D-102",
                parts="N",
                pieces=12_345,
                good=12_300,
                setup_pieces=5,
                plan=14e3,
                running_s=2e4,
                stopped_s=4e3,
                planned_s=24e3,
            )
            for p in names
        ),
        stops=tuple(
            StopLine(p, start, end_us=end, seconds=1200.0, reason="waiting for coil", kind="material")
            for p in names
            for _ in range(7)
        ),
        scrap=tuple(
            ScrapLine(p, "D-101", cause=c, name="burr too high", kind="full", rejected=9, inspected=900, low=2, high=8)
            for p in names
            for c in "ABC"
        ),
        coils=tuple(CoilLine(p, "C-20111", "LOT-1", 777.2, 916.0) for p in names),
        holds=tuple(HoldLine(f"H-{p}", "lot", "LOT-1", "cracks at the second bend", start) for p in names[:8]),
        notes=tuple(NoteLine(f"N{p}", p, start, "Chute was blocked twice. Look at the nozzle.") for p in names),
    )


def pdf_of(told: HandOver, folder: Path, language: str = "en") -> Path:
    path = folder / "hand-over.pdf"
    chosen = words(language)
    path.write_bytes(hand_over_pdf(sheet(told, chosen, CALENDAR), told.plant, chosen, 0))
    return path


def printed(path: Path) -> list[str]:
    """Text of each page."""
    need("pdftotext")
    ran = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return ran.stdout.decode().split("\f")[:-1]


def test_five_presses_fit_on_one_page_in_every_language(tmp_path: Path) -> None:
    for language in LANGUAGES:
        assert len(printed(pdf_of(crowd(5), tmp_path, language))) == 1, language


def test_forty_presses_go_on_with_their_headings(tmp_path: Path) -> None:
    pages = printed(pdf_of(crowd(40), tmp_path))
    assert 3 <= len(pages) <= 9
    assert all("early shift, Mon 2 Nov 2026" in page for page in pages)
    stops = [page for page in pages if "waiting for coil" in page]
    assert len(stops) > 1
    assert all("When and why" in page for page in stops)
    assert sum(len(re.findall(r"^ *P\d\d ", page, re.MULTILINE)) for page in pages) >= 40 * 4


def test_text_is_printed_as_it_is_and_the_same_sheet_gives_the_same_bytes(plant: Tiny, tmp_path: Path) -> None:
    path = pdf_of(told(plant), tmp_path)
    first = path.read_bytes()
    (page,) = printed(path)
    shown = " ".join(page.replace("\u200b", "").split())
    assert '=HYPERLINK("x") <script>alert(1)</script> #import "x" $x$ *b* `c` \\' in shown
    assert pdf_of(told(plant), tmp_path).read_bytes() == first


def test_no_word_lies_on_another_and_none_leaves_the_page(tmp_path: Path) -> None:
    path = pdf_of(crowd(3, "P" + "W" * 77), tmp_path)
    printed(path)
    ran = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, check=True)
    word = re.compile(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">')
    for page in ran.stdout.decode().split("<page ")[1:]:
        boxes = [tuple(map(float, found)) for found in word.findall(page)]
        assert max(box[2] for box in boxes) < 595 - 36
        lines: dict[float, list[tuple[float, float]]] = {}
        for left, top, right, _ in boxes:
            lines.setdefault(round(top), []).append((left, right))
        for line in map(sorted, lines.values()):
            assert all(after[0] > before[1] - 1 for before, after in pairwise(line)), line


def test_long_names_and_empty_parts(tmp_path: Path) -> None:
    long = replace(crowd(2, "press-of-the-north-hall-at-the-gate-beside-the-store-"), plant="W" * 90, due=(), alarms=())
    assert len(printed(pdf_of(long, tmp_path))) <= 2
    empty = HandOver(
        plant="Tiny", date=DAY, shift="early", start_us=_us("06:00"), end_us=_us("14:00"), newest_us=_us("07:00")
    )
    (page,) = printed(pdf_of(empty, tmp_path))
    for part in sheet(empty, ENGLISH, CALENDAR).parts:
        assert part.none in page
        assert part.title in page


def rows(shown: HandoverSheet, name: str) -> list[tuple[str, ...]]:
    return [row for part in shown.parts if part.name == name for row in part.rows]


def test_the_sheet_says_what_calls_for_somebody(plant: Tiny) -> None:
    shown = sheet(told(plant), ENGLISH, CALENDAR)
    spans = "07:00–07:20 coil change (20\u202fmin); 10:30–10:40 no reason yet (10\u202fmin)"
    assert rows(shown, "stops") == [("P", spans, "30\u202fmin")]
    assert "late, due Mon 2 Nov 13:00" in rows(shown, "output")[0][-1]
    assert [part.name for part in shown.parts if part.loud] == ["output", "holds"]


def test_every_word_of_the_sheet_is_in_every_language(plant: Tiny) -> None:
    english = sheet(crowd(1), ENGLISH, CALENDAR)
    for language in set(LANGUAGES) - {"en"}:
        other = sheet(crowd(1), words(language), CALENDAR)
        assert other.title != english.title
        for mine, theirs in zip(english.parts, other.parts, strict=True):
            assert mine.title != theirs.title, language
            assert mine.none != theirs.none, language


def test_the_command(plant: Tiny, tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    ledger = ["--ledger", str(plant.ledger.root)]
    done = CliRunner().invoke(app, ["hand-over", *ledger, "--date", str(DAY), "--shift", "early", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert out.read_bytes().startswith(b"%PDF")
    for wrong, seen in (("--date=monday", "a date such as"), ("--shift=none", "no such shift")):
        failed = CliRunner().invoke(app, ["hand-over", *ledger, "--date", str(DAY), wrong, "--out", str(out)])
        assert seen in str(failed.exception)
