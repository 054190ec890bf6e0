import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.chunk import Raw
from monitor.intake.csv import rows as csv_module
from monitor.intake.csv import text_blocks as blocks_module
from monitor.intake.csv.rows import csv_rows
from monitor.intake.csv.text_blocks import Block
from shared.errors import RefusedFile
from shared.tables import TABLES
from tests.intake.taking import take

HEAD = "time,press_id,counter\n"


def raws(folder: Path, text: str, table: str = "causes") -> list[Raw]:
    path = folder / f"{table}.csv"
    path.write_bytes(text.encode())
    return list(csv_rows(path, TABLES[table]))


def rows_of(raw: Raw) -> list[tuple[int, tuple[str | None, ...]]]:
    return [(line, tuple(row.values())) for line, row in zip(raw.line.tolist(), raw.cells.to_pylist(), strict=True)]


def test_lines_are_true_through_blank_lines_and_quoted_line_ends(tmp_path: Path) -> None:
    text = 'cause,name\r\n\r\nBUR,"burr,\r\ntoo ""high"""\r\n\r\nSLG,slug\r\nMSF,"x"\r\n'
    [raw] = raws(tmp_path, text)
    assert rows_of(raw) == [(3, ("BUR", 'burr,\r\ntoo "high"')), (6, ("SLG", "slug")), (7, ("MSF", "x"))]


def test_a_row_of_another_width_is_set_aside_alone(tmp_path: Path) -> None:
    [raw] = raws(tmp_path, "cause,name\nBUR,burr\nSLG\nMSF,a,b\nHOL,hole,,\nSNB,x\n")
    assert rows_of(raw) == [(2, ("BUR", "burr")), (5, ("HOL", "hole")), (6, ("SNB", "x"))]
    assert [(one.line, one.reason, one.row) for one in raw.rejected] == [
        (3, "the row is 1 cells wide, expected 2 as in the header", '"SLG"'),
        (4, "the row is 3 cells wide, expected 2 as in the header", '"MSF,a,b"'),
    ]


def test_a_quote_that_is_never_closed_costs_its_own_line_only(tmp_path: Path) -> None:
    [raw] = raws(tmp_path, 'cause,name\nBUR,"burr\nSLG,slug\nMSF,5" pipe\nHOL,"a"\n')
    assert rows_of(raw) == [(3, ("SLG", "slug")), (4, ("MSF", '5" pipe')), (5, ("HOL", "a"))]
    [rejected] = raw.rejected
    assert rejected.line == 2
    assert "quote" in rejected.reason


def test_old_line_ends_inside_a_line_do_not_move_the_lines(tmp_path: Path) -> None:
    [raw] = raws(tmp_path, "cause,name\nBUR,a\rSLG,b\n\nMSF,c\n")
    assert rows_of(raw) == [(4, ("MSF", "c"))]
    assert [one.line for one in raw.rejected] == [2]


def test_empty_cells_are_missing(tmp_path: Path) -> None:
    [raw] = raws(tmp_path, 'cause,name\nBUR,""\nSLG,\n,\n')
    assert rows_of(raw) == [(2, ("BUR", None)), (3, ("SLG", None)), (4, (None, None))]


@pytest.mark.parametrize("text", ["cause,name\n", "cause,name", "\ufeffcause,name\r\n", "\n\ncause,name\n\n"])
def test_a_header_alone_gives_no_rows(tmp_path: Path, text: str) -> None:
    [raw] = raws(tmp_path, text)
    assert rows_of(raw) == []
    assert raw.cells.schema.names == ["cause", "name"]


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("", "no rows at all"),
        ("\n\n", "no rows at all"),
        ("cause,name,name\nBUR,a,b\n", "name more than once"),
        ("Cause,name\nBUR,a\n", "the headings 'Cause,name'"),
        ("cause;name\nBUR;a\n", "the headings 'cause;name'"),
    ],
)
def test_a_file_without_the_headings_is_refused(tmp_path: Path, text: str, seen: str) -> None:
    with pytest.raises(RefusedFile) as caught:
        raws(tmp_path, text)
    assert seen in caught.value.seen


def test_refusal_names_every_missing_heading(tmp_path: Path) -> None:
    with pytest.raises(RefusedFile, match="to have press_id, counter as well"):
        raws(tmp_path, "time,press\n", "strokes")


