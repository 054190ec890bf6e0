from pathlib import Path

import pytest

from monitor.intake import whole_file as together
from monitor.intake.csv import text_blocks
from shared.errors import RefusedFile
from tests.intake.taking import take, take_file

INSPECTIONS = "inspection_id,time,press_id,kind,inspected,rejected,cause\n"
T = "2026-11-02T06:00Z"


def inspections(folder: Path, *rows: str) -> dict[int, str]:
    return take(folder, "inspections.csv", INSPECTIONS + "".join(row + "\n" for row in rows)).reasons


def test_more_pieces_rejected_than_inspected_over_all_rows_of_an_inspection(tmp_path: Path) -> None:
    reasons = inspections(
        tmp_path,
        f"I-1,{T},P07,sample,5,3,BUR",
        f"I-2,{T},P07,sample,5,5,BUR",
        f"I-1,{T},P07,sample,5,3,SLG",
    )
    assert reasons == dict.fromkeys((2, 4), "6 pieces rejected of 5 inspected, expected no more than inspected")


def test_a_row_written_twice_counts_once_and_a_correction_counts_as_corrected(tmp_path: Path) -> None:
    row = f"I-1,{T},P07,sample,5,3,BUR"
    assert inspections(tmp_path, row, row) == {}
    assert inspections(tmp_path, f"I-1,{T},P07,full,5,9,BUR", f"I-1,{T},P07,full,5,4,BUR") == {}
    assert len(inspections(tmp_path, f"I-1,{T},P07,full,5,4,BUR", f"I-1,{T},P07,full,5,9,BUR")) == 2


def test_one_inspection_has_one_count_of_pieces(tmp_path: Path) -> None:
    reasons = inspections(
        tmp_path, f"I-1,{T},P07,full,10,1,BUR", f"I-1,{T},P07,full,11,1,SLG", f"I-2,{T},P07,full,4,0,"
    )
    assert list(reasons) == [2, 3]
    assert "inspected differs between rows" in reasons[2]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (f"I-1,{T},P07,tub,,3,SLG", None),
        (f"I-1,{T},P07,full,10,0,", None),
        (f"I-1,{T},P07,tub,10,3,SLG", "expected it empty for kind tub"),
        (f"I-1,{T},P07,sample,,0,", "inspected is empty"),
        (f"I-1,{T},P07,full,10,1,", "cause is empty"),
    ],
)
def test_what_each_kind_of_inspection_must_say(tmp_path: Path, row: str, reason: str | None) -> None:
    reasons = inspections(tmp_path, row)
    assert reason is None or reason in reasons[2]
    assert bool(reasons) == bool(reason)


def test_an_inspection_that_is_set_aside_takes_no_other_with_it(tmp_path: Path) -> None:
    reasons = inspections(tmp_path, f"I-1,{T},P07,full,2,3,BUR", f"I-2,{T},P07,full,2,2,BUR", f"I-3,{T},P07,tub,,9,BUR")
    assert list(reasons) == [2]


@pytest.mark.parametrize("late", ["2026-11-02T06:00Z", "2026-10-25 02:10"])
def test_the_rows_of_an_inspection_add_up_over_all_blocks_of_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, late: str
) -> None:
    monkeypatch.setattr(text_blocks, "BLOCK_BYTES", 200)
    others = [f"J-{number},{T},P07,sample,5,1,BUR" for number in range(40)]
    rows = [f"I-1,{T},P07,sample,5,3,BUR", *others, f"I-1,{late},P07,sample,5,3,SLG", f"I-2,{T},P07,sample,5,,BUR"]
    reasons = inspections(tmp_path, *rows, f"I-3,{T},P07,sample,5,1,BUR", *others, f"I-3,{T},P07,sample,6,1,SLG")
    over = "6 pieces rejected of 5 inspected, expected no more than inspected"
    if late == T:
        assert (reasons.pop(2), reasons.pop(43)) == (over, over)
    assert "rejected is empty" in reasons.pop(44)
    assert "inspected differs" in reasons.pop(45)
    assert "inspected differs" in reasons.pop(86)
    assert list(reasons) == ([] if late == T else [43])


def test_a_file_of_more_inspections_than_memory_holds_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(together, "MOST_ROWS", 3)
    with pytest.raises(RefusedFile, match="more than 3 rows of inspections"):
        inspections(tmp_path, *(f"I-{number},{T},P07,tub,,1,BUR" for number in range(4)))


