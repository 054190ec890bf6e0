"""How a plant's rows reach the product: in files of any order, corrected, repeated, with rows that hold only later."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd

from sample_runs.simulate import files
from tests.invented.jobs import Dice

Row = dict[str, str]

#: What a first version of a row said otherwise; nothing here decides which other rows are taken.
CORRECTED: Mapping[str, Mapping[str, Sequence[str]]] = {
    "coils": {"weight_kg": ("777", "1234.5"), "supplier": ("nobody",)},
    "parts": {"net_weight_g": ("0.1", "0.4")},
    "dies": {"pitch_mm": ("99", "7")},
    "coil_changes": {"lost_m": ("3.5",)},
    "die_changes": {"order_id": ("another",)},
    "stops": {"reason": ("PUN", "LUB")},
    "inspections": {"rejected": ("0",)},
    "containers": {"quantity": ("1", "7")},
    "repacks": {"quantity": ("1",)},
    "shipments": {"customer": ("Gate Works", "Porch 'n' Step"), "shipped_at": ("2026-09-01",)},
    "dispositions": {"pieces": ("1",)},
}
#: Rows of the plant book that hold from some day on; the columns are changed against the row that holds now.
LATER: Mapping[str, Row] = {
    "presses": {"rated_spm": "300", "lead_in_mm": "123", "stop_after_s": "999"},
    "dies": {"pitch_mm": "250", "rated_spm": "300", "sharpen_every_strokes": "10"},
    "stations": {"operation": "blank"},
    "outs": {"station": "1"},
    "parts": {"customer": "Later Ltd", "net_weight_g": "77", "thickness_mm": "3"},
    "routes": {"die_id": "?"},
    "materials": {"density_kg_m3": "2700"},
    "causes": {"name": "something else", "operations": "draw", "origin": "material"},
    "reasons": {"kind": "planned", "in_planned_time": "false"},
    "targets": {"value": "1"},
    "characteristics": {"lower": "0", "upper": "1"},
    "inspection_plan": {"pieces": "99"},
    "names": {"name": "Anders"},
}
_WRITTEN = dt.datetime(2026, 12, 1, tzinfo=dt.UTC)


@dataclass
class Delivery:
    """Files of a plant; `later` holds those with rows that hold only after everything that happened."""

    files: list[Path] = field(default_factory=list)
    later: list[Path] = field(default_factory=list)


def as_text(frame: pd.DataFrame, zone: str, style: str) -> list[Row]:
    """Rows as a file has them: times (seconds since 1970 UTC) as text, dates bare, empty where nothing is known."""
    return [
        {str(name): _cell(str(name), value, zone, style) for name, value in row.items()}
        for row in frame.to_dict("records")
    ]


def _cell(name: str, value: object, zone: str, style: str) -> str:
    if value is None or value == "" or (not isinstance(value, dt.date | str) and pd.isna(value)):
        return ""
    if name in files.TIME_COLUMNS and not isinstance(value, dt.date):
        return files.time_text(np.array([int(value)]), zone, style)[0]
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def deliver(dice: Dice, folder: Path, tables: Mapping[str, Sequence[Row]], after: dt.date, other_die: str) -> Delivery:
    """Write every table in up to three files, rows in any order, some rows in two versions and some twice."""
    made = Delivery()
    for name, rows in tables.items():
        versions = [version for row in rows for version in _versions(dice, name, row)]
        order = dice.rng.permutation(len(versions))
        parts = np.array_split(order, int(dice.rng.integers(1, 4)))
        written: list[list[Row]] = []
        for number, part in enumerate(parts):
            some = [versions[at] for at in part]
            # Of two files that are the same to the byte, the one that comes first is the one.
            if some and some not in written:
                made.files.append(_write(folder / f"{name}-{number}.csv", some))
                written.append(some)
        if name in LATER and rows:
            made.later.append(_write(folder / f"{name}-later.csv", _later(dice, name, rows, after, other_die)))
    return made


def _versions(dice: Dice, name: str, row: Row) -> list[Row]:
    """A row as it was written first, second and last, or the row alone, or twice."""
    if name in CORRECTED and dice.chance(0.12):
        dice.happened.add("corrections")
        columns = {column: values for column, values in CORRECTED[name].items() if column in row}
        times = [_WRITTEN + dt.timedelta(minutes=int(m)) for m in np.sort(dice.rng.choice(9999, 3, replace=False))]
        first = [
            {**row, column: dice.one_of(tuple(columns[column])), "recorded_at": at.isoformat()}
            for at in times[: 1 + dice.chance(0.3)]
            for column in [dice.one_of(tuple(columns))]
        ]
        return [*first, {**row, "recorded_at": times[-1].isoformat()}]
    return [row] * (2 if dice.chance(0.05) else 1)


def _later(dice: Dice, name: str, rows: Sequence[Row], after: dt.date, other_die: str) -> list[Row]:
    """Rows of the same keys that hold from a day after everything, with other values."""
    dice.happened.add("rows that hold later")
    day = after + dt.timedelta(days=int(dice.rng.integers(30, 400)))
    change = {column: other_die if value == "?" else value for column, value in LATER[name].items()}
    return [{**row, **change, "valid_from": day.isoformat()} for row in rows]


def _write(path: Path, rows: Sequence[Row]) -> Path:
    columns = list(dict.fromkeys(column for row in rows for column in row))
    with path.open("w", encoding="utf-8", newline="") as sink:
        writer = csv.DictWriter(sink, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def in_groups(dice: Dice, paths: Sequence[Path], most: int) -> list[list[Path]]:
    """The files in any order, in so many loads at most."""
    shuffled = [paths[at] for at in dice.rng.permutation(len(paths))]
    cuts = sorted(int(cut) for cut in dice.rng.integers(0, len(shuffled) + 1, size=most - 1))
    bounds = [0, *cuts, len(shuffled)]
    return [shuffled[a:b] for a, b in pairwise(bounds) if a < b]