def test_columns_the_table_does_not_have_are_named_and_unnamed_ones_are_not(tmp_path: Path) -> None:
    [raw] = raws(tmp_path, " cause ,name,shift,\nBUR,a,B,\n")
    assert raw.ignored == ("shift",)
    assert rows_of(raw) == [(2, ("BUR", "a", "B", None))]


@pytest.mark.parametrize("quote", ["", '"'])
@pytest.mark.parametrize("bad", ["C1234\n", 'C1234,"x\n', 'C12"34\n'])
def test_a_bad_line_does_not_slow_the_lines_around_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, quote: str, bad: str
) -> None:
    monkeypatch.setattr(csv_module, "_PIECE_BYTES", 200)
    monkeypatch.setattr(csv_module, "_MOST_LINES_A_ROW", 10)
    looked_at: list[int] = []
    row_by_row = csv_module._row_by_row
    monkeypatch.setattr(
        csv_module, "_row_by_row", lambda block, names: looked_at.append(len(block.data)) or row_by_row(block, names)
    )
    lines = [f"{quote}C{n}{quote},{quote}cause number {n}{quote}\n" for n in range(2000)]
    lines[1234] = bad
    found = raws(tmp_path, "cause,name\n" + "".join(lines))
    assert [one.line for raw in found for one in raw.rejected] == [1236]
    assert [line for raw in found for line in raw.line.tolist()] == [n for n in range(2, 2002) if n != 1236]
    assert sum(looked_at) < 800


PIECES = ['"', 'a,"b', 'c"', '"a', 'a,"b"', '"a""",b', "", "a", "a,b,c", 'd",e', '"a,b', '",b"']
ROW = st.text(st.sampled_from("ab,5"), max_size=6)


@settings(deadline=None, max_examples=300)
@given(st.lists(st.one_of(st.sampled_from(PIECES), ROW), min_size=20, max_size=60), st.integers(1, 4))
def test_a_block_in_pieces_gives_what_it_gives_as_a_whole(lines: list[str], most: int) -> None:
    block = Block("".join(line + "\n" for line in lines).encode(), 7)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_module, "_PIECE_BYTES", 10)
        patch.setattr(csv_module, "_MOST_LINES_A_ROW", most)
        cut, whole = csv_module._cut(block, ("a", "b")), csv_module._row_by_row(block, ("a", "b"))
    assert rows_of(cut) == rows_of(whole)
    assert cut.rejected == whole.rejected


CELL = st.text(st.sampled_from('ab", \n5é'), max_size=5)


def write(rows: list[list[str]], line_end: str, quoting: int) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator=line_end, quoting=quoting).writerows([["cause", "name"], *rows])  # type: ignore[arg-type]
    return out.getvalue()


@settings(deadline=None, max_examples=150)
@given(
    st.lists(st.lists(CELL, min_size=2, max_size=2), max_size=8),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    st.integers(60, 200),
)
def test_what_was_written_as_rfc_4180_is_read_back_at_its_lines_in_blocks_of_any_size(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], line_end: str, quoting: int, size: int
) -> None:
    text = write(rows, line_end, quoting)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(blocks_module, "BLOCK_BYTES", size)
        found = [row for raw in raws(tmp_path_factory.mktemp("c"), text) for row in rows_of(raw)]
    line, expected = 2, []
    for row in rows:
        expected.append((line, tuple(cell or None for cell in row)))
        line += write([row], line_end, quoting).count("\n") - 1
    assert found == expected


@settings(deadline=None, max_examples=300)
@given(st.lists(st.text(st.sampled_from('ab",5é\r '), max_size=8), max_size=6))
def test_a_block_through_arrow_gives_what_it_gives_row_by_row(lines: list[str]) -> None:
    block = Block("".join(line + "\n" for line in lines).encode(), 7)
    quick = csv_module._line_by_row(block, ("a", "b"))
    slow = csv_module._row_by_row(block, ("a", "b"))
    if quick:
        assert rows_of(quick) == rows_of(slow)
        assert slow.rejected == []


def test_a_whole_last_line_without_end_is_taken(tmp_path: Path) -> None:
    taken = take(tmp_path, "strokes.csv", HEAD + "2026-11-02T06:00Z,P07,100\n2026-11-02T06:01Z,P07,160")
    assert taken.column("counter") == [100, 160]
    assert taken.batches == 1
