from pathlib import Path

import pytest

from tests.intake.taking import take

STROKES = (
    "time,press_id,counter\n"
    "2026-11-02T06:00:00Z,P07,4812330\n"
    "2026-11-02T06:00:30Z,P08,95\n"
    "2026-11-02T06:01:00Z,P07,4812412\n"
    "2026-11-02T06:01:30Z,P08,105\n"
)


@pytest.mark.parametrize("cut", range(1, 30))
@pytest.mark.parametrize("lines", [4, 5])
def test_wherever_the_logger_was_copied_only_the_last_line_is_lost(tmp_path: Path, lines: int, cut: int) -> None:
    text = "".join(STROKES.splitlines(keepends=True)[:lines])
    taken = take(tmp_path, "strokes.csv", text[:-cut])
    whole = {"4812330", "4812412", "95", "105"}
    assert {str(counter) for counter in taken.column("counter")} <= whole
    assert len(taken.rows) >= lines - 2
    assert len(taken.rows) + len(taken.rejected) == lines - 1 - (not text[:-cut].splitlines()[lines - 1 :])


def test_only_the_line_end_missing_loses_nothing(tmp_path: Path) -> None:
    assert len(take(tmp_path, "strokes.csv", STROKES[:-1]).rows) == 4


def test_the_reason_says_what_stood_above(tmp_path: Path) -> None:
    taken = take(tmp_path, "strokes.csv", STROKES[: STROKES.index("412\n2026")])
    [rejected] = taken.rejected
    assert "counter is '4812' after '4812330'" in rejected.reason


def test_a_cut_inside_a_character_or_a_block_of_zero_bytes_loses_the_last_line_only(tmp_path: Path) -> None:
    text = "cause,name\nBUR,burr\nSLG,größe".encode()
    for data in (text[: text.index(b"\xc3") + 1], text[:-5] + b"\0\0\0\0"):
        taken = take(tmp_path, "causes.csv", data)
        assert taken.column("cause") == ["BUR"]
        assert [one.line for one in taken.rejected] == [3]


def test_a_cut_inside_quotes_loses_the_last_line_only(tmp_path: Path) -> None:
    taken = take(tmp_path, "causes.csv", 'cause,name\nBUR,burr\n"SLG","slu')
    assert taken.lines == [2]
    assert [one.line for one in taken.rejected] == [3]


def test_tables_people_write_may_end_without_a_line_end(tmp_path: Path) -> None:
    text = "order_id,part_no,quantity\nO-1,bracket,12000\nO-2,bracket,500"
    assert take(tmp_path, "orders.csv", text).column("quantity") == [12000, 500]
    assert take(tmp_path, "orders.csv", text[:-4]).lines == [2]


def test_a_time_cut_to_the_minute_is_not_taken_for_whole(tmp_path: Path) -> None:
    text = "counter,press_id,time\n1,P07,2026-11-02T06:00:00\n2,P07,2026-11-02T06:01:00"
    assert take(tmp_path, "strokes.csv", text).lines == [2, 3]
    assert take(tmp_path, "strokes.csv", text[:-3]).lines == [2]
