"""Holds the figures of a ledger against the truth about a plant."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from monitor.figures import AVAILABLE, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.messy.case import Case, day_after, make
from tests.messy.checks import boxes as boxes_check
from tests.messy.checks import contradictions as contradict_check
from tests.messy.checks import pieces as pieces_check
from tests.messy.checks import time as time_check
from tests.messy.delivery import in_groups
from tests.messy.judge import OF_FILES, Judge, same_figures, same_files, whatever_happened

#: Figures of all time, which take no range.
_OF_ALL_TIME = ("service", "coil_ledger")
_TRIES = 4


def check(seed: int, folder: Path) -> tuple[Case, list[str]]:
    """Make a plant, load it in two orders, and say what is wrong with the figures."""
    case = make(seed, folder / "plant")
    with Ledger.open(folder / "one", create=True) as one, Ledger.open(folder / "other", create=True) as other:
        delivered, later = case.delivery.files, case.delivery.later
        faults = _load(case, one, [*delivered, *later], 3)
        faults += _load(case, other, delivered, 2)
        judge = Judge(one, faults)
        for look in (whatever_happened, *(_with(case, check) for check in CHECKS)):
            look(judge)
        for fault in _other_orders(case, one, other):
            judge.fault(
                "any order",
                fault.split(":")[0],
                "order of loads, and rows that hold later, change nothing",
                "the same",
                fault,
            )
    return case, judge.faults


def _with(case: Case, one: Callable[[Case, Judge], None]) -> Callable[[Judge], None]:
    return lambda judge: one(case, judge)


def _load(case: Case, ledger: Ledger, paths: list[Path], groups: int) -> list[str]:
    """Load plant.toml, then the files in random groups; a file that is refused is a fault."""
    faults = []
    for group in [[case.folder / "plant.toml"], *in_groups(case.plant.dice, paths, groups)]:
        faults += [
            f"loads | {file.file} | refused: {file.refused}" for file in load(group, ledger).files if file.refused
        ]
    return faults


def _other_orders(case: Case, one: Ledger, other: Ledger) -> list[str]:
    """What differs between two ledgers that took the same rows in different order, one with rows that hold later."""
    asked = {"from_": day_before(case), "to": day_after(case.plant)}
    names = tuple(name for name in AVAILABLE if name not in (*OF_FILES, *_OF_ALL_TIME))
    left_out = {path.name for path in case.delivery.later}
    return same_figures(one, other, names, asked) + same_files(one, other, left_out)


def day_before(case: Case) -> str:
    """A day before anything was played."""
    first = pd.Timestamp(case.plant.from_s, unit="s")
    return str((first - pd.Timedelta(days=3)).date())


def set_aside(case: Case, judge: Judge) -> None:
    """Nothing is set aside but readings that cannot be, and rows that a later one overtook."""
    aside = judge.table("set_aside")
    glitches = sum(int(readings.glitch.sum()) for readings in case.plant.readings.values())
    overtaken = aside["row"].astype(str).str.contains('"recorded_at": "2', regex=False)
    aside = aside[~overtaken]
    of_strokes = aside["table"] == "strokes"
    if of_strokes.sum() > 2 * glitches:
        judge.fault(
            "set_aside", "strokes", "1: only glitches", glitches, aside.loc[of_strokes, "reason"].head(2).tolist()
        )
    for row in aside[~of_strokes].to_dict("records"):
        judge.fault("set_aside", row["file"], "contract: the row holds", "taken", f"{row['reason']} | {row['row']}")


def counters(case: Case, judge: Judge) -> None:
    """Strokes over shifts, over hours and of the counters are the same, for any range and filter."""
    plant, rng = case.plant, case.plant.dice.rng
    total = sum(spread.total for spread in case.spreads.values())
    for name in ("shifts", "hours"):
        judge.within(
            name,
            "all",
            rule="1: the sum is the counters' own",
            low=total,
            high=total,
            got=judge.table(name)["strokes"].sum(),
        )
    by_press = judge.table("shifts").groupby("press_id")["strokes"].sum()
    for press_id, spread in case.spreads.items():
        judge.within(
            "shifts",
            press_id,
            rule="1: the counter's own",
            low=spread.total,
            high=spread.total,
            got=by_press.get(press_id, 0),
        )
    hours = judge.table("hours")["hour_start"].sort_values().unique().tolist()
    days = judge.table("shifts")["shift_date"].sort_values().unique().tolist()
    for _ in range(_TRIES if len(hours) > 1 else 0):
        whole_days = rng.random() < 0.5
        from_what = days if whole_days and len(days) > 1 else hours
        # Sorted as moments: the hour that comes twice reads the other way round as text.
        bounds = sorted(rng.choice(from_what, 2, replace=False).tolist(), key=dt.datetime.fromisoformat)
        asked = dict(zip(("from_", "to"), bounds, strict=True)) | _filter(plant.book, rng)
        made = [figure(judge.ledger, name, **asked)["strokes"].sum() for name in ("shifts", "hours")]
        if made[0] != made[1]:
            judge.fault("shifts, hours", asked, "figures.md: strokes agree for any range and filter", made[0], made[1])


def _filter(book: object, rng: np.random.Generator) -> Mapping[str, str]:
    kinds = {"press": [p.press_id for p in book.presses], "die": [d.die_id for d in book.dies],
             "part": [p.part_no for p in book.parts]}  # fmt: skip
    kind = str(rng.choice(["", *kinds]))
    return {kind: str(rng.choice(kinds[kind]))} if kind else {}


def shifts_of_strokes(case: Case, judge: Judge) -> None:
    """Strokes of each shift, exact where readings are dense, else in proportion to time."""
    table = judge.table("shifts")
    got = table.groupby(["press_id", "shift_date", "shift"])["strokes"].sum().to_dict()
    for press_id, spread in case.spreads.items():
        found: dict[tuple[str, str], int] = defaultdict(int)
        for (name, date, shift), strokes in got.items():
            if name == press_id:
                found[str(date), shift] += int(strokes)
        for shift in {*found, *spread.high} - spread.left_open:
            low, high = spread.low.get(shift, 0), spread.high.get(shift, 0)
            judge.within(
                "shifts",
                (press_id, *shift),
                rule="3: strokes of a gap are spread evenly",
                low=low,
                high=high,
                got=found[shift],
            )


CHECKS: tuple[Callable[[Case, Judge], None], ...] = (
    set_aside,
    counters,
    shifts_of_strokes,
    *time_check.CHECKS,
    *pieces_check.CHECKS,
    *boxes_check.CHECKS,
    *contradict_check.CHECKS,
)
