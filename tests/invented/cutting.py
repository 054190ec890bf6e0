"""Cuts the files of a plant into parts at random rows, to be loaded in any order."""

from __future__ import annotations

import csv
import itertools
import random
from pathlib import Path

import pyarrow.parquet as pq


def cut_up(folder: Path, into: Path, dice: random.Random) -> list[list[Path]]:
    """Cut every file of a plant into parts at random rows; plant.toml first, the rest in random loads of a few."""
    into.mkdir()
    parts = [part for file in sorted(folder.iterdir()) for part in _cut(file, into, dice)]
    dice.shuffle(parts)
    loads = [[folder / "plant.toml"]]
    while parts:
        size = dice.randint(1, max(1, len(parts) // 2))
        loads.append(parts[:size])
        parts = parts[size:]
    return loads


def _cut(file: Path, into: Path, dice: random.Random) -> list[Path]:
    if file.suffix == ".csv":
        return _cut_csv(file, into, dice)
    if file.suffix == ".parquet":
        table = pq.read_table(file)
        at = dice.randint(0, table.num_rows)
        paths = [into / f"{file.stem}-{part}.parquet" for part in range(2)]
        pq.write_table(table.slice(0, at), paths[0])
        pq.write_table(table.slice(at), paths[1])
        return paths
    return []


def _cut_csv(file: Path, into: Path, dice: random.Random) -> list[Path]:
    with file.open(encoding="utf-8", newline="") as source:
        header, *rows = list(csv.reader(source))
    cuts = sorted({0, len(rows), *(dice.randint(0, len(rows)) for _ in range(dice.randint(0, 2)))})
    paths = []
    for number, (first, last) in enumerate(itertools.pairwise(cuts)):
        path = into / f"{file.stem}-{number}.csv"
        with path.open("w", encoding="utf-8", newline="") as sink:
            csv.writer(sink).writerows([header, *rows[first:last]])
        paths.append(path)
    return paths
