"""What is wrong with the pieces of the sample plant, and who finds it.

Each fault is drawn piece by piece from a chance that may depend on the lot, on the strokes since the die was last
sharpened, and on how far from the head of its strip the piece was made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pandas as pd

from sample_runs.simulate.truth import spoil

Row = dict[str, object]


@dataclass(frozen=True)
class Fault:
    """A cause on a die: its usual rate, and what was planted on top of it."""

    cause: str
    rate: float
    bad_lot: str = ""
    lot_factor: float = 1.0
    worn_strokes: float = 0.0
    worn_factor: float = 1.0
    head_m: float = 0.0
    head_factor: float = 1.0

    def chances(self, facts: pd.DataFrame) -> np.ndarray:
        """Chance of each piece to have it; wear grows with the square of the strokes since sharpening."""
        chance = np.full(len(facts), self.rate)
        if self.bad_lot:
            chance[(facts["lot"] == self.bad_lot).to_numpy()] *= self.lot_factor
        if self.worn_strokes:
            chance *= 1 + (self.worn_factor - 1) * (facts["since_sharpening"].to_numpy() / self.worn_strokes) ** 2
        if self.head_m:
            chance[(facts["from_head_m"] < self.head_m).to_numpy()] *= self.head_factor
        return chance


def draw(facts: pd.DataFrame, faults: Sequence[Fault], rng: np.random.Generator, spread: float = 0.25) -> np.ndarray:
    """The cause each piece is bad for ("" = good); every half hour has its own luck, so counts scatter wider."""
    half_hours, which = np.unique(facts["second"].to_numpy() // 1800, return_inverse=True)
    cause = np.full(len(facts), "", dtype=object)
    for fault in faults:
        luck = rng.gamma(1 / spread**2, spread**2, len(half_hours))[which]
        hit = rng.random(len(facts)) < fault.chances(facts) * luck
        cause[hit & (cause == "")] = fault.cause
    cause[facts["setting"].to_numpy()] = ""
    return cause


@dataclass
class InspectionDesk:
    """Everything that was inspected, as rows of `inspections` and `containers` (times in seconds since 1970 UTC).

    `shared` collects the mountings whose pieces one inspection mixes with another's: what was rejected of each alone
    nobody can know from the files.
    """

    press_id: str
    inspections: list[Row] = field(default_factory=list)
    containers: list[Row] = field(default_factory=list)
    contents: dict[str, np.ndarray] = field(default_factory=dict)
    found: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    shared: set[int] = field(default_factory=set)

    def box(self, part_no: str, inside: np.ndarray, window: tuple[int, int]) -> str:
        """Close a container on the pieces with the rows `inside`."""
        name = f"B-{self.press_id[1:]}{len(self.containers) + 1:04d}"
        row = {"container_id": name, "part_no": part_no, "press_id": self.press_id}
        self.containers.append({**row, "opened_at": window[0], "closed_at": window[1]})
        self.contents[name] = inside
        return name

    def look(self, pieces: pd.DataFrame, cause: np.ndarray, seen: np.ndarray, row: Row) -> None:
        """Inspect the pieces with the rows `seen`; every bad one among them is found."""
        row = {
            "inspection_id": f"I-{self.press_id[1:]}{len(self.inspections) + 1:05d}",
            "press_id": self.press_id,
            "inspected": None if row["kind"] == "tub" else len(seen),
            **row,
        }
        mountings = pieces["mounting"].to_numpy()[seen]
        if len(np.unique(mountings)) > 1:
            self.shared |= set(mountings.tolist())
        bad = seen[(cause[seen] != "") & (pieces["good"].to_numpy()[seen] == 1)]
        for name in sorted(set(cause[bad])):
            these = bad[cause[bad] == name].tolist()
            self.inspections.append({**row, "cause": name, "rejected": len(these)})
            self.found[str(row["inspection_id"]), name] = these
        if not len(bad):
            self.inspections.append({**row, "cause": "", "rejected": 0})
        spoil(pieces, bad.tolist(), "rejected")

    def weigh_boxes(self, pieces: pd.DataFrame) -> None:
        """Write onto each container how many good pieces it holds."""
        good = pieces["good"].to_numpy()
        for row in self.containers:
            row["quantity"] = int(good[self.contents[str(row["container_id"])]].sum())


def windows(second: np.ndarray, edges: Sequence[int], quantity: int) -> list[tuple[int, int]]:
    """Cut pieces made at `second` (in order) into boxes of about `quantity`, never across one of the `edges`.

    A box takes the pieces of (from, to]; it closes on a whole tick of 5 s.
    """
    found = []
    for start, end in pairwise(edges):
        first, last = np.searchsorted(second, [start, end], side="right")
        while last > first:
            full = first + quantity - 1
            closes = end if full >= last - 1 else min(int(-(-second[full] // 5) * 5), end)
            found.append((start, closes))
            start, first = closes, int(np.searchsorted(second, closes, side="right"))
    return found


def strokes_since(seconds: np.ndarray, fed: np.ndarray, service_s: Sequence[int]) -> np.ndarray:
    """Strokes with strip since the last sharpening (at first since the first stroke), for each stroke of one die."""
    total = np.cumsum(fed)
    before = np.searchsorted(seconds, np.asarray(service_s), side="right")
    at_service = np.concatenate([[0], np.where(before > 0, total[np.maximum(before - 1, 0)], 0)])
    return np.asarray(total - at_service[np.searchsorted(np.asarray(service_s), seconds, side="left")])
