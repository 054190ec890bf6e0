"""Sound files of several tables and formats, and the ways in which they are damaged."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
from hypothesis import strategies as st

from tests.invented.small import PLANT

HOSTILE = (
    b"", b"\0", b'"', b'""', b"'", b",", b";", b"\t", b"\n", b"\r", b"\r\n", b"\n\n", b"\xef\xbb\xbf",
    b"\xff\xfe", b"\x1a", b"\xe4", b"\xc3\x28", b"\xed\xa0\x80", "\u202eP07".encode(),
    "\u200fP07\u2028".encode(), "٤٨١٢".encode(), b"<script>alert(1)</script>", b"=HYPERLINK(1)",
    b"=cmd|' /C calc'!A0", b"@SUM(A1)", b"../../etc/passwd", b"..\\..\\x", b"'; DROP TABLE strokes; --",
    b"${jndi:x}", b"%s%n", b"{0}", b"NaN", b"inf", b"-inf", b"1e309", b"-1", b"0x10", b"9223372036854775807",
    b"9223372036854775808", b"99999999999999999999", b"4.21E+11", b"4,812.5", b"1_000", b"0001-01-01T00:00",
    b"9999-12-31T23:59:59Z", b"2026-02-29T00:00", b"2026-03-29T02:30", b"2026-10-25T02:30", b"24:00",
    b"2026-11-02T24:00", b"2026-11-02T06:00+99:99", b"true", b"None", b"x" * 5000, b"," * 300, b"\n" * 300,
    b"9999-12-31T24:00", b"9999-12-31T23:59-23:59", b"0001-01-01T00:00+14:00", b"0000-00-00", b"10000-01-01T00:00Z",
    b"2099-01-01T00:00Z", b"1990-01-01T00:00Z", b"9" * 5000, b"1;" + b"9" * 5000, b"1e-400", b"-0", b"\xff\xfe\0\0",
    b"\0\0\xfe\xff", b"\x1b]0;x\x07", b"\x1b[2J", "\u2066=1\u2069".encode(),
)  # fmt: skip

ROWS = {
    "strokes": {
        "time": ["2026-11-02T06:00:00Z", "2026-11-02T06:00:00Z", "2026-11-02 07:01", "2026-10-25 02:10"],
        "press_id": ["P07", "P08", "P07", "P07"],
        "counter": [1, 2, 3, 4],
        "feeds": [1, None, 3, 4],
    },
    "stops": {
        "press_id": ["P07", "P07", "P08"],
        "start_at": ["2026-11-02T06:00:00Z", "2026-11-02T08:00:00Z", "2026-11-02T06:00:00Z"],
        "end_at": ["2026-11-02T06:10:00Z", None, "2026-11-02T06:30:00Z"],
        "reason": ["BRK", "JAM", "a, b\n\"c\""],
    },
    "inspections": {
        "inspection_id": ["I-1", "I-1", "I-2"],
        "time": ["2026-11-02T06:00:00Z"] * 3,
        "press_id": ["P07"] * 3,
        "kind": ["full", "full", "tub"],
        "inspected": [10, 10, None],
        "cause": ["BUR", "SLG", "BUR"],
        "rejected": [3, 4, 5],
    },
    "parts": {
        "part_no": ["bracket", "clip"],
        "net_weight_g": [6.5, 1.25],
        "valid_from": ["2026-01-01", None],
        "name": ["Bracket, left", "=1+1"],
    },
    "presses": {"press_id": ["P07", "P08", "P09"], "rated_spm": [200.0, 1.5, None]},
}  # fmt: skip


@dataclass(frozen=True)
class Damaged:
    """A file as it comes: its name and its bytes."""

    name: str
    data: bytes


def _csv(table: str) -> bytes:
    sink = io.BytesIO()
    pacsv.write_csv(pa.table(ROWS[table]), sink)
    return sink.getvalue()


def _parquet(table: str, checksum: bool, compression: str, group: int) -> bytes:
    sink = io.BytesIO()
    rows = pa.table(ROWS[table])
    pq.write_table(
        rows, sink, compression=compression, write_page_checksum=checksum, row_group_size=group, data_page_size=64
    )
    return sink.getvalue()


def _odd_column(kind: pa.DataType, width: pa.DataType, number: int) -> Callable[[pa.Table, str], pa.Table]:
    """Another value, as the bits of its type give it, in every row of a column: times and dates that nobody has."""

    def put(rows: pa.Table, name: str) -> pa.Table:
        numbers = pa.array([number] * len(rows), width)
        column = pa.Array.from_buffers(kind, len(rows), [None, numbers.buffers()[1]])
        return rows.set_column(rows.column_names.index(name), name, column)

    return put


def _other_type(kind: pa.DataType) -> Callable[[pa.Table, str], pa.Table]:
    """Nothing at all in a column, of a type that the contract does not have there."""

    def put(rows: pa.Table, name: str) -> pa.Table:
        return rows.set_column(rows.column_names.index(name), name, pa.nulls(len(rows), kind))

    return put


def _twice(rows: pa.Table, name: str) -> pa.Table:
    return rows.append_column(name, rows[name])


def _no_rows(rows: pa.Table, _name: str) -> pa.Table:
    return rows[:0]


DIALECTS = Path(__file__).parents[1] / "intake" / "dialects"

SOUND = {
    **{f"{table}-1.csv": _csv(table) for table in ROWS},
    **{
        f"{table}-{number}.parquet": _parquet(table, *told)
        for table in ROWS
        for number, told in enumerate([(True, "snappy", 100), (False, "none", 2), (False, "zstd", 100)])
    },
    "plant.toml": PLANT.encode(),
    **{path.name: path.read_bytes() for path in DIALECTS.iterdir() if path.suffix != ".toml"},
}

Damage = Callable[[bytes], bytes]


def _put_in(place: float, width: int, what: bytes) -> Damage:
    def damage(data: bytes) -> bytes:
        at = int(place * len(data))
        return data[:at] + what + data[at + width :]

    return damage


def _cell(place: float, what: bytes) -> Damage:
    """Another value in the place of a cell, in quotes where it needs them."""

    def damage(data: bytes) -> bytes:
        lines = data.split(b"\n")
        row = int(place * len(lines))
        cells = lines[row].split(b",")
        at = int(place * 1009) % len(cells)
        cells[at] = b'"' + what.replace(b'"', b'""') + b'"' if b"," in what or b"\n" in what else what
        lines[row] = b",".join(cells)
        return b"\n".join(lines)

    return damage


def _repeat(place: float, times: int) -> Damage:
    def damage(data: bytes) -> bytes:
        lines = data.split(b"\n")
        row = int(place * len(lines))
        return b"\n".join(lines[:row] + [lines[row]] * times + lines[row + 1 :])

    return damage


PLACE = st.floats(0, 1, exclude_max=True)
WHAT = st.one_of(st.sampled_from(HOSTILE), st.binary(max_size=6), st.text(max_size=4).map(lambda t: t.encode()))
DAMAGES: st.SearchStrategy[Damage] = st.one_of(
    st.builds(_put_in, PLACE, st.integers(0, 40), WHAT),
    st.builds(_put_in, PLACE, st.just(1), st.binary(min_size=1, max_size=1)),
    st.builds(_cell, PLACE, WHAT),
    st.builds(_repeat, PLACE, st.integers(0, 30)),
    st.builds(lambda place: lambda data: data[: int(place * len(data))], PLACE),
    st.sampled_from([lambda d: d.decode("utf-8", "replace").encode("utf-16"), lambda d: d.replace(b"\n", b"\r\n")]),
)


_ENDS = (0, -1, 2**63 - 1, -(2**63), 253_402_300_800 * 10**6, -62_135_596_801 * 10**6, 4_070_908_800 * 10**3)
_STAMPS = [pa.timestamp(unit, zone) for unit in ("ms", "us", "ns") for zone in (None, "UTC", "Europe/Berlin", "Mars/X")]
_TYPES = [
    pa.list_(pa.int64()), pa.struct([("time", pa.int64())]), pa.map_(pa.string(), pa.int64()), pa.decimal256(70, 2),
    pa.binary(), pa.bool_(), pa.duration("s"), pa.time64("us"), pa.float16(), pa.uint64(), pa.null(), pa.date32(),
    pa.dictionary(pa.int32(), pa.string()), pa.large_string(),
]  # fmt: skip
#: What is put into a column of a Parquet file before it is written.
ODD_COLUMNS = st.one_of(
    st.builds(_odd_column, st.sampled_from(_STAMPS), st.just(pa.int64()), st.sampled_from(_ENDS)),
    st.builds(_odd_column, st.sampled_from([pa.float64(), pa.uint64(), pa.date64()]), st.just(pa.int64()),
              st.sampled_from(_ENDS)),
    st.builds(_odd_column, st.just(pa.date32()), st.just(pa.int32()),
              st.sampled_from([0, 2**31 - 1, -(2**31), 2_932_897, 47_482])),
    st.builds(_other_type, st.sampled_from(_TYPES)),
    st.sampled_from([_twice, _no_rows]),
)  # fmt: skip


def _odd_parquet(table: str, place: float, put: Callable[[pa.Table, str], pa.Table]) -> Damaged:
    """A sound table but for one column."""
    rows = pa.table(ROWS[table])
    sink = io.BytesIO()
    pq.write_table(put(rows, rows.column_names[int(place * rows.num_columns)]), sink)
    return Damaged(f"{table}-odd.parquet", sink.getvalue())


#: Names under which a file may come; the last is no text.
NAMES = ("{}", "{}", "{}", "-{}", "x\n{}", "strokes-\x1b]0;x\x07{}", os.fsdecode(b"strokes-\xff") + "{}")


def _damaged(name: str, damages: list[Damage], also: str, named: str) -> Damaged:
    data = SOUND[name]
    for damage in damages:
        data = damage(data)
    return Damaged(named.format(also or name), data)


_TEXTS = sorted(name for name in SOUND if not name.endswith((".parquet", ".toml")))
_OTHERS = sorted(name for name in SOUND if name.endswith(".parquet"))

_BROKEN = st.builds(
    _damaged,
    st.one_of(st.sampled_from(_TEXTS), st.sampled_from(_TEXTS), st.sampled_from(_OTHERS)),
    st.lists(DAMAGES, min_size=1, max_size=3),
    st.one_of(*[st.just("")] * 9, st.sampled_from(sorted(SOUND))),
    st.one_of(*[st.just("{}")] * 9, st.sampled_from(NAMES)),
)
_PLANTS = st.builds(
    lambda damages, name: Damaged(name, _damaged(name, damages, "", "{}").data),
    st.lists(DAMAGES, min_size=1, max_size=2),
    st.just("plant.toml"),
)
_ODD = st.builds(_odd_parquet, st.sampled_from(sorted(ROWS)), PLACE, ODD_COLUMNS)

#: Damaged files, half of them text; some bear the name of another table or format, or one that is no text.
FILES = st.one_of(_BROKEN, _BROKEN, _BROKEN, _ODD, _PLANTS)