def test_a_row_waits_for_what_is_not_known_yet(tmp_path: Path) -> None:
    text = f"time,press_id,event,coil_id\n{T},P07,mount,C-9\n{T},P99,mount,C-9\n{T},P07,mount,R-1\n{T},P07,moumt,C-9\n"
    taken = take(tmp_path, "coil_changes.csv", text)
    assert taken.column("coil_id") == ["R-1"]
    assert [one.waits_for for one in taken.rejected] == [
        (("coils", "C-9"), ("reels", "C-9")),
        (("presses", "P99"), ("coils", "C-9"), ("reels", "C-9")),
        (),  # the event is wrong as well, so no arrival can mend it
    ]


def test_names_that_are_only_looked_up_do_not_hold_a_row_back(tmp_path: Path) -> None:
    taken = take(tmp_path, "die_changes.csv", f"time,press_id,event,die_id,part_no\n{T},P07,set,D-12,clip\n")
    assert taken.column("part_no") == ["clip"]
    assert (taken.named, taken.notes) == ([("part_no", ("clip",))], [])


def test_a_reason_not_yet_known_does_not_cost_the_row(tmp_path: Path) -> None:
    taken = take(tmp_path, "stops.csv", f"press_id,start_at,reason\nP07,{T},JAM\nP07,2026-11-02T07:00Z,BRK\n")
    assert taken.column("reason") == ["JAM", "BRK"]
    assert taken.rejected == []
    assert (taken.named, taken.notes) == ([("reason", ("JAM",))], [])


def test_nothing_known_at_all_lets_everything_wait(tmp_path: Path) -> None:
    path = tmp_path / "strokes.csv"
    path.write_text(f"time,press_id,counter\n{T},P07,1\n")
    assert [one.waits_for for one in take_file(path, known={}).rejected] == [(("presses", "P07"),)]


@pytest.mark.parametrize(
    ("name", "text", "reason"),
    [
        ("stops.csv", f"press_id,start_at,end_at,reason\nP07,{T},2026-11-02T05:00Z,BRK\n", "start_at 2026"),
        (
            "characteristics.csv",
            "part_no,characteristic,nominal,lower,upper\nbracket,hole,5,5.2,5.1\n",
            "lower 5.2 lies above upper 5.1, expected it not to",
        ),
        (
            "reels.csv",
            f"reel_id,press_id,started_at,ended_at,from_m,to_m\nR-2,P07,{T},{T},5,4\n",
            "from_m 5.0 lies above",
        ),
    ],
)
def test_what_must_lie_in_order(tmp_path: Path, name: str, text: str, reason: str) -> None:
    assert reason in take(tmp_path, name, text).reasons[2]


def test_limits_may_be_open_on_one_side(tmp_path: Path) -> None:
    text = "part_no,characteristic,nominal,lower,upper\nbracket,flatness,,,0.2\nbracket,force,,10,\n"
    assert take(tmp_path, "characteristics.csv", text).rejected == []


def test_what_a_row_waits_for_is_named_whole_whatever_its_signs(tmp_path: Path) -> None:
    path = tmp_path / "strokes.csv"
    path.write_text(f'time,press_id,counter\n{T},"P;7: ""x""",1\n{T},"Pre\u0308sse",1\n', "utf-8")
    assert [one.waits_for for one in take_file(path, known={}).rejected] == [
        (("presses", 'P;7: "x"'),), (("presses", "Pr\u00ebsse"),),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text"),
    [
        # A late order: nothing keeps it from being begun after the day it was due.
        ("orders.csv", f"order_id,part_no,press_id,quantity,start_at,due_at\nO1,bracket,P07,5,{T},2026-11-01T05:00Z\n"),
        # A fit: 5 mm with both limits above the nominal value.
        ("characteristics.csv", "part_no,characteristic,nominal,lower,upper\nbracket,hole,5,5.1,5.2\n"),
        # A die older than most records.
        ("dies.csv", "die_id,pitch_mm,parts_per_stroke,rated_spm,valid_from\nD9,30,1,60,1985-04-01\n"),
    ],
)
def test_what_is_only_unlikely_is_taken(tmp_path: Path, name: str, text: str) -> None:
    taken = take(tmp_path, name, text)
    assert (taken.rejected, len(taken.rows)) == ([], 1)


def test_reasons_quote_plant_time(tmp_path: Path) -> None:
    text = "press_id,start_at,end_at,reason\nP07,2026-11-02T06:00,2026-11-02T05:30,BRK\n"
    told = "start_at 2026-11-02T06:00:00+01:00 lies after end_at 2026-11-02T05:30:00+01:00, expected it not to"
    assert take(tmp_path, "stops.csv", text).reasons[2] == told
