"""What people do by hand, step by step: entries and an undo, holds placed and lifted, rows released.

A step bears its name as the name of whoever did it, so the ledger itself tells which steps it holds, and how often.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Callable

import pandas as pd

from monitor.enter.entry import enter, undo
from monitor.enter.holds import lift, place
from monitor.ledger import Ledger
from monitor.load.release import release
from tests.faults.plant import EARLY, LENGTH, PRESSES, STANDS, clock, counter

Say = Callable[[str], None]

KINDS = ("enter", "hold", "release")
_NOW_US = 1_794_000_000_000_000
#: Rows by hand, without the moment at which they were written.
_TABLES = ("stops", "die_changes", "die_service", "notes", "holds")
_MOMENTS = ("recorded_at", "placed_at", "lifted_at")
_ZONE = dt.timezone(dt.timedelta(hours=1))
_SET_ASIDE_MINUTES = (200, 230)


def do(kind: str, ledger: Ledger, say: Say) -> None:
    """Do the steps that the ledger does not hold yet, and say the name of each once it is done."""
    held = steps_held(kind, ledger)
    for name, step in _STEPS[kind].items():
        if name not in held:
            step(ledger, name)
            say(name)


def steps(kind: str) -> list[str]:
    """Names of all the steps, none for other work."""
    return list(_STEPS.get(kind, ()))


def steps_held(kind: str, ledger: Ledger) -> dict[str, float]:
    """How often the ledger holds each step; a step that released only some of its rows counts as less than one."""
    snapshot = ledger.snapshot()
    if kind != "release":
        return dict(Counter(entered.by for entered in snapshot.entries()))
    released = Counter(snapshot.released_rows()["released_by"].tolist())
    return {name: count / len(PRESSES) for name, count in released.items()}


def faults(kind: str, ledger: Ledger, said: list[str]) -> list[str]:
    """What is wrong with the steps in a ledger after some were said to be done."""
    held, names = steps_held(kind, ledger), steps(kind)
    wrong = [f"lost: {name}, which was done" for name in said if name not in held]
    wrong += [f"doubled: {name}, {held[name]} times" for name in held if held[name] > 1]
    wrong += [f"{name} is in by halves" for name in held if 0 < held[name] < 1]
    done = [name for name in names if name in held]
    return wrong + ["steps are not in the order done"] * (done != names[: len(done)] or len(done) > len(said) + 1)


def rows(ledger: Ledger) -> dict[str, pd.DataFrame]:
    """Everything that people entered, and the rows released."""
    snapshot = ledger.snapshot()
    found = {name: snapshot.rows(name).to_pandas() for name in _TABLES}
    tables = {f"rows of {name}": _timeless(table) for name, table in found.items()}
    return tables | {"released": snapshot.released_rows()[["file", "line", "released_by", "released_row"]]}


def _timeless(table: pd.DataFrame) -> pd.DataFrame:
    table = table.assign(**{f"has {name}": table[name].notna() for name in _MOMENTS if name in table})
    return table.drop(columns=[name for name in (*_MOMENTS, "load_id", "line") if name in table])


def _us(minute: int) -> int:
    return int(dt.datetime.fromisoformat(clock(minute)).replace(tzinfo=_ZONE).timestamp()) * 1_000_000


def _enter_row(number: int, table: str, row: dict[str, object]) -> Callable[[Ledger, str], None]:
    def step(ledger: Ledger, name: str) -> None:
        enter(ledger, table, row, by=name, now_us=_NOW_US + number)

    return step


def _undo_first(ledger: Ledger, name: str) -> None:
    """Undo what the first step entered."""
    first = next(entered for entered in ledger.snapshot().entries() if entered.by == steps("enter")[0])
    undo(ledger, first.load_id, by=name, now_us=_NOW_US + 100)


def _place_on(scope: str, value: str) -> Callable[[Ledger, str], None]:
    def step(ledger: Ledger, name: str) -> None:
        place(ledger, scope, value, "cracks", by=name)

    return step


def _lift_hold(hold_id: str) -> Callable[[Ledger, str], None]:
    def step(ledger: Ledger, name: str) -> None:
        lift(ledger, hold_id, "sorted", by=name)

    return step


def _release_file(number: int) -> Callable[[Ledger, str], None]:
    """Release the corrected rows of one file of each press."""

    def step(ledger: Ledger, name: str) -> None:
        aside = ledger.snapshot().set_aside_rows()
        minute = _SET_ASIDE_MINUTES[number]
        mended = {}
        for row in aside[aside["file"].str.endswith(f"-{number}.csv")].to_dict("records"):
            text = {
                "time": clock(minute),
                "press_id": json.loads(row["row"])["press_id"],
                "counter": str(counter(minute)),
            }
            mended[int(row["id"])] = json.dumps(text)
        assert len(mended) == len(PRESSES)
        assert release(ledger, mended, by=name).taken == len(mended)

    return step


def _stop(press_id: str, number: int) -> tuple[str, dict[str, object]]:
    begin, end = (_us(number * LENGTH + minute) for minute in STANDS)
    return "stops", {"press_id": press_id, "start_at": begin, "end_at": end, "reason": "PUN"}


_ENTERED: tuple[tuple[str, dict[str, object]], ...] = (
    *(_stop(press_id, number) for press_id in PRESSES[:2] for number in range(EARLY)),
    ("die_changes", {"press_id": "P1", "time": _us(5), "event": "first_off", "die_id": "D1"}),
    ("die_service", {"die_id": "D1", "time": _us(40), "work": "sharpen"}),
    ("notes", {"note_id": "N-1", "time": _us(60), "note": "oil low", "shift_date": "2026-11-02", "shift": "early"}),
)
_STEPS: dict[str, dict[str, Callable[[Ledger, str], None]]] = {
    "enter": {f"entry {n}": _enter_row(n, *entry) for n, entry in enumerate(_ENTERED)} | {"undone": _undo_first},
    "hold": {
        "hold 1": _place_on("coil", "C1"),
        "hold 2": _place_on("die", "D1"),
        "lift 1": _lift_hold("H-0001"),
        "hold 3": _place_on("lot", "L1"),
        "lift 3": _lift_hold("H-0003"),
    },
    "release": {f"release {number}": _release_file(number) for number in range(EARLY)},
}
