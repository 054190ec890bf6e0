"""What comes out of reading a file: rows that were taken, rows that were set aside, and why."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from shared.phrases import Phrase, joined

Mask = NDArray[np.bool_]
Whole = NDArray[np.int64]


#: Table and identifier of something that a row refers to.
Ref = tuple[str, str]


@dataclass(frozen=True)
class Rejected:
    """One row set aside.

    `line` is the line of the file (Parquet: the row), 1 = first.  `row` is the row as it came, as JSON: an object
    of column and text, or the bare text where the line could not be cut into cells.  `waits_for` names what is
    referred to and not known, where nothing else stands against the row; one of them arriving makes another try
    worth while.
    """

    line: int
    reason: Phrase
    row: str
    waits_for: tuple[Ref, ...] = ()


@dataclass(frozen=True)
class Mention:
    """Something that a row names and that was not known when it was read, to be looked up once all files are in.

    `value` are the columns `names` of one of the `tables`; the row has the last of them in its column `column`.
    """

    column: str
    tables: tuple[str, ...]
    names: tuple[str, ...]
    value: tuple[str, ...]


@dataclass(frozen=True)
class Batch:
    """A stretch of one file: `read` = rows taken + rows set aside; `outside` rows were left out by a profile.

    `rows` holds the columns of the contract that the file has, in its canonical types, and `line` (int64).
    `notes` are remarks on what was taken all the same, `mentions` what its rows name that may not be known.
    """

    rows: pa.Table
    rejected: list[Rejected]
    read: int
    outside: int = 0
    notes: tuple[str, ...] = ()
    mentions: tuple[Mention, ...] = ()


@dataclass
class Faults:
    """Reasons against rows, by place in the chunk, and what rows wait for."""

    reasons: dict[int, list[Phrase]] = field(default_factory=lambda: defaultdict(list))
    waits: dict[int, list[tuple[Ref, ...]]] = field(default_factory=lambda: defaultdict(list))

    def add(self, mask: Mask, say: Callable[[int], Phrase]) -> None:
        """Hold a reason against every row of the mask."""
        for place in np.flatnonzero(mask).tolist():
            self.reasons[place].append(say(place))

    def wait(self, mask: Mask, say: Callable[[int], Phrase], refs: Callable[[int], tuple[Ref, ...]]) -> None:
        """Let every row of the mask wait for one of the references."""
        for place in np.flatnonzero(mask).tolist():
            self.reasons[place].append(say(place))
            self.waits[place].append(refs(place))

    def places(self) -> Whole:
        """Rows with a reason against them, in order."""
        return np.array(sorted(self.reasons), dtype=np.int64)

    def waits_for(self, place: int) -> tuple[Ref, ...]:
        """What the row waits for, or nothing where something else stands against it as well."""
        waits = self.waits.get(place, [])
        return tuple(ref for refs in waits for ref in refs) if len(waits) == len(self.reasons[place]) else ()


def shown(value: pa.Scalar) -> str | None:
    """A cell as text, None where it is empty; a time that Python has no date for stands as the number it is."""
    if not value.is_valid:
        return None
    try:
        return str(value.as_py())
    except (ValueError, OverflowError, NotImplementedError):
        number = value.cast(pa.int32()) if pa.types.is_date32(value.type) else value.cast(pa.int64())
        return f"{number.as_py()} {getattr(value.type, 'unit', 'days')} since 1970"


def as_row(cells: dict[str, Any]) -> str:
    """A row as it came, as JSON; empty cells are left out."""
    return json.dumps({c: str(v) for c, v in cells.items() if v is not None}, ensure_ascii=False)


def rejected_rows(cells: pa.RecordBatch, line: Whole, faults: Faults) -> list[Rejected]:
    """The rows of a chunk that have a reason against them."""
    places = faults.places()
    came = cells.take(pa.array(places))
    columns = [_as_texts(column) for column in came.columns]
    rows: Iterable[tuple[Any, ...]] = zip(*columns, strict=True) if columns else [()] * len(places)
    return [
        Rejected(
            int(line[place]),
            joined(faults.reasons[place]),
            as_row(dict(zip(came.schema.names, row, strict=True))),
            faults.waits_for(place),
        )
        for place, row in zip(places.tolist(), rows, strict=True)
    ]


def _as_texts(column: pa.Array) -> list[Any]:
    """The cells of a column for a row as it came."""
    if pa.types.is_temporal(column.type):
        return [shown(value) for value in column]
    values: list[Any] = column.to_pylist()
    return values
