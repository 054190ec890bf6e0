import json
import math
from contextlib import suppress
from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake import Source, find_files, read, reread
from monitor.intake.csv import text_blocks
from shared.arrow import arrow_schema
from shared.errors import RefusedFile
from shared.fields import Field, Kind
from shared.table import Table
from shared.tables import TABLES
from tests.intake.taking import KNOWN, Taken, take, take_file, utc

T = "2026-11-02T06:00:00Z"
SAMPLE = {Kind.TIME: T, Kind.DATE: "2026-11-02", Kind.FLAG: "true"}
REFERENCE = {
    "press_id": "P07", "die_id": "D-12", "coil_id": "C-1", "part_no": "bracket", "reason": "BRK",
    "inspection_id": "I-1", "container_id": "T-1", "from_container": "T-1", "to_container": "T-2", "kind": "setup",
}  # fmt: skip


def sample(field: Field) -> str:
    if field.name in REFERENCE and not (field.choices and REFERENCE[field.name] not in field.choices):
        return REFERENCE[field.name]
    return field.choices[0] if field.choices else SAMPLE.get(field.kind) or str(number(field))


def number(field: Field) -> int:
    """1, or the number in the field's range that is next to it."""
    low, high = (1 if end is None else end for end in (field.low, field.high))
    return math.ceil(max(low, min(1, high)))


def full_row(table: Table) -> dict[str, str]:
    """A row with every column filled."""
    return {name: sample(table.field(name)) for name in table.columns}


def as_csv(table: Table, rows: list[dict[str, str]]) -> str:
    return "".join(",".join(row) + "\n" for row in [list(table.columns), *(list(row.values()) for row in rows)])


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_every_table_takes_a_full_row_and_one_with_only_what_is_required(tmp_path: Path, table: Table) -> None:
    full = full_row(table)
    bare = {name: value if name in table.required else "" for name, value in full.items()}
    if table.name == "inspections":
        full |= {"kind": "full"}
        bare |= {"kind": "tub", "rejected": "0"}
    taken = take(tmp_path, f"{table.name}.csv", as_csv(table, [full, bare]))
    assert taken.reasons == {}
    assert taken.schema == arrow_schema(table).append(pa.field("line", pa.int64()))
    assert [name for name, value in taken.rows[1].items() if value is None] == [
        name for name in table.columns if not bare[name]
    ]


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_every_required_cell_is_missed(tmp_path: Path, table: Table) -> None:
    rows = [full_row(table) | {name: ""} for name in table.required]
    taken = take(tmp_path, f"{table.name}.csv", as_csv(table, rows))
    for line, name in enumerate(table.required, 2):
        assert f"{name} is empty" in taken.reasons[line]


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_every_cell_that_cannot_be_taken_is_named_with_what_was_expected(tmp_path: Path, table: Table) -> None:
    checked = [n for n in table.columns if table.field(n).kind is not Kind.TEXT or table.field(n).choices]
    rows = [full_row(table) | {name: "?!"} for name in checked]
    taken = take(tmp_path, f"{table.name}.csv", as_csv(table, rows))
    for line, name in enumerate(checked, 2):
        assert f"{name} is '?!', expected {table.field(name).expected()}" in taken.reasons[line]
        assert json.loads(next(one.row for one in taken.rejected if one.line == line))[name] == "?!"


def test_only_the_columns_the_file_has_come_out(tmp_path: Path) -> None:
    taken = take(tmp_path, "presses.csv", "name,press_id\nBig,P07\n")
    assert taken.rows == [{"press_id": "P07", "name": "Big", "line": 2}]


def test_a_refused_source_says_why(tmp_path: Path) -> None:
    (tmp_path / "plant.toml").write_text("")
    (tmp_path / "counters.csv").write_text("")
    for source in find_files([tmp_path]):
        with pytest.raises(RefusedFile, match=source.path.name):
            list(read(source, zone="UTC", known={}))


def test_hostile_text_is_only_text(tmp_path: Path) -> None:
    cells = ["=HYPERLINK(1)", "<script>alert(1)</script>", "../../etc/passwd", "@SUM(A1)", "'; DROP TABLE strokes; --"]
    taken = take(tmp_path, "causes.csv", "cause\n" + "".join(f"{cell}\n" for cell in cells))
    assert taken.column("cause") == cells


