"""Gives everything in a plant another name: plain ones, or ones with every sign that an identifier may hold."""

from __future__ import annotations

import csv
import json
import random
import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from shared.tables import TABLES

ALPHABET = [*";;''\"\",|:%_\\@=+-#/<&>{}()[] ", *"abXY0179", *"äöüßÅéñ각", *"冲压プレス", *"⚙🔧µ²№"]
_TOKEN = re.compile(r"Q\d{5}Q")
#: Columns that are no identifiers but name things all the same.
_NAMES = ("customer", "supplier")


def renamed(text: str, names: Mapping[str, str]) -> str:
    """A text in which each plain name is replaced by the odd one that stands for it."""
    return _TOKEN.sub(lambda found: names[found[0]], text)


class Renaming:
    """Two copies of the plant in a folder: `plain`, and `odd`, where `names` says what each plain name became."""

    def __init__(self, folder: Path, into: Path, dice: random.Random) -> None:
        held = sorted(_held(folder))
        odd = _odd_names(len(held), dice)
        tokens = [f"Q{number:05}Q" for number in range(len(held))]
        self.names = dict(zip(tokens, odd, strict=True))
        self.plain, self.odd = into / "plain", into / "odd"
        _copy(folder, self.plain, dict(zip(held, tokens, strict=True)), lambda name, _table: name)
        _copy(folder, self.odd, dict(zip(held, odd, strict=True)), _composed)

    def late_book(self) -> list[Path]:
        """The files with odd names, those of the plant book after all others."""
        return sorted(self.odd.iterdir(), key=lambda file: (_group(file), file.name))


def _group(file: Path) -> int:
    table = TABLES.get(re.split(r"[-.]", file.name, maxsplit=1)[0])
    # Without its plant.toml nobody knows of which zone the times are.
    return 0 if table is None else {"event": 1, "material": 2, "book": 3}[table.group]


def _composed(name: str, table: str) -> str:
    """The name as another computer writes it: tables whose name is of even length come from a Mac."""
    return unicodedata.normalize("NFC" if len(table) % 2 else "NFD", name)


def _odd_names(count: int, dice: random.Random) -> list[str]:
    names: set[str] = set()
    while len(names) < count:
        name = "".join(dice.choice(ALPHABET) for _ in range(dice.randint(1, 6)))
        name = unicodedata.normalize("NFC", name.strip())
        if name and not re.fullmatch(r"[\d.,+-]*|\?", name):
            names.add(name)
    # Rows are in order of their names, so the order must be the same.
    return sorted(names)


def _named(table: str) -> set[str]:
    contract = TABLES[table]
    return {name for name in contract.columns if contract.field(name).identifier or name in _NAMES}


def _cells(file: Path) -> tuple[str, list[str], Iterator[dict[str, str]]]:
    table = re.split(r"[-.]", file.name, maxsplit=1)[0]
    if file.suffix == ".parquet":
        rows = pq.read_table(file)
        return table, rows.column_names, iter(rows.to_pylist())
    with file.open(encoding="utf-8", newline="") as source:
        found = csv.DictReader(source)
        return table, list(found.fieldnames or []), iter(list(found))


def _held(folder: Path) -> set[str]:
    names: set[str] = set()
    for file in folder.iterdir():
        if file.suffix == ".toml":
            plant = tomllib.loads(file.read_text("utf-8"))
            names |= {shift["name"] for shift in plant.get("shift", [])}
            names |= {press for shift in plant.get("shift", []) for press in shift.get("presses", [])}
            continue
        table, _, rows = _cells(file)
        wanted = _named(table)
        names |= {str(row[name]) for row in rows for name in wanted if row.get(name) not in (None, "")}
    return names


def _copy(folder: Path, into: Path, names: Mapping[str, str], written: Callable[[str, str], str]) -> None:
    into.mkdir(parents=True)
    for file in folder.iterdir():
        if file.suffix == ".toml":
            text = re.sub(r'"([^"]*)"', lambda found: json.dumps(names.get(found[1], found[1]), ensure_ascii=False),
                          file.read_text("utf-8"))  # fmt: skip
            (into / file.name).write_text(text, "utf-8")
            continue
        table, heads, rows = _cells(file)
        wanted = _named(table)
        changed = [
            {
                head: written(names[str(cell)], table) if head in wanted and cell not in (None, "") else cell
                for head, cell in row.items()
            }
            for row in rows
        ]
        if file.suffix == ".parquet":
            schema = pq.read_schema(file)
            kinds = {head: pa.string() if head in wanted else schema.field(head).type for head in heads}
            columns = {head: pa.array([row[head] for row in changed], kinds[head]) for head in heads}
            pq.write_table(pa.table(columns), into / file.name)
            continue
        with (into / file.name).open("w", encoding="utf-8", newline="") as sink:
            writer = csv.DictWriter(sink, heads)
            writer.writeheader()
            writer.writerows(changed)
