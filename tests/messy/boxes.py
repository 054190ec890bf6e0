"""Boxes, pieces packed over, and deliveries: an account of every box, and what each customer got each week."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pandas as pd

from sample_runs.simulate import clock
from tests.messy.plant import CUSTOMERS, ODD, Plant

Row = dict[str, object]
HOUR_S = 3600


@dataclass
class Box:
    """One box: what it was filled with at the press, what came out of others, what went into others."""

    name: str
    part_no: str
    closed_s: int
    filled: int
    came: int = 0
    went: int = 0
    sent: bool = False

    @property
    def inside(self) -> int:
        """Pieces that are in it."""
        return self.filled + self.came - self.went


@dataclass
class Store:
    """Rows of `containers`, `repacks` and `shipments`, and the truth about them.

    `shipped` counts by customer, part and week; `left_open` are those with a box that was sent twice.
    """

    plant: Plant
    boxes: dict[str, Box] = field(default_factory=dict)
    containers: list[Row] = field(default_factory=list)
    repacks: list[Row] = field(default_factory=list)
    shipments: list[Row] = field(default_factory=list)
    shipped: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    left_open: set[tuple[str, str, str]] = field(default_factory=set)
    sent_twice: list[str] = field(default_factory=list)

    def fill(self, press_id: str, pieces: pd.DataFrame) -> None:
        """Fill boxes with what a press made, a few for each part."""
        rng, times = self.plant.dice.rng, self.plant.readings[press_id].time_s
        for part_no, made in pieces.groupby("part_no", sort=True):
            second = made["second"].to_numpy()
            edges = np.unique(rng.choice(times, size=min(4, len(times)), replace=False))
            for begin, end in pairwise(edges.tolist()):
                inside = int(((second > begin) & (second <= end)).sum())
                if inside > 20:
                    self._box(str(part_no), press_id, (begin, end), inside)

    def _box(self, part_no: str, press_id: str, window: tuple[int, int], filled: int, quantity: object = None) -> Box:
        name = self.plant.dice.one_of(ODD).format(f"B-{len(self.boxes) + 1}")
        box = self.boxes[name] = Box(name, part_no, window[1], filled)
        row = {"container_id": name, "part_no": part_no, "press_id": press_id}
        quantity = filled if quantity is None else quantity
        self.containers.append({**row, "opened_at": window[0], "closed_at": window[1], "quantity": quantity})
        return box

    def pack_over(self) -> None:
        """Pack parts of boxes or whole ones over, in chains and two into one."""
        dice = self.plant.dice
        by_part: dict[str, list[Box]] = defaultdict(list)
        for box in list(self.boxes.values()):
            by_part[box.part_no].append(box)
        for part_no, boxes in sorted(by_part.items()):
            at_s = max(box.closed_s for box in boxes) + HOUR_S
            press_id = str(next(row["press_id"] for row in self.containers if row["part_no"] == part_no))
            while dice.chance(0.6):
                sources = [box for box in boxes if box.inside > 1]
                if not sources:
                    break
                dice.happened.add("pieces packed over")
                target = self._box(part_no, press_id, (at_s, at_s), 0, quantity="")
                for source in sources[-2:] if dice.chance(0.4) else sources[-1:]:
                    at_s += dice.ticks(60, 900)
                    whole = dice.chance(0.3)
                    self._move(
                        source, target, source.inside if whole else int(dice.rng.integers(1, source.inside)), at_s
                    )
                target.closed_s = at_s
                if dice.chance(0.5):
                    self.containers[-1]["quantity"] = target.came
                boxes.append(target)
                at_s += HOUR_S

    def _move(self, source: Box, target: Box, pieces: int, at_s: int) -> None:
        source.went += pieces
        target.came += pieces
        row = {"time": at_s, "from_container": source.name, "to_container": target.name, "quantity": pieces}
        self.repacks.append(row)

    def send(self) -> None:
        """Send most of the boxes, to the part's customer or another, one of them twice now and then."""
        dice = self.plant.dice
        last_s = self._packed_s()
        for box in self.boxes.values():
            if not box.inside or not dice.chance(0.75):
                continue
            at_s = max(last_s, box.closed_s) + dice.ticks(600, 6 * 24 * HOUR_S)
            twice = dice.chance(0.04)
            first = self._send(box, at_s, twice)
            if twice:
                dice.happened.add("a box sent twice")
                self.sent_twice.append(box.name)
                self.left_open |= {first, self._send(box, at_s + HOUR_S, twice)}

    def _packed_s(self) -> int:
        """When pieces were packed over last."""
        return max((int(str(row["time"])) for row in self.repacks), default=0)

    def _send(self, box: Box, at_s: int, twice: bool) -> tuple[str, str, str]:
        """Send a box; returns customer, part and week."""
        dice, book = self.plant.dice, self.plant.book
        day = clock.plant_day(book, at_s)
        named = dice.one_of(("", self.plant.customer(box.part_no), dice.one_of(CUSTOMERS)))
        # Whether a box was packed over before or after it left on the same day, a bare date does not say.
        same_day = (box.came or box.went) and day <= clock.plant_day(book, self._packed_s())
        when: object = day if not twice and not same_day and dice.chance(0.5) else at_s
        if isinstance(when, dt.date):
            dice.happened.add("a delivery with a bare date")
        row = {"shipment_id": f"S-{len(self.shipments) + 1}", "container_id": box.name, "shipped_at": when}
        self.shipments.append({**row, "customer": named})
        year, week, _ = day.isocalendar()
        key = (named or self.plant.customer(box.part_no), box.part_no, f"{year}-W{week:02d}")
        self.shipped[key] += box.inside
        box.sent = True
        return key

    def traced(self, box: Box) -> set[int]:
        """What the pieces of a box in `trace` may add up to: what came in and, once some went, what is left too."""
        return {box.filled + box.came} | ({box.inside} if box.went else set())
