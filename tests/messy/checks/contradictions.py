"""Contradictions that were planted are reported, each at its place, and no others."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from monitor.figures import AVAILABLE
from tests.messy.case import Case
from tests.messy.judge import Judge, seconds
from tests.messy.loggers import RUNS
from tests.messy.plant import EXTRA

Row = dict[str, str]
LARGE = "sample_larger_than_made"


def contradictions(case: Case, judge: Judge) -> None:
    """Those that were planted are reported, and no others but those of which the rules leave it open."""
    if "contradictions" not in AVAILABLE:
        judge.fault("contradictions", "-", "figures.md", "the figure", "none")
        return
    rows = [
        {name: "" if pd.isna(value) else str(value) for name, value in row.items()}
        for row in judge.table("contradictions").to_dict("records")
    ]
    for code, column, name in _planted(case):
        _once(judge, rows, (code, name), [row for row in rows if row["code"] == code and _names(row, column, name)])
    # Whoever rejects more than was made has looked at more as well.
    too_many = {name for code, name in case.desk.contradictions if code == "more_rejected_than_made"}
    _drop(rows, [row for row in rows if row["code"] == LARGE and row["inspection_id"] in too_many])
    _of_two_presses(case, judge, rows)
    for press_id in case.stops:
        _of_press(case, judge, press_id, rows)
    for row in rows:
        told = {name: value for name, value in row.items() if value}
        judge.fault("contradictions", told, "nothing of it was planted", "no row", "a row")


def _names(row: Row, column: str, name: str) -> bool:
    """Whether a row names it, alone or with the inspections of the same pieces."""
    return name == row[column] or (column == "inspection_id" and name in row[column].split(";"))


def _planted(case: Case) -> list[tuple[str, str, str]]:
    """Code, column and id of the contradictions about inspections and boxes."""
    found = [(code, "inspection_id", name) for code, name in case.desk.contradictions]
    return found + [("box_sent_twice", "container_id", name) for name in case.store.sent_twice]


def _of_two_presses(case: Case, judge: Judge, rows: list[Row]) -> None:
    """A die and a coil on two presses that both ran with them, as far as anybody saw."""
    die_id, coil_id, press_id = case.plant.doubled
    if not press_id:
        return
    run = case.plant.scripts[EXTRA].runs[0]
    views = [case.views[name] for name in (press_id, EXTRA)]
    seen = all((view.state[run.from_s - view.from_s : run.to_s - view.from_s] == RUNS).all() for view in views)
    for code, column, name in (("die_in_two_presses", "die_id", die_id), ("coil_on_two_presses", "coil_id", coil_id)):
        mine = [row for row in rows if row["code"] == code and row[column] == name]
        if seen and not mine:
            judge.fault("contradictions", (code, name), f"{code} is reported", "a row", "none")
        _drop(rows, mine)


def _of_press(case: Case, judge: Judge, press_id: str, rows: list[Row]) -> None:
    """Notes of stops that meet no standstill, and events that name a die which is not there."""
    truth, noted = case.stops[press_id], case.noted[press_id]
    here = [row for row in rows if row["press_id"] == press_id]
    of_stops = [row for row in here if row["code"] == "stop_while_running"]
    for note in truth.running:
        mine = [row for row in of_stops if seconds(row["at"]) == note.from_s]
        begin = pd.Timestamp(note.from_s, unit="s", tz="UTC").isoformat()
        _once(judge, rows, ("stop_while_running", press_id, begin), mine)
    doubtful = {note.from_s for note in truth.doubtful}
    _drop(rows, [row for row in of_stops if seconds(row["at"]) in doubtful])
    of_dies = [row for row in here if row["code"] == "event_of_other_die"]
    if len(of_dies) < noted.first_offs:
        judge.fault("contradictions", press_id, "event_of_other_die is reported", noted.first_offs, len(of_dies))
    _drop(rows, of_dies if noted.named else [])


def _once(judge: Judge, rows: list[Row], what: object, mine: list[Row]) -> None:
    """Note a contradiction that is not reported exactly once, and take it from the rows."""
    if len(mine) != 1:
        judge.fault("contradictions", what, "reported once", 1, len(mine))
    _drop(rows, mine)


def _drop(rows: list[Row], mine: list[Row]) -> None:
    for row in mine:
        if row in rows:
            rows.remove(row)


CHECKS: tuple[Callable[[Case, Judge], None], ...] = (contradictions,)
