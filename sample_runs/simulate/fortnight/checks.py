"""The sample fortnight read and inspected: loggers, samples, tubs, and containers sorted piece by piece."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, truth
from sample_runs.simulate.book import PressSetup
from sample_runs.simulate.fortnight.book import BOOK, FAULTS, SERVICES
from sample_runs.simulate.fortnight.plan import FROM_S, TO_S, Fortnight, at
from sample_runs.simulate.logger import LoggedReadings, LoggerHabits, read
from sample_runs.simulate.press import NO_STRIP, Played
from sample_runs.simulate.quality import InspectionDesk, draw, strokes_since, windows
from sample_runs.simulate.script import Script

BOXES = {"H-20-L": 2000, "H-20-R": 2000, "B-7": 2500, "S-3": 12000, "W-5": 15000, "C-9": 4000}
EVERY_S = {"P1": 20, "P2": 10, "P3": 20, "P4": 30, "P5": 10}
# Hours in which the loggers were switched off with the presses.
OFF = {
    "P1": (("2026-10-24 13:00", "2026-10-26 05:30"), ("2026-10-31 06:30", "2026-11-02 06:01")),
    "P2": (("2026-10-24 06:30", "2026-10-26 05:30"), ("2026-10-31 06:30", "2026-11-02 06:01")),
    "P3": (("2026-10-24 06:30", "2026-10-24 21:30"), ("2026-10-31 06:30", "2026-11-02 06:01")),
    "P4": (("2026-10-23 22:30", "2026-10-26 05:30"), ("2026-10-30 22:30", "2026-11-02 06:01")),
    "P5": (("2026-10-23 22:30", "2026-10-26 05:30"), ("2026-10-30 22:30", "2026-11-02 06:01")),
}


@dataclass(frozen=True)
class PlayedPress:
    """What one press's logger read, what its desk found, and what must come out."""

    readings: LoggedReadings
    truth: truth.PressTruth
    desk: InspectionDesk


def inspect(fortnight: Fortnight) -> dict[str, PlayedPress]:
    """Read the counters of every press and inspect what it made."""
    return {
        script.press_id: _read_and_inspect(fortnight, BOOK.press(script.press_id), script)
        for script in fortnight.scripts
    }


def _read_and_inspect(fortnight: Fortnight, press: PressSetup, script: Script) -> PlayedPress:
    played, desk = fortnight.played[press.press_id], InspectionDesk(press.press_id)
    made = truth.made(BOOK, press, played, FROM_S, TO_S)
    boxes = _boxes(press, script, made[1])
    looks = _sample_and_tub_times(press, script, made[1])
    moments = {moment for windows_of in boxes.values() for window in windows_of for moment in window}
    moments |= {moment for _, _, moment in looks}
    if press.press_id == "P4":
        moments |= {moment for reel in fortnight.reels.values() for moment in (reel.started_s, reel.ended_s)}
    readings = read(press, played, _habits(press, script, played, moments), FROM_S, TO_S)
    found = truth.press_truth(
        BOOK, press, script=script, played=played, readings=readings, from_s=FROM_S, to_s=TO_S, frames=made
    )
    cause = _causes(fortnight, press, found)
    for kind, part_no, moment in looks:
        _look(desk, found.pieces, cause=cause, kind=kind, part_no=part_no, moment=moment)
    for part_no, part_boxes in boxes.items():
        _fill(desk, found.pieces, cause, part_no, part_boxes)
    return PlayedPress(readings, found, desk)


def _shift_edges(press: PressSetup) -> set[int]:
    edges = {
        moment
        for window in clock.windows(BOOK, press.press_id, FROM_S, TO_S)
        for moment in (window.start_s, window.end_s)
    }
    return {moment for moment in edges if FROM_S <= moment <= TO_S}


def _boxes(press: PressSetup, script: Script, pieces: pd.DataFrame) -> dict[str, list[tuple[int, int]]]:
    """When each container was opened and closed; none goes over a shift, coil or die change."""
    if press.press_id == "P4":
        return {}
    changes = {
        event.at_s for event in script.events if event.event in ("mount", "splice", "first_off", "change", "pull")
    }
    edges = sorted(changes | _shift_edges(press) | {FROM_S, TO_S})
    made = pieces[~pieces["setting"]]
    return {
        str(part_no): windows(of_part["second"].to_numpy(), edges, BOXES[str(part_no)])
        for part_no, of_part in made.groupby("part_no", sort=True)
    }


def _sample_and_tub_times(press: PressSetup, script: Script, pieces: pd.DataFrame) -> list[tuple[str, str, int]]:
    """Hourly samples of washers and of pierced strip; a tub count of washers at each shift end and before a pull."""
    part_no = {"P2": "W-5", "P4": "C-9"}.get(press.press_id)
    if part_no is None:
        return []
    second = pieces.loc[(pieces["part_no"] == part_no) & ~pieces["setting"], "second"].to_numpy()
    hours = np.arange(FROM_S, TO_S, 3600) + 1200
    running = np.searchsorted(second, hours, side="right") - np.searchsorted(second, hours - 60, side="right")
    looks = [("sample", part_no, int(hour)) for hour in hours[running > 20]]
    if part_no == "W-5":
        ends = _shift_edges(press) | {event.at_s for event in script.events if event.event == "pull"}
        bounds = np.array(sorted(ends))
        made = np.diff(np.searchsorted(second, bounds, side="right"), prepend=0)
        looks += [("tub", part_no, int(bound)) for bound in bounds[made > 0]]
    return sorted(looks, key=lambda look: (look[2], look[0]))


