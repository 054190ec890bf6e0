"""What a profile makes of single cells and rows."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from monitor.intake import Profile
from monitor.intake.profiles import profile_rows, shaping
from shared.errors import RefusedFile
from tests.intake.profiled import Profiled, read_text

COLUMNS = """
[columns.time]
from = "t"
[columns.press_id]
from = "p"
[columns.counter]
from = "c"
"""
PLAIN = 'table = "strokes"\n' + COLUMNS


def strokes(folder: Path, rows: str, told: str = "", head: str = "t;p;c") -> Profiled:
    file = "" if "[file]" in told else '[file]\ndelimiter = ";"\n'
    return read_text(folder, f"{head}\n{rows}\n", 'table = "strokes"\n' + file + told + COLUMNS)


def one_time(folder: Path, cell: str, told: str = "") -> str:
    found = strokes(folder, f"{cell};P07;1", told)
    return found.rows[0]["time"].isoformat() if found.rows else found.reasons[2].partition("expected ")[2]


@pytest.mark.parametrize(
    ("cell", "told", "is_"),
    [
        ("02.11.2026 06:00", 'date_order = "dmy"', "2026-11-02T05:00:00+00:00"),
        ("11/2/2026 6:00", 'date_order = "mdy"', "2026-11-02T05:00:00+00:00"),
        ("26/11/02 06:00", 'date_order = "ymd"\ncentury = 2000', "2026-11-02T05:00:00+00:00"),
        ("2026-11-02T06:00:00.25", "", "2026-11-02T05:00:00.250000+00:00"),
        ("2026-11-02 06:00:00,25", "", "2026-11-02T05:00:00.250000+00:00"),
        ("2026/11/02 12:00 am", "", "2026-11-01T23:00:00+00:00"),
        ("2026/11/02, 1:30:05 P.M.", "", "2026-11-02T12:30:05+00:00"),
        ("2026-11-02 24:00", "", "2026-11-02T23:00:00+00:00"),
        ("2026-11-02T06:00:00Z", "", "2026-11-02T06:00:00+00:00"),
        ("2026-11-02 06:00", 'clock = "+00:00"', "2026-11-02T06:00:00+00:00"),
        ("2026-11-02 06:00", "clock_offset_s = 90", "2026-11-02T04:58:30+00:00"),
        ("46328,25", "serial1900 = true", "2026-11-02T05:00:00+00:00"),
        ("46328.291667", "serial1900 = true", "2026-11-02T06:00:00+00:00"),
        ("2026-11-02 24:01", "", "a time from 00:00 to 24:00"),
        ("2026-11-02 13:00 PM", "", "an hour from 1 to 12 before AM or PM"),
        ("02.11.26 06:00", 'date_order = "dmy"', "a year of four digits, or a century in the profile"),
        ("31.11.2026 06:00", 'date_order = "dmy"', "a date in the order d-m-y"),
        ("2026-11-02", "", "a time as well as a date"),
        ("2026-11-02 6", "", "a time such as 06:00"),
        ("2026-11-02 06:00+1", "", "a time such as 06:00"),
        ("yesterday", "", "a date and a time"),
        ("2.11/2026 06:00", 'date_order = "dmy"', "a date and a time"),
        ("2026-03-29 02:30", "", ""),
    ],
)  # fmt: skip
def test_times(tmp_path: Path, cell: str, told: str, is_: str) -> None:
    assert one_time(tmp_path, cell, f"[time]\n{told}\n" if told else "") == is_


def test_a_clock_that_was_ahead_for_a_while(tmp_path: Path) -> None:
    told = "[[time.clock_offsets]]\nseconds = 3600\nfrom = 2026-11-02T06:00:00\nto = 2026-11-02T07:00:00\n"
    found = strokes(tmp_path, "2026-11-02 05:59;P07;1\n2026-11-02 06:00;P07;2\n2026-11-02 07:00;P07;3", told)
    assert [row["time"].strftime("%H:%M") for row in found.rows] == ["04:59", "04:00", "06:00"]


@pytest.mark.parametrize(
    ("rows", "order"),
    [
        ("13.11.2026 06:00;P07;1\n02.11.2026 06:00;P07;2", (11, 2)),
        ("02.11.2026 06:00;P07;1\n02.13.2026 06:00;P07;2", (2, 11)),
    ],
)  # fmt: skip
def test_a_file_may_show_its_order_of_day_and_month_itself(tmp_path: Path, rows: str, order: tuple[int, int]) -> None:
    found = strokes(tmp_path, rows)
    assert order in {(row["time"].month, row["time"].day) for row in found.rows}
    assert not found.rejected


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("02.11.2026 06:00;P07;1", "day and month that cannot be told apart over the whole file"),
        ("13.11.2026 06:00;P07;1\n11.13.2026 06:00;P07;2", "days and months in changing order"),
    ],
)  # fmt: skip
def test_a_file_that_does_not_show_it_is_refused(tmp_path: Path, rows: str, said: str) -> None:
    with pytest.raises(RefusedFile, match=said):
        strokes(tmp_path, rows)


@pytest.mark.parametrize(
    ("cell", "told", "counter"),
    [
        ("4812", "", 4812),
        ("4.812", "", None),
        ("4,812", "", None),
        ("4.812", 'thousands = "."', 4812),
        ("4.81", 'thousands = "."', None),
        ("4.812", 'decimal = ","', None),
        ("4.812", 'decimal = "."', None),  # 4.812 strokes is no whole number
        ("4812,0", 'decimal = ","', 4812),
        ("4'812’330", 'thousands = "\'"', 4812330),
        ("4 812\u202f330", 'thousands = " "', 4812330),
        ("48 12", 'thousands = " "', None),
        ("1.234,0", 'thousands = "."\ndecimal = ","', 1234),
        ("4.2E+11", "", None),
        ("0x10", "", None),
        ("", "", None),
    ],
)  # fmt: skip
def test_numbers_are_read_by_the_signs_of_the_profile_or_not_at_all(
    tmp_path: Path, cell: str, told: str, counter: int | None
) -> None:
    found = strokes(tmp_path, f"2026-11-02 06:00;P07;{cell}", f'[file]\ndelimiter = ";"\n{told}\n')
    assert [row["counter"] for row in found.rows] == ([] if counter is None else [counter])
    assert len(found.rejected) == (counter is None)


def test_a_row_set_aside_keeps_its_cells_as_they_came(tmp_path: Path) -> None:
    found = strokes(tmp_path, "2026-11-02 06:00;P07;4.812")
    assert found.rejected[0].row == '{"time": "2026-11-02 06:00", "press_id": "P07", "counter": "4.812"}'


def test_a_changed_heading_refuses_the_file_and_is_named(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match=r"no heading 'c' among 't, p, count'"):
        strokes(tmp_path, "2026-11-02 06:00;P07;1", head="t;p;count")


@pytest.mark.parametrize(("units", "said"), [("s;;parts", "a count of strokes"), ("s;;ells", "a count of strokes")])
def test_a_changed_unit_refuses_the_file(tmp_path: Path, units: str, said: str) -> None:
    told = '[file]\ndelimiter = ";"\nheader_rows = 2\nunits_row = 2\n'
    with pytest.raises(RefusedFile, match=said):
        strokes(tmp_path, f"{units}\n2026-11-02 06:00;P07;1", told)


def test_a_unit_that_measures_something_else_refuses_the_file(tmp_path: Path) -> None:
    profile = 'table = "dies"\n' + "".join(
        f'[columns.{name}]\nfrom = "{name}"\n' for name in ("die_id", "parts_per_stroke", "rated_spm")
    )
    text = "die_id,parts_per_stroke,rated_spm,pitch\nD-12,1,200,0.5\n"
    with pytest.raises(RefusedFile, match="pitch_mm: unit lb; expected a unit of length"):
        read_text(tmp_path, text, profile + '[columns.pitch_mm]\nfrom = "pitch"\nunit = "lb"\n[file]\ndecimal = "."\n')


def test_periods_that_come_twice_or_late_give_the_same_readings(tmp_path: Path) -> None:
    told = '[counter]\nkind = "delta"\nperiod_s = 3600\n'
    hours = "2026-11-02 07:00;P07;5\n2026-11-02 08:00;P07;6\n2026-11-02 09:00;P07;7"
    every = {(row["time"], row["counter"]) for row in strokes(tmp_path, hours, told).rows}
    late = strokes(tmp_path, "2026-11-02 09:00;P07;7\n2026-11-02 08:00;P07;6", told).rows
    assert {(row["time"], row["counter"]) for row in late} < every
    assert len(every) == 6


def test_cells_are_filled_down_past_rows_left_out_and_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shaping, "BLOCK_ROWS", 2)
    rows = "2026-11-02 06:00;P07;1\n2026-11-02 07:00;;2\nSum;;3\n2026-11-02 08:00;;3\n2026-11-02 08:00;P08;9"
    profile = PLAIN.replace('from = "p"', 'from = "p"\nfill_down = true')
    text = '[file]\ndelimiter = ";"\n[[drop_if]]\nequals = ["Sum", ""]\n'
    found = read_text(tmp_path, f"t;p;c\n{rows}\n", profile + text)
    assert found.cells("line", "press_id", "counter") == [(2, "P07", 1), (3, "P07", 2), (5, "P07", 3), (6, "P08", 9)]
    assert found.outside == 1


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("2026-11-02 07:00;P07", "the row is 2 cells wide, expected 3 as in the header"),
        ("2026-11-02 07:00;P07;2;3", "the row is 4 cells wide, expected 3 as in the header"),
        ('"2026-11-02 07:00;P07;2', "a quote is opened and not closed"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_cut_costs_no_other(tmp_path: Path, line: str, fault: str) -> None:
    found = strokes(tmp_path, f"2026-11-02 06:00;P07;1\n{line}\n2026-11-02 08:00;P07;3;;")
    assert [row["line"] for row in found.rows] == [2, 4]
    assert fault in found.reasons[3]


def test_line_ends_in_quotes_keep_the_count_of_lines(tmp_path: Path) -> None:
    found = strokes(tmp_path, '2026-11-02 06:00;"P07\n";1\n2026-11-02 07:00;P07;"2"')
    assert found.cells("line", "press_id") == [(2, "P07"), (4, "P07")]


def test_a_last_line_that_may_be_cut_short_is_set_aside(tmp_path: Path) -> None:
    found = read_text(tmp_path, "t,p,c\n2026-11-02 06:00,P07,4812\n2026-11-02 07:00,P07,48", PLAIN)
    assert [row["counter"] for row in found.rows] == [4812]
    assert "may be cut short: '48' after '4812'" in found.reasons[3]


def test_a_half_character_at_the_end_is_a_line_cut_short(tmp_path: Path) -> None:
    text = "t,p,c\n2026-11-02 06:00,P07,4812\n2026-11-02 07:00,P".encode("utf-16-le")
    found = read_text(tmp_path, b"\xff\xfe" + text[:-1], PLAIN + '[file]\nencoding = "utf-16"\n')
    assert (len(found.rows), list(found.reasons)) == (1, [3])


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"t,p,c\n2026-11-02 06:00,P\xfc,1\n", "about line 2: bytes that are not utf-8"),
        (b"t,p,c\n2026-11-02 06:00,P07\x00,1\n", "line 2: a zero byte"),
        (b"PK\x03\x04rest", "a zip archive or a spreadsheet"),
        (b"", "no rows at all"),
        (b"t,t,c\n", "t more than once"),
        (b"x" * (3 << 20), "line 1: no line end in 1,048,576 characters"),
    ],
)  # fmt: skip
def test_what_is_no_text_of_the_profile_is_refused(tmp_path: Path, data: bytes, said: str) -> None:
    with pytest.raises(RefusedFile, match=said):
        read_text(tmp_path, data, PLAIN)


def test_a_banner_without_what_is_sought_refuses_the_file(tmp_path: Path) -> None:
    told = "[constants.day]\nline = 1\npattern = 'exported (.*)'\n"
    with pytest.raises(RefusedFile, match=r"line 1 is 't;p;c'; expected 'exported \(\.\*\)' in it, for day"):
        strokes(tmp_path, "2026-11-02 06:00;P07;1", told)


def test_skip_to_a_heading_that_is_not_there_refuses_the_file(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match="no line that begins with 'Zeit'"):
        strokes(tmp_path, "2026-11-02 06:00;P07;1", '[file]\nskip_to = "Zeit"\n')


def test_a_file_with_a_header_alone_has_no_rows(tmp_path: Path) -> None:
    found = read_text(tmp_path, "t,p,c\n", PLAIN)
    assert (found.rows, found.read, found.outside) == ([], 0, 0)


def test_hostile_cells_stay_cells(tmp_path: Path) -> None:
    profile = 'table = "causes"\n[columns.cause]\nfrom = "c"\n'
    cells = ["=HYPERLINK(1)", "<script>x</script>", "../../etc/passwd", "%s{0}$x"]
    found = read_text(tmp_path, "c\n" + "".join(f"{cell}\n" for cell in cells), profile)
    assert [row["cause"] for row in found.rows] == cells


@pytest.mark.parametrize("row", ["2026-11-02 06:00;P07;1", "2026-11-02 06:00;P07", "Sum;;1"])
def test_blocks_stay_small_however_long_the_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, row: str) -> None:
    monkeypatch.setattr(shaping, "BLOCK_SIGNS", 1000)
    monkeypatch.setattr(shaping, "BLOCK_ROWS", 60)
    path = tmp_path / "log.csv"
    path.write_text("t;p;c\n" + f"{row}\n" * 300)
    told = '[file]\ndelimiter = ";"\n[[drop_if]]\nequals = "Sum"\ntotal = "c"\n'
    raws = list(profile_rows(path, Profile.from_toml(PLAIN + told, "test")))
    assert sum(len(raw.line) + len(raw.rejected) + raw.outside for raw in raws) == 300
    assert max(len(raw.line) + len(raw.rejected) for raw in raws) <= 60
    assert len(raws) >= 300 * len(row) // 1023
    assert sum(len(raw.notes) for raw in raws) <= 20


def test_reading_goes_on_in_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shaping, "BLOCK_ROWS", 7)
    start = dt.datetime(2026, 11, 2)
    rows = "\n".join(f"{start + dt.timedelta(minutes=n)};P07;{n}" for n in range(100))
    found = strokes(tmp_path, rows)
    assert [row["counter"] for row in found.rows] == list(range(100))
    assert [row["line"] for row in found.rows] == list(range(2, 102))


def test_a_version_is_of_the_text() -> None:
    assert Profile.from_toml(PLAIN, "a").version == Profile.from_toml(PLAIN, "b").version
