"""Running, standing and unseen time, stops and their reasons, against what the readings and notes say."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from sample_runs.simulate import clock
from tests.messy.case import Case
from tests.messy.judge import Judge, seconds
from tests.messy.loggers import RUNS, STANDS, UNKNOWN, UNRESOLVED, Seen
from tests.messy.notes import NO_REASON, NOT_JUDGED, StopTruth

_NONE = ("", "no reason yet")
_TIMES = ["planned_s", "running_s", "stopped_s", "unresolved_s"]


def times(case: Case, judge: Judge) -> None:
    """Planned, running, stopped and unseen seconds of every shift that was read from its start to its end."""
    if not (judge.has("shifts", "unresolved_s") and judge.has("hours", "unresolved_s")):
        return
    table = judge.table("shifts")
    summed = table.groupby(["press_id", "shift_date", "shift"])[_TIMES].sum()
    for press_id, view in case.views.items():
        line = clock.timeline(case.plant.book, press_id, case.plant.from_s, case.plant.to_s)
        read = _read_within(case, press_id, line)
        for number, (date, shift) in enumerate(line.names):
            here = line.shift_of == number
            if not here.any() or (view.state[here] == UNKNOWN).any():
                continue
            expected = _expected(view, here, line.planned)
            row = (press_id, date, shift)
            got = summed.loc[row] if row in summed.index else pd.Series(0.0, index=_TIMES)
            if row not in summed.index and number not in read:
                continue  # A long gap makes no row for each empty shift.
            slack = float(view.open[here].sum())
            for name, value in zip(_TIMES, expected, strict=True):
                judge.within(
                    "shifts",
                    (*row, name),
                    rule="3: planned = running + stopped + unresolved",
                    low=value - slack,
                    high=value + slack,
                    got=got[name],
                )
    unseen = [judge.table(name).groupby("press_id")["unresolved_s"].sum() for name in ("shifts", "hours")]
    for press_id in case.views:
        both = [float(one.get(press_id, 0)) for one in unseen]
        judge.within(
            "hours",
            (press_id, "unresolved_s"),
            rule="3: closes in shifts and hours",
            low=both[0],
            high=both[0],
            got=both[1],
        )


def _expected(view: Seen, here: np.ndarray, planned: np.ndarray) -> tuple[int, int, int, int]:
    runs = int((here & (view.state == RUNS)).sum())
    extra = int((here & (view.state == RUNS) & ~planned).sum())
    stands = int((here & (view.state == STANDS) & planned).sum())
    unseen = int((here & (view.state == UNRESOLVED) & planned).sum())
    return int((here & planned).sum()) + extra, runs, stands, unseen


def _read_within(case: Case, press_id: str, line: clock.Timeline) -> set[int]:
    """Shifts in which the counter was read; a reading on a start belongs to the shift before."""
    times = case.plant.readings[press_id].time_s
    inside = times[(times > line.from_s) & (times <= line.to_s)] - 1
    return set(line.shift_at(inside).tolist())


def stops(case: Case, judge: Judge) -> None:
    """Reason of every second of planned standing time, and one stop for each standstill."""
    table = judge.table("stops")
    for press_id, truth in case.stops.items():
        mine = table[table["press_id"] == press_id]
        view = case.views[press_id]
        planned = clock.timeline(case.plant.book, press_id, case.plant.from_s, case.plant.to_s).planned
        got = _painted(mine, truth, len(view.state))
        _compare(judge, press_id, view=view, truth=truth, planned=planned, got=got)
        _one_stop_each(judge, press_id, view, truth, mine)


def _painted(rows: pd.DataFrame, truth: StopTruth, length: int) -> np.ndarray:
    """Reason by second as the figure has it; None where it has no stop that is taken from planned time."""
    got = np.full(length, None, dtype=object)
    for row in rows[~rows["planned"].astype(bool)].to_dict("records"):
        end = length if pd.isna(row["end_at"]) or not row["end_at"] else seconds(row["end_at"]) - truth.from_s
        reason = "" if pd.isna(row["reason"]) or row["reason"] in _NONE else row["reason"]
        got[max(seconds(row["start_at"]) - truth.from_s, 0) : max(end, 0)] = reason
    return got


def _compare(judge: Judge, press_id: str, view: Seen, truth: StopTruth, planned: np.ndarray, got: np.ndarray) -> None:
    stands = (view.state == STANDS) & planned
    expected = np.where(stands, truth.reason, None)
    judged = (truth.reason != NOT_JUDGED) & ~view.open & (view.state != UNKNOWN) & planned
    wrong = judged & (expected != got)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], wrong.astype(np.int8), [0]])))
    for begin, end in edges.reshape(-1, 2).tolist():
        moment = pd.Timestamp(begin + truth.from_s, unit="s", tz="UTC").isoformat()
        said = [_said(one) for one in (expected[begin], got[begin])]
        judge.fault("stops", (press_id, moment, f"{end - begin} s"), "3: an entered stop covers its standstill", *said)


def _said(reason: object) -> str:
    return "no stop" if reason is None else "no reason" if reason == NO_REASON else str(reason)


def _one_stop_each(judge: Judge, press_id: str, view: Seen, truth: StopTruth, rows: pd.DataFrame) -> None:
    """A standstill counts once, whatever shifts and breaks it goes over, and has its stop_id to itself."""
    begins = np.array([seconds(text) for text in rows["start_at"]])
    ids = rows["stop_id"].to_numpy()
    owners: dict[object, tuple[int, int]] = {}
    for span in view.standstills():
        inside = set(ids[(begins >= span[0]) & (begins < span[1])].tolist())
        judged = not view.open[span[0] - view.from_s : span[1] - view.from_s].any()
        open_ = (truth.reason[span[0] - view.from_s : span[1] - view.from_s] == NOT_JUDGED).any()
        if span in truth.whole and judged and not open_ and len(inside) > 1:
            judge.fault(
                "stops", (press_id, span), "3: a stop keeps its stop_id and counts once", 1, sorted(map(str, inside))
            )
        for stop_id in inside:
            if owners.setdefault(stop_id, span) != span:
                judge.fault("stops", (press_id, stop_id), "one stop_id a standstill", owners[stop_id], span)


CHECKS: tuple[Callable[[Case, Judge], None], ...] = (times, stops)
