"""What a column profile can say: how the files of one logger map onto a table of the data contract.

A profile is a TOML file `profile-NAME.toml`.  It states; it never guesses: a cell that it does not cover is set aside.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, ValidationError, model_validator

from monitor.intake.profiles.faults import explain
from monitor.intake.profiles.parts import (
    Constant,
    Counter,
    Drop,
    Layout,
    Match,
    ProfileColumn,
    ProfilePart,
    Time,
    Unpivot,
    table_name,
    wrong,
)
from shared.errors import RefusedFile
from shared.tables import TABLES

#: What several tables of one profile add to, by name, rather than replace.
_BY_NAME = ("columns", "constants")


def _tables(told: Mapping[str, Any], where: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield what a profile says of each table, with where it says so: what stands above `[[table]]` holds for all."""
    if not isinstance(told.get("table"), list):
        yield where, dict(told)
        return
    if not told["table"]:
        raise RefusedFile(where, "no tables", "[[table]] with a name", "Mend the profile")
    common = {key: value for key, value in told.items() if key != "table"}
    for number, part in enumerate(told["table"], 1):
        at = f"{where}, [[table]] {number}"
        if not isinstance(part, dict) or not isinstance(part.get("name"), str) or "match" in part:
            seen = "a match" if isinstance(part, dict) and "match" in part else "no name"
            raise RefusedFile(at, seen, "name = a table, and keys but match and table", "Mend the profile")
        named = {key: _added(common.get(key, {}), part.get(key, {})) for key in _BY_NAME if key in {*common, *part}}
        yield at, {**common, **part, **named, "table": part["name"]}


def _added(common: object, own: object) -> object:
    """What holds for all tables with what one adds, or what is no table itself, to be told of."""
    if isinstance(common, dict) and isinstance(own, dict):
        return {**common, **own}
    return common if not isinstance(common, dict) else own


class Profile(ProfilePart):
    """A whole profile; `from_toml` is the way in."""

    table: Annotated[str, AfterValidator(table_name)] = Field(
        description="table of the data contract the rows belong to"
    )
    match: Match = Field(default=Match(), description="which files it is for")
    file: Layout = Field(default=Layout(), description="how the file is written")
    constants: dict[str, Constant] = Field(default={}, description="values that stand once for the whole file, by name")
    columns: dict[str, ProfileColumn] = Field(description="columns of the table, by name")
    time: Time = Field(default=Time(), description="how times and dates are written")
    counter: Counter = Field(default=Counter(), description="what the counter column holds")
    unpivot: Unpivot | None = Field(default=None, description="columns that become rows")
    drop_if: tuple[Drop, ...] = Field(default=(), description="rows that are left out")
    name: str = Field(default="", exclude=True, description="name of the profile, from the name of its file")
    also: tuple[Profile, ...] = Field(default=(), exclude=True, description="what the same rows give other tables")
    version: str = Field(default="", exclude=True, description="digest of the text, kept with every load")

    @classmethod
    def from_toml(cls, text: str, name: str, where: str = "") -> Profile:
        """Read a profile from TOML text; raises RefusedFile that names the key and what to write.

        Of several `[[table]]` the first is returned, with the others in `also`.
        """
        where = where or f"profile-{name}.toml"
        try:
            told = tomllib.loads(text)
        except (ValueError, RecursionError) as error:  # Numbers of thousands of digits, lists in lists without end.
            raise RefusedFile(where, str(error), "a TOML file", "Mend the line named here") from None
        if own := sorted({"name", "version", "also"} & set(told)):
            raise RefusedFile(where, f"the key {own[0]!r}", "the name in the name of the file", "Take the key out")
        version = hashlib.sha256(text.encode()).hexdigest()[:12]
        first, *others = [
            cls._one({**part, "version": version, "name": f"{name}[{number}]" if number > 1 else name}, at)
            for number, (at, part) in enumerate(_tables(told, where), 1)
        ]
        return first.model_copy(update={"also": tuple(others)})

    @classmethod
    def _one(cls, told: Mapping[str, Any], where: str) -> Profile:
        try:
            return cls.model_validate(told)
        except ValidationError as error:
            raise explain(where, error, cls) from None

    @property
    def label(self) -> str:
        """Name and version, as kept with a load; a second table of a profile is `NAME[2]`."""
        return f"{self.name} {self.version}"

    @property
    def parts(self) -> tuple[Profile, ...]:
        """This profile and what the same rows give other tables, one for each table."""
        return self, *self.also

    @property
    def made(self) -> frozenset[str]:
        """Names that columns may come from besides the headings of the file."""
        wide = (self.unpivot.name, self.unpivot.value) if self.unpivot else ()
        return frozenset((*self.constants, *wide))

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings the file must have."""
        named = [name for column in self.columns.values() for name in column.source if name not in self.made]
        named += [name for drop in self.drop_if for name in (drop.column, drop.total) if name]
        named += self.unpivot.columns if self.unpivot else ()
        return tuple(dict.fromkeys(named))

    @model_validator(mode="after")
    def _columns_fit_the_table(self) -> Self:
        table = TABLES[self.table]
        if unknown := [name for name in self.columns if name not in table.columns]:
            raise wrong(f"columns of {self.table} ({', '.join(table.columns)}), not {', '.join(unknown)}")
        if missing := [name for name in table.required if name not in self.columns]:
            raise wrong(f"[columns.{missing[0]}] as well: {self.table} needs {', '.join(table.required)}")
        return self

    @model_validator(mode="after")
    def _counter_is_told(self) -> Self:
        if self.counter != Counter() and "counter" not in self.columns:
            raise wrong("[counter] only where there is [columns.counter]")
        if self.counter.kind == "delta" and not (self.counter.period_s or self.time.hour_end):
            raise wrong("period_s in [counter], or hour_end in [time]: how long the period of a delta is")
        if self.counter.kind == "delta" and self.table != "strokes":
            raise wrong('kind = "delta" only for strokes')
        return self
