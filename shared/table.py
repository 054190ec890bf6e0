"""What an input table is: its columns, key, references and meaning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shared.fields import FIELDS, Field


@dataclass(frozen=True)
class Table:
    """One input table of the data contract; group is `book`, `material` or `event`.

    `recorded_at` is added to every table, and `valid_from` to those of the book, where it is part of the key.
    `refers` names columns whose value must be known in one of the tables given; a row that lacks it waits.
    `mentions` names columns whose value is looked up but may be unknown.  `ordered` lists pairs (from, to) of
    which the first may not lie after the second.  `own` holds columns that mean something else here.

    A table that is `logged` is written by loggers line by line: its rows are many, and its last line may be cut short.
    `sought_by` names further columns by which single rows are looked up.  `moments` names columns of instants: what the
    press of a row did on the days of these may change with the row, and where they are `exact` its pieces are counted
    up to each of them.
    """

    name: str
    group: str
    meaning: str
    key: tuple[str, ...]
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    refers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    mentions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    time: str | None = None
    ordered: tuple[tuple[str, str], ...] = ()
    own: tuple[Field, ...] = ()
    logged: bool = False
    sought_by: tuple[str, ...] = ()
    moments: tuple[str, ...] = ()
    exact: bool = False

    def __post_init__(self) -> None:
        standing: tuple[str, ...] = ("recorded_at",)
        if self.group == "book":
            # A change of the plant book has a date, so the date is part of what names a row.
            object.__setattr__(self, "key", (*self.key, "valid_from"))
            standing = ("valid_from", "recorded_at")
        object.__setattr__(self, "optional", (*self.optional, *standing))

    @property
    def columns(self) -> tuple[str, ...]:
        """All column names, required ones first."""
        return self.required + self.optional

    @property
    def names(self) -> tuple[str, ...]:
        """The columns of the key that name a thing, whichever days its rows hold from."""
        return tuple(column for column in self.key if column != "valid_from")

    @property
    def id_column(self) -> str:
        """The column other tables refer to this one by."""
        return self.key[0]

    def field(self, column: str) -> Field:
        """The definition of a column as it stands in this table; KeyError for a column it does not have."""
        if column not in self.columns:
            raise KeyError(column)
        return next((own for own in self.own if own.name == column), None) or FIELDS[column]
