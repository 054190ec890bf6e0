"""Strokes and pieces by shift, hour, die, coil and cause against those that were played."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable

import pandas as pd

from tests.messy.case import Case
from tests.messy.judge import Judge, as_number, seconds
from tests.messy.rechecks import Look

_SHIFT = ["shift_date", "shift", "press_id", "die_id", "part_no"]
_COUNTS = ["pieces", "setup_pieces"]
_STROKES = ["strokes", "setup_strokes", "strokes_without_strip"]
Key = tuple[object, ...]


def strokes(case: Case, judge: Judge) -> None:
    """Strokes of each die in each shift, on the row of the part whose out runs first, empty on the others."""
    if not case.plant.dense:
        return
    frame = pd.concat(case.plant.strokes.values())
    key = ["shift_date", "shift", "press_id", "die_id"]
    truth = frame.groupby(key)[_STROKES].sum()
    table = judge.table("shifts")
    got = table.groupby(key)[_STROKES].sum()
    for row in sorted({*map(tuple, truth.index), *map(tuple, got.index)}):
        for name in _STROKES:
            wanted = int(truth[name].get(row, 0))
            judge.within(
                "shifts",
                (*row, name),
                rule="1: strokes of a die in a shift",
                low=wanted,
                high=wanted,
                got=got[name].get(row, 0),
            )


def pieces(case: Case, judge: Judge) -> None:
    """Pieces of each part in each shift and hour, and what of them is rejected, mended and good."""
    if not case.plant.dense:
        return
    made = pd.concat(case.plant.pieces.values(), ignore_index=True)
    _compare(case, judge, name="shifts", made=made, key=_SHIFT, table=judge.table("shifts"))
    hours = judge.table("hours").copy()
    hours["hour_s"] = [seconds(text) for text in hours["hour_start"]]
    _compare(case, judge, name="hours", made=made, key=["hour_s", "press_id", "die_id", "part_no"], table=hours)


def _compare(case: Case, judge: Judge, name: str, made: pd.DataFrame, key: list[str], table: pd.DataFrame) -> None:
    counts = [column for column in _COUNTS if column in table]
    truth = made.groupby(key)[[*_COUNTS]].sum()
    got = {tuple(row[k] for k in key): row for row in table.to_dict("records")}
    looks = _by_key(case.desk.looks, key)
    left_open = set(_by_key(case.desk.left_open, key))
    for row in truth.index:
        there = got.get(tuple(row))
        if there is None:
            judge.fault(name, row, "2: pieces of a part", truth.loc[row].to_dict(), "no row")
            continue
        for column in counts:
            wanted = int(truth.loc[row, column])
            judge.within(name, (*row, column), rule="2: pieces of a part", low=wanted, high=wanted, got=there[column])
        if tuple(row) not in left_open:
            good = int(truth.loc[row, "pieces"] - truth.loc[row, "setup_pieces"])
            _rejects(judge, name, row=tuple(row), looks=looks.get(tuple(row), []), got=there, unspoiled=good)


def _rejects(judge: Judge, name: str, row: Key, looks: list[Look], got: dict[str, object], unspoiled: int) -> None:
    low, high, mended = (sum(getattr(look, column) for look in looks) for column in ("low", "high", "reworked"))
    rule = "5: what looks at pieces leave rejected"
    judge.within(name, (*row, "rejected"), rule=rule, low=low, high=high, got=got["rejected"])
    judge.within(
        name, (*row, "good"), rule=rule, low=unspoiled - high - mended, high=unspoiled - low - mended, got=got["good"]
    )
    if "reworked" in got:
        judge.within(name, (*row, "reworked"), rule=rule, low=mended, high=mended, got=got["reworked"])


def _by_key(looks: list[Look], key: list[str]) -> dict[Key, list[Look]]:
    found: dict[Key, list[Look]] = defaultdict(list)
    for look in looks:
        values = {**look.place, "press_id": look.press_id, "part_no": look.part_no}
        found[tuple(values[name] for name in key)].append(look)
    return found


def coils(case: Case, judge: Judge) -> None:
    """Every mounting: strokes, pieces, progressions left in the die, rejects."""
    if not case.plant.dense:
        return
    table = judge.table("coils").copy()
    table["mounted_s"] = [seconds(text) for text in table["mounted_at"]]
    got = {(row["press_id"], row["coil_id"], row["mounted_s"]): row for row in table.to_dict("records")}
    for press_id, played in case.plant.played.items():
        made = case.plant.pieces[press_id].groupby("mounting")[_COUNTS].sum()
        looks, left_open = (_of_mounting(some, press_id) for some in (case.desk.looks, case.desk.left_open))
        for number, mounting in enumerate(played.mountings):
            noted_s = case.noted[press_id].mounted.get(mounting.mounted_s, mounting.mounted_s)
            key = (press_id, mounting.coil_id, noted_s)
            if key not in got:
                judge.fault("coils", key, "2: a mounting", "a row", "none")
                continue
            row = got[key]
            wanted = {"strokes": mounting.fed, "unfinished": mounting.fed - mounting.finished}
            wanted |= {name: int(made[name].get(number, 0)) for name in _COUNTS}
            for name, value in wanted.items():
                judge.within(
                    "coils", (*key, name), rule="2: strip fed and pieces made", low=value, high=value, got=row[name]
                )
            pitch_mm = case.plant.book.die(mounting.die_id).pitch_mm if mounting.die_id else 0.0
            used_m = mounting.fed * pitch_mm / 1000
            judge.within(
                "coils", (*key, "used_m"), rule="4: strokes times pitch", low=used_m, high=used_m, got=row["used_m"]
            )
            if number not in left_open:
                unspoiled = wanted["pieces"] - wanted["setup_pieces"]
                _rejects(
                    judge,
                    "coils",
                    row=key,
                    looks=looks.get(number, []),
                    got=_without(row, "reworked"),
                    unspoiled=unspoiled,
                )


def _without(row: dict[str, object], name: str) -> dict[str, object]:
    return {column: value for column, value in row.items() if column != name}


def _of_mounting(looks: list[Look], press_id: str) -> dict[object, list[Look]]:
    found: dict[object, list[Look]] = defaultdict(list)
    for look in looks:
        if look.press_id == press_id:
            found[look.place["mounting"]].append(look)
    return found


def causes(case: Case, judge: Judge) -> None:
    """What is rejected of each cause on each part, where the notes tell."""
    if not case.plant.dense:
        return
    wanted: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    unclear = {(look.press_id, look.part_no) for look in case.desk.left_open}
    for look in case.desk.looks:
        if look.causes is None:
            unclear.add((look.press_id, look.part_no))
        else:
            wanted[look.press_id, look.part_no].update(look.causes)
    scrap = judge.table("scrap")
    got = scrap.groupby(["press_id", "part_no", "cause"])["rejected"].sum().to_dict()
    for (press_id, part_no), by_cause in wanted.items():
        if (press_id, part_no) in unclear:
            continue
        for cause in {*by_cause, *(c for p, n, c in got if (p, n) == (press_id, part_no) and c)}:
            value = by_cause[cause]
            judge.within(
                "scrap",
                (press_id, part_no, cause),
                rule="5: rejected by cause",
                low=value,
                high=value,
                got=got.get((press_id, part_no, cause), 0),
            )


def first_running_out(case: Case, judge: Judge) -> None:
    """On the rows of the parts of a die, strokes stand on one and are empty on the others, never 0 beside a number."""
    table = judge.table("shifts")
    for key, rows in table[table["die_id"].fillna("") != ""].groupby(["press_id", "shift_date", "shift", "die_id"]):
        # A row that had the die for a while without a stroke has seconds and 0 strokes.
        values = [as_number(row["strokes"]) for row in rows.to_dict("records") if not as_number(row["planned_s"]) > 0]
        if any(value == 0 for value in values) and rows["strokes"].sum() > 0:
            judge.fault("shifts", key, "figures.md: strokes of the other parts are empty, not 0", "empty", values)


CHECKS: tuple[Callable[[Case, Judge], None], ...] = (strokes, pieces, coils, causes, first_running_out)
