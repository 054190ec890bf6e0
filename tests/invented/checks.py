"""Inspections of a random plant: pieces looked at, rejected, mended or found good after all.

Every look covers pieces that agree in shift, clock hour, die, part and coil, so that nobody has to share them out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from sample_runs.simulate.book import PressSetup
from sample_runs.simulate.logger import LoggedReadings
from sample_runs.simulate.truth import spoil
from tests.invented.jobs import Dice

CAUSES = ("BUR", "SCR", "MSF")
SAME = ["shift_date", "shift", "hour_s", "die_id", "mounting", "setting"]


@dataclass
class Checks:
    """The looks taken so far, as rows of their tables (times in seconds since 1970 UTC)."""

    dice: Dice
    inspections: list[dict[str, object]] = field(default_factory=list)
    dispositions: list[dict[str, object]] = field(default_factory=list)
    containers: list[dict[str, object]] = field(default_factory=list)

    def look_at(self, press: PressSetup, pieces: pd.DataFrame, readings: LoggedReadings) -> None:
        """Inspect some of the pieces of a press and spoil those found bad."""
        if "inspections" not in self.dice.features:
            return
        times = readings.time_s[~readings.glitch]
        for part_no, made in pieces.groupby("part_no", sort=True):
            for from_s, to_s in alike(made, times):
                if self.dice.chance(0.25, "inspections"):
                    inside = made.index[(made["second"] > from_s) & (made["second"] <= to_s)]
                    self.inspect(press, str(part_no), pieces, inside.to_numpy(), (from_s, to_s))

    def inspect(
        self, press: PressSetup, part_no: str, pieces: pd.DataFrame, inside: np.ndarray, window: tuple[int, int]
    ) -> None:
        """One full or sample inspection of the pieces with the rows `inside`."""
        dice, (from_s, to_s) = self.dice, window
        kind = dice.one_of(("full", "sample"))
        inspected = len(inside) if kind == "full" else int(dice.rng.integers(1, min(len(inside), 8) + 1))
        row: dict[str, object] = {
            "inspection_id": f"I-{len(self.inspections) + 1}",
            "time": to_s + dice.ticks(5, 7200),
            "press_id": press.press_id,
            "kind": kind,
            "inspected": inspected,
            "part_no": part_no,
        }
        bad = dice.rng.multinomial(int(dice.rng.integers(0, min(inspected, 12) + 1)), [0.5, 0.3, 0.2])
        if dice.chance(0.4):
            row["container_id"] = self.fill_container(press, part_no, len(inside) - int(bad.sum()), window)
        else:
            row |= {"made_from": from_s, "made_to": to_s}
        waiting = list(inside)
        for cause, rejected in zip(CAUSES, bad.tolist(), strict=True):
            if rejected:
                self.inspections.append({**row, "cause": cause, "rejected": rejected})
                self.decide(row, cause, pieces, [waiting.pop() for _ in range(rejected)])
        if not bad.sum():
            self.inspections.append({**row, "cause": "", "rejected": 0})

    def fill_container(self, press: PressSetup, part_no: str, quantity: int, window: tuple[int, int]) -> str:
        """A container of what was made in the window, less what was taken out of it."""
        name = f"B-{len(self.containers) + 1}"
        self.containers.append(
            {
                "container_id": name,
                "part_no": part_no,
                "press_id": press.press_id,
                "opened_at": window[0],
                "closed_at": window[1],
                "quantity": quantity,
            }
        )
        return name

    def decide(self, row: dict[str, object], cause: str, pieces: pd.DataFrame, bad: list[int]) -> None:
        """Some rejected pieces are mended or found good; the rest stay rejected."""
        mended = found_good = 0
        if self.dice.chance(0.3, "dispositions"):
            mended = int(self.dice.rng.integers(0, len(bad) + 1))
            found_good = int(self.dice.rng.integers(0, len(bad) - mended + 1))
        for outcome, count in (("rework", mended), ("found_good", found_good)):
            if count:
                self.dispositions.append(
                    {
                        "disposition_id": f"X-{len(self.dispositions) + 1}",
                        "inspection_id": row["inspection_id"],
                        "cause": cause,
                        "time": int(str(row["time"])) + 3600,
                        "outcome": outcome,
                        "pieces": count,
                    }
                )
        spoil(pieces, bad[:mended], "reworked")
        spoil(pieces, bad[mended + found_good :], "rejected")

    def tables(self) -> dict[str, pd.DataFrame]:
        """The looks as tables of the contract."""
        causes = [("BUR", "burr too high", "pierce;notch", "tooling"), ("SCR", "scratch", "", "handling")]
        causes.append(("MSF", "misfeed", "pilot", "setup;press"))
        return {
            "causes": pd.DataFrame(causes, columns=["cause", "name", "operations", "origin"]),
            "inspections": pd.DataFrame(self.inspections),
            "dispositions": pd.DataFrame(self.dispositions),
            "containers": pd.DataFrame(self.containers),
        }


def alike(made: pd.DataFrame, times: np.ndarray) -> Iterator[tuple[int, int]]:
    """Stretches between two readings in which all the pieces of a part agree, five pieces or more."""
    made = made.sort_values("second", kind="stable")
    second = made["second"].to_numpy()
    group = made.groupby(SAME, sort=False).ngroup().to_numpy()
    starts = np.concatenate([[0], np.flatnonzero(np.diff(group)) + 1])
    ends = np.concatenate([starts[1:], [len(group)]])
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        before = second[start - 1] if start else second[0] - 1
        after = second[end] if end < len(second) else times[-1] + 1
        inside = times[(times >= before) & (times < after)]
        if made["setting"].iloc[start] or len(inside) < 2:
            continue
        from_s, to_s = int(inside[0]), int(inside[-1])
        if np.count_nonzero((second > from_s) & (second <= to_s)) >= 5:
            yield from_s, to_s