def _habits(press: PressSetup, script: Script, played: Played, moments: set[int]) -> LoggerHabits:
    """How the logger of a press reads, and what goes wrong with it."""
    off = [(at(start), at(end)) for start, end in OFF[press.press_id]]
    hours = set(range(FROM_S, TO_S + 1, 3600))
    always = hours | moments | _shift_edges(press) | {event.at_s for event in script.events}
    kept = sorted(moment for moment in always if not any(start < moment < end for start, end in off))
    start_counter = {"P1": 880_000, "P2": 4_812_330, "P3": 310_255, "P4": 77_120, "P5": 2_004_018}[press.press_id]
    gaps, resets, glitches = list(off), [], {}
    if press.press_id == "P2":
        resets = [at("2026-10-27 05:00")]
        glitches = {_spare(kept, at("2026-10-20 11:12")): 70_000, _spare(kept, at("2026-10-29 03:41")): 250_000}
    if press.press_id == "P4":
        busy = [pair for pair in pairwise(kept) if at("2026-10-21 10:00") <= pair[0] <= at("2026-10-21 16:00")]
        gaps.append(max(busy, key=lambda pair: pair[1] - pair[0]))
    return LoggerHabits(
        EVERY_S[press.press_id], kept, start_counter=start_counter, gaps=gaps, resets=resets, glitches=glitches
    )


def _spare(always: list[int], near_s: int) -> int:
    """A regular reading near a moment that does not have to be there."""
    regular = near_s - (near_s - FROM_S) % 60
    while regular in always:
        regular += 60
    return regular


def _causes(fortnight: Fortnight, press: PressSetup, found: truth.PressTruth) -> np.ndarray:
    """The cause each piece of a press is bad for."""
    played = fortnight.played[press.press_id]
    stroke_s = np.asarray(played.stroke_s, dtype=np.int64)
    fed = np.asarray(played.stroke_mounting) != NO_STRIP
    lots = np.array([fortnight.coils[mounting.coil_id].lot for mounting in played.mountings] or [""], dtype=object)
    cause = np.full(len(found.pieces), "", dtype=object)
    for die_id, of_die in found.pieces.groupby("die_id", sort=True):
        here = (found.strokes["die_id"] == die_id).to_numpy()
        service_s = sorted(at(when) for die, when, work, station, _ in SERVICES if die == die_id and station is None)
        since = np.zeros(len(stroke_s), dtype=np.int64)
        since[here] = strokes_since(stroke_s[here], fed[here], service_s)
        facts = pd.DataFrame(
            {
                "second": of_die["second"],
                "setting": of_die["setting"],
                "lot": lots[of_die["mounting"]],
                "from_head_m": of_die["place"] * BOOK.die(str(die_id)).pitch_mm / 1000,
                "since_sharpening": since[of_die["stroke"]],
            }
        )
        cause[of_die.index] = draw(facts, FAULTS[str(die_id)], fortnight.rng)
    return cause


def _look(desk: InspectionDesk, pieces: pd.DataFrame, cause: np.ndarray, kind: str, part_no: str, moment: int) -> None:
    """A sample of the last five pieces of each out, or the tub counted out since the last count."""
    second = pieces["second"].to_numpy()
    of_part = np.flatnonzero(
        (pieces["part_no"] == part_no).to_numpy() & ~pieces["setting"].to_numpy() & (second <= moment)
    )
    if kind == "sample":
        seen = of_part[-5 * pieces["out"].iloc[of_part[-20:]].nunique() :]
    else:
        before = max((int(str(row["time"])) for row in desk.inspections if row["kind"] == "tub"), default=FROM_S)
        seen = of_part[second[of_part] > before]
    desk.look(pieces, cause, seen, {"time": moment, "kind": kind, "part_no": part_no})


def _fill(
    desk: InspectionDesk, pieces: pd.DataFrame, cause: np.ndarray, part_no: str, part_boxes: list[tuple[int, int]]
) -> None:
    """Close the containers of a part; all but washers are sorted piece by piece as they fall."""
    rows = np.flatnonzero((pieces["part_no"] == part_no).to_numpy() & ~pieces["setting"].to_numpy())
    second = pieces["second"].to_numpy()[rows]
    for start, end in part_boxes:
        first, last = np.searchsorted(second, [start, end], side="right")
        name = desk.box(part_no, rows[first:last], (start, end))
        if part_no != "W-5":
            row = {"time": end + 300, "kind": "full", "part_no": part_no, "container_id": name}
            desk.look(pieces, cause, rows[first:last], row)