def test_a_batch_of_a_large_file_is_one_block(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(text_blocks, "BLOCK_BYTES", 2000)
    rows = "".join(f"2026-11-02T06:{n // 60:02d}:{n % 60:02d}Z,P07,{n}\n" for n in range(600))
    taken = take(tmp_path, "strokes.csv", "time,press_id,counter\n" + rows)
    assert taken.column("counter") == list(range(600))
    assert taken.lines == list(range(2, 602))
    assert 8 < taken.batches < 15


def test_rows_set_aside_are_taken_once_what_they_lacked_is_there(tmp_path: Path) -> None:
    path = tmp_path / "strokes.csv"
    path.write_text(
        "time,press_id,counter\n2026-10-25 02:50,P99,100\n2026-10-25 02:10,P99,110\n2026-11-02T06:00Z,P07,x\n"
    )
    first = take_file(path)
    assert [one.waits_for for one in first.rejected] == [(("presses", "P99"),), (("presses", "P99"),), ()]
    waiting = [(one.line, one.row) for one in first.rejected]
    again = reread("strokes", waiting, zone="Europe/Berlin", known=KNOWN | {"presses": frozenset({"P99", "P07"})})
    assert [(row["line"], row["time"], row["counter"]) for row in again.rows.to_pylist()] == [
        (2, utc("2026-10-25T00:50"), 100), (3, utc("2026-10-25T01:10"), 110),
    ]  # fmt: skip
    assert [(one.line, one.row) for one in again.rejected] == waiting[2:]
    assert again.read == 3


def test_rows_of_parquet_files_can_be_looked_at_again(tmp_path: Path) -> None:
    rows = [(7, '{"time": "2026-11-02 06:00:00+00:00", "press_id": "P07", "counter": "5"}')]
    again = reread("strokes", rows, zone="Europe/Berlin", known=KNOWN)
    assert again.rows.to_pylist() == [{"time": utc("2026-11-02T06:00"), "press_id": "P07", "counter": 5, "line": 7}]


@pytest.mark.parametrize("text", ['"a,b"', "[1]", "not JSON", "null", "{"])
def test_a_row_that_was_never_cut_into_cells_stays_set_aside(text: str) -> None:
    again = reread("strokes", [(3, text)], zone="UTC", known=KNOWN)
    assert (again.rows.num_rows, again.read) == (0, 1)
    assert [(one.line, one.row) for one in again.rejected] == [(3, text)]


def test_a_mended_row_may_lack_cells_and_hold_numbers() -> None:
    again = reread(
        "strokes", [(3, f'{{"time": "{T}", "press_id": "P07", "counter": 5}}'), (4, "{}")], zone="UTC", known=KNOWN
    )
    assert again.rows.column("counter").to_pylist() == [5]
    assert "time is empty" in again.rejected[0].reason


GOOD = [
    "2026-10-25T00:50:00Z,P07,100,a", "2026-10-25 02:10:00,P07,110,", '2026-10-25 02:50,P08,5,"b\nc"',
    "2026-11-02 06:00,P08,6.0,x", '"2026-11-02T06:01:00+01:00","P07","120","y"', "2026-03-29 02:30,P07,3,z",
    "2026-11-02T06:00Z,P99,7,", "2026-11-02T06:00Z,P07,4.2E+11,", ",,,", "", "x", '"', "2026-11-02T06:00Z,P07",
]  # fmt: skip
LINE = st.one_of(st.sampled_from(GOOD), st.text(st.sampled_from('0123456789:-TZP7,;" \r\té\x00'), max_size=20))


def records_in(text: str) -> int:
    return sum(1 for line in text.split("\n")[1:] if line.removesuffix("\r"))


@settings(deadline=None, max_examples=400)
@given(st.lists(LINE, max_size=12), st.booleans(), st.sampled_from(["\n", "\r\n"]))
def test_whatever_the_file_holds_the_rows_add_up_or_the_file_is_refused(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str], ended: bool, line_end: str
) -> None:
    text = line_end.join(["time,press_id,counter,note", *lines]) + (line_end if ended else "")
    folder = tmp_path_factory.mktemp("r")
    try:
        taken: Taken = take(folder, "strokes.csv", text)
    except RefusedFile:
        # Only text that is not plain text is refused.
        assert "\0" in text
        return
    assert len(taken.rows) + len(taken.rejected) <= records_in(text)
    physical = text.split("\n")
    for row in taken.rows:
        assert row["press_id"] in physical[row["line"] - 1]
        assert str(row["counter"]) in physical[row["line"] - 1]
    assert all(one.reason for one in taken.rejected)
    if '"' not in text and "\r" not in text.replace("\r\n", "\n"):
        # Without quotes every line that is not blank is one row, taken or set aside.
        came_out = {row["line"] for row in taken.rows} | {one.line for one in taken.rejected}
        filled = {n for n, line in enumerate(physical, 1) if n > 1 and line.removesuffix("\r")}
        assert {n for n in filled if physical[n - 1].strip()} <= came_out <= filled


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_damage_anywhere_in_a_file_never_raises_anything_but_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    whole = ("\ufeff" + "\r\n".join(["time,press_id,counter,note", *GOOD]) + "\r\n").encode()
    start = data.draw(st.integers(0, len(whole)))
    damaged = whole[:start] + data.draw(st.binary(max_size=4)) + whole[start + data.draw(st.integers(0, 40)) :]
    folder = tmp_path_factory.mktemp("d")
    name = data.draw(st.sampled_from(["strokes.csv", "strokes.parquet", "stops.csv"]))
    with suppress(RefusedFile):
        take(folder, name, damaged)


def test_a_source_may_be_made_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "anything.txt"
    path.write_text(f"time,press_id,counter\n{T},P07,1\n")
    [batch] = read(Source(path, "strokes", "csv"), zone="UTC", known=KNOWN)
    assert batch.rows.num_rows == 1
