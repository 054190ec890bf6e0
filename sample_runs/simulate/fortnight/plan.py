"""The sample fortnight: what was planned and played, from 19 October to 2 November 2026."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from sample_runs.simulate import truth, weights
from sample_runs.simulate.book import Coil
from sample_runs.simulate.fortnight.book import BOOK, ZONE, strip_of
from sample_runs.simulate.planner import Planner, Supply
from sample_runs.simulate.press import Played, play
from sample_runs.simulate.quality import windows
from sample_runs.simulate.script import Script

SEED = 20261019
REEL = 9000
STRIPS_BOUGHT = ("D-101", "D-114", "D-120", "D-131", "D-140")


def at(text: str) -> int:
    """Second since 1970 UTC of a plant time "YYYY-MM-DD HH:MM"."""
    return int(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE)).timestamp())


FROM_S, TO_S = at("2026-10-19 06:00"), at("2026-11-02 06:00")


@dataclass
class WoundReel:
    """Pierced strip wound at press 4: the coils of its progressions in the order in which they were wound."""

    reel_id: str
    started_s: int
    ended_s: int
    wound: list[str]
    rewinds: int = 0

    def coil_at(self, place: np.ndarray) -> np.ndarray:
        """The coil of the n-th progression fed from it (1 = first): the last wound, unless it was rewound."""
        order = np.array(self.wound if self.rewinds % 2 else self.wound[::-1], dtype=object)
        return np.asarray(order[np.asarray(place) - 1])


@dataclass
class Fortnight:
    """Everything that happened at the presses."""

    coils: dict[str, Coil]
    reels: dict[str, WoundReel]
    scripts: list[Script]
    played: dict[str, Played]
    rng: np.random.Generator


def run() -> Fortnight:
    """Plan and play the fortnight; the same every time."""
    rng = np.random.default_rng(SEED)
    coils = {coil.coil_id: coil for die_id in STRIPS_BOUGHT for coil in strip_of(die_id)}
    supplies = {die_id: _supply(die_id) for die_id in STRIPS_BOUGHT}
    planners = {p.press_id: Planner(BOOK, p, rng, FROM_S) for p in BOOK.presses}
    _plan_brackets_and_hinges(planners, supplies)
    _plan_shims(planners["P3"], supplies["D-120"])
    _plan_strip(planners["P4"], supplies["D-140"])
    dies = {die.die_id: die for die in BOOK.dies}
    played = {name: play(BOOK.press(name), dies, planners[name].script, FROM_S) for name in ("P1", "P2", "P3", "P4")}
    reels = _wind(played["P4"], planners["P4"].script)
    coils |= {name: Coil(name, "", material="DC01", width_mm=40.0, thickness_mm=0.8, weight_kg=None) for name in reels}
    _plan_clips(planners["P5"], reels)
    played["P5"] = play(BOOK.press("P5"), dies, planners["P5"].script, FROM_S)
    scripts = [planners[press.press_id].script for press in BOOK.presses]
    weights.weigh(BOOK, coils, played, scripts, rng)
    return Fortnight(coils, reels, scripts, played, rng)


def _supply(die_id: str) -> Supply:
    """The strip of a die; a coil is good for a little less than its length by weight."""
    pitch_mm, left = BOOK.die(die_id).pitch_mm, {}
    for coil in strip_of(die_id):
        assert coil.weight_kg is not None
        kg_m = BOOK.densities_kg_m3[coil.material] * coil.width_mm * coil.thickness_mm * 1e-6
        left[coil.coil_id] = int(0.99 * coil.weight_kg / kg_m * 1000 / pitch_mm)
    return Supply(list(left), left)


# -- the plan ---------------------------------------------------------------------------------------------


def _plan_brackets_and_hinges(planners: dict[str, Planner], supplies: dict[str, Supply]) -> None:
    """Dies D-101, D-114 and D-131 on presses 1 and 2; the bracket die moves between the two."""
    one, two = planners["P1"], planners["P2"]
    hinge, bracket, washer = BOOK.die("D-101"), BOOK.die("D-114"), BOOK.die("D-131")
    two.job(bracket, supplies["D-114"], 60, "O-1002", at("2026-10-21 11:30"))
    one.job(hinge, supplies["D-101"], 55, "O-1001", at("2026-10-21 12:30"), part_no="H-20-L")
    one.set_die(bracket, supplies["D-114"], 58, "O-1003")
    one.work(at("2026-10-24 06:00"))
    one.work_span(at("2026-10-24 06:30"), at("2026-10-24 12:00"))
    one.work(at("2026-10-26 12:00"))
    one.pull_die()
    two.job(washer, supplies["D-131"], 80, "O-1004", at("2026-10-24 05:20"), part_no="W-5", dry_s=90)
    two.now = at("2026-10-26 13:30")
    two.job(bracket, supplies["D-114"], 60, "O-1006", at("2026-10-29 10:30"))
    one.job(hinge, supplies["D-101"], 56, "O-1005", at("2026-10-29 11:00"), part_no="H-20-R", dry_s=60)
    one.job(bracket, supplies["D-114"], 58, "O-1007", at("2026-10-31 05:00"))
    two.job(washer, supplies["D-131"], 82, "O-1008", at("2026-10-31 05:10"), part_no="W-5")


def _plan_shims(three: Planner, supply: Supply) -> None:
    """Die D-120 on press 3 with two sharpenings; one out is blanked off for a night and a morning."""
    shim = BOOK.die("D-120")
    three.job(shim, supply, 78, "O-1011", at("2026-10-22 10:20"))
    three.now = at("2026-10-22 16:00")
    three.set_die(shim, supply, 80, "O-1012")
    three.work(at("2026-10-26 23:10"))
    three.change((1,))
    three.work(at("2026-10-27 09:15"))
    three.change((1, 2))
    three.work(at("2026-10-28 12:00"))
    three.pull_die()
    three.now = at("2026-10-28 18:10")
    three.job(shim, supply, 80, "O-1013", at("2026-10-31 05:30"))


def _plan_strip(four: Planner, supply: Supply) -> None:
    """Die D-140 on press 4, two shifts a day, strip mostly joined on."""
    four.splice_share = 0.75
    die = BOOK.die("D-140")
    four.job(die, supply, 70, "O-1021", at("2026-10-23 21:30"), dry_s=60)
    four.now = at("2026-10-26 06:00")
    four.job(die, supply, 72, "O-1022", at("2026-10-29 13:30"), dry_s=40)


def _plan_clips(five: Planner, reels: dict[str, WoundReel]) -> None:
    """Die D-141 on press 5, reel after reel."""
    five.splice_share = five.weighed_share = 0.0
    five.now = at("2026-10-20 14:00")
    supply = Supply(list(reels), {name: len(reel.wound) - 10 for name, reel in reels.items()})
    die = BOOK.die("D-141")
    five.job(die, supply, 60, "O-1031", at("2026-10-23 21:40"))
    five.now = at("2026-10-26 14:00")
    five.job(die, supply, 62, "O-1032", at("2026-10-30 12:00"))


def _wind(played: Played, script: Script) -> dict[str, WoundReel]:
    """Cut what press 4 made into reels, at the latest where its strip was cut."""
    _, pieces = truth.made(BOOK, BOOK.press("P4"), played, FROM_S, TO_S)
    pieces = pieces[~pieces["setting"]]
    second = pieces["second"].to_numpy()
    coils = np.array([mounting.coil_id for mounting in played.mountings], dtype=object)
    edges = {event.at_s for event in script.events if event.event in ("mount", "cut", "first_off", "pull")}
    reels: dict[str, WoundReel] = {}
    for start, end in windows(second, sorted(edges | {FROM_S, TO_S}), REEL):
        inside = (second > start) & (second <= end)
        if inside.sum() > 500:
            name = f"RL-{len(reels) + 1:02d}"
            wound = coils[pieces["mounting"].to_numpy()[inside]].tolist()
            reels[name] = WoundReel(name, start, end, wound, rewinds=int(len(reels) in (3, 8)))
    return reels
