"""Measure the verdict against its bar and write the tables of docs/method-verdict.md.

    python -m tests.benchmarks.verdict_report [--series 200] [--plants 20] [--seed 1] [--write docs/method-verdict.md]

What is judged, and how, stands in `verdict_bar`.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks import verdict_others
from tests.benchmarks.verdict_bar import (
    HEADER,
    SCATTERS,
    SCENARIOS,
    TIE,
    TRULY_WORSE,
    PlantOutcome,
    Tally,
    plant_outcome,
    tally,
    tie_shares,
)
from tests.benchmarks.verdict_plants import SAMPLES

THREE = "lot ×5, wear ×4 and press ×2.5"
ROBUST = ("nothing planted", "one bad lot ×3", "wear ×4")
_AMOUNTS = ((0, 100), (100, 300), (300, 1000), (1000, np.inf))
_BEGIN, _END = "<!-- measured: begin -->", "<!-- measured: end -->"
Say = Callable[[str], None]


@dataclass(frozen=True)
class Bar:
    """One line of the bar: what is asked, the bound, the figure measured, and what the data could show."""

    what: str
    bound: float
    measured: float
    at_most: bool = False
    could: float | None = None
    of: int | None = None

    def row(self) -> str:
        """The line as it stands in the table; a figure past its bound is marked."""
        met = self.measured <= self.bound if self.at_most else self.measured >= self.bound
        told = f"{self.measured:.1%}" + (f" of {self.of}" if self.of is not None else "")
        could = f"{self.could:.1%}" if self.could is not None else "–"
        sign = "≤" if self.at_most else "≥"
        return f"| {self.what} | {sign} {self.bound:.0%} | {told}{'' if met else ' (**missed**)'} | {could} |"


def main() -> None:
    """Measure everything and print it; write it into a document where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=200)
    parser.add_argument("--plants", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path)
    asked = parser.parse_args()
    text = "\n".join(report(asked.series, asked.plants, asked.seed))
    if asked.write:
        _put(asked.write, text)


def report(series: int, plants: int, seed: int) -> list[str]:
    """All tables as lines of a document, printed as they come; the bar first, the scenarios behind it after."""
    behind: list[str] = []

    def say(text: str) -> None:
        print(text, flush=True)
        behind.append(text)

    by_name = _scenarios(say, series, seed)
    _by_amount(say, by_name)
    _others(say, max(series // 2, 1), seed)
    planted = [plant_outcome(number, seed) for number in range(plants)]
    empty = [plant_outcome(number, seed, planted=0) for number in range(2 * plants)]
    head = [
        f"`python -m tests.benchmarks.verdict_report --seed {seed} --series {series} --plants {plants}`:\n",
        "| what | bar | measured | could be seen |\n|---|---|---|---|",
        *(bar.row() for bar in _bars(by_name, planted, empty)),
        "\n" + _seconds(by_name, planted) + "\n",
    ]
    print("\n".join(head), flush=True)
    return [*head, *behind]


def _scenarios(say: Say, series: int, seed: int) -> dict[str, Tally]:
    say(HEADER)
    by_name = {}
    for name in (*SCENARIOS, TIE):
        by_name[name] = tally(name, series, seed)
        say(by_name[name].row(name))
    return by_name


def _by_amount(say: Say, by_name: dict[str, Tally]) -> None:
    say("\nThe same series by the rejects found in all: share in which all that was planted was found, of how many\n")
    names = [f"{low} to {high - 1}" if high < np.inf else f"{low} or more" for low, high in _AMOUNTS]
    say("| rejects in all | " + " | ".join(names) + " |\n" + "|---" * (len(names) + 1) + "|")
    for name in FOUND:
        cells = []
        for low, high in _AMOUNTS:
            mine = [one for one in by_name[name].outcomes if low <= one.rejected < high]
            cells.append(f"{_mean(all(one.found) for one in mine):.0%} of {len(mine)}" if mine else "–")
        say(f"| {name} | " + " | ".join(cells) + " |")


def _others(say: Say, series: int, seed: int) -> None:
    say("\nOther kinds of scatter (the rejects of a coil, lot or week rise and fall together; what could be *seen* is")
    say(
        "not known for these), samples of typically 30 to 600 and 15 to 80 pieces, and a handful beside full checks of "
        "thousands:\n"
    )
    say(HEADER)
    alike: dict[str, Tally] = {}
    for scatter in SCATTERS:
        for name in ROBUST:
            counted = tally(name, series, seed, scatter=scatter)
            say(counted.row(f"{name}, scatter by {scatter}"))
            alike.setdefault(scatter, Tally()).outcomes.extend(counted.outcomes)
    for name in ("nothing planted", *FOUND):
        say(tally(name, series, seed, pieces=SAMPLES).row(f"{name}, samples of 30 to 600"))
    for name in ROBUST:
        say(tally(name, series, seed, pieces=(15, 80)).row(f"{name}, few pieces"))
    for name in ROBUST:
        say(tally(name, series, seed, unequal=True).row(f"{name}, unequal inspections"))
    for scatter in ("lots", "weeks"):
        wrong = [line for line in alike[scatter].lines if not line.right]
        truly = sum(line.worse for line in wrong)
        say(
            f"\nScatter by {scatter}: of {len(wrong)} false lines {truly} name rows that truly were {TRULY_WORSE} times"
        )
        say("as bad or worse, for a reason that nobody noted.")
    say("\nOther shops (`tests/benchmarks/verdict_others.py`: 40 to 1500 rejects in all, lots of 1 to 20 coils, one")
    say("press that makes nearly everything, inspections at even times, wear in jumps, more scatter):\n")
    say(HEADER)
    whole = Tally()
    for name in (*verdict_others.SCENARIOS, TIE):
        counted = tally(name, series, seed, verdict_others.series_of)
        say(counted.row(name))
        whole.outcomes += counted.outcomes if name != TIE else []
    say(whole.row("**all of these but the last**"))


def _bars(by_name: dict[str, Tally], planted: list[PlantOutcome], empty: list[PlantOutcome]) -> Iterator[Bar]:
    whole = Tally([one for name, counted in by_name.items() if name != TIE for one in counted.outcomes])
    yield Bar("true factor named first, of the seen", 0.95, whole.first)
    yield Bar("false lines among lines given, single series", 0.05, whole.false, True, of=len(whole.lines))
    right, false = sum(one.right for one in planted), sum(one.false for one in planted)
    yield Bar("false lines among lines given, plants", 0.05, false / max(right + false, 1), True, of=right + false)
    yield Bar("interval of the rate ratio covers the truth, over all", 0.92, whole.covered)
    yield Bar("the same, worst scenario", 0.87, min(one.covered for one in by_name.values() if one.right))
    yield Bar("silent where nothing is planted, plants", 0.95, _mean(not one.false for one in empty), of=len(empty))
    ties = tie_shares(by_name[TIE])
    yield Bar("true tie: both named, of the seen", 0.85, ties["both named, of the seen"])
    yield Bar("true tie: both named, of the flagged", 0.90, ties["both named, of the flagged"])
    yield Bar("true tie: one side named alone", 0.04, ties["one side alone, of all"], True)
    yield Bar("tied where it is not, over all", 0.07, whole.tied_apart, True)
    for name in ("one bad lot ×3", "heat ×3", "one setup ×3"):
        yield Bar(f"tied where it is not, {name}", 0.07, by_name[name].tied_apart, True)
    yield Bar("tied though the data could tell, over all", 0.07, whole.tied_wrongly, True)
    for name, bound in FOUND.items():
        yield Bar(f"found: {name}", bound, by_name[name].found, could=by_name[name].seen)
        yield Bar(f"found, of the seen: {name}", bound, by_name[name].found_of_seen)
    troubles, seen = sum(one.planted for one in planted), sum(one.seen for one in planted)
    found = sum(one.found for one in planted) / max(troubles, 1)
    yield Bar("found: plant of 20 dies × 6 causes × 60 lots, 5 planted", 0.80, found, could=seen / max(troubles, 1))


FOUND = {
    "wear ×4": 0.95,
    "coil ends ×5": 0.95,
    "certificate value ×3": 0.95,
    "drift ×3": 0.95,
    THREE: 0.90,
    "one bad lot ×3": 0.50,
}


def _seconds(by_name: dict[str, Tally], planted: list[PlantOutcome]) -> str:
    each = [one.seconds for counted in by_name.values() for one in counted.outcomes]
    whole = np.mean([one.seconds for one in planted])
    return (
        f"CPU seconds on a shared machine: a series {np.mean(each):.2f} (bar 0.5; longest {max(each):.2f}), "
        f"the plant {whole:.1f} (bar 10)."
    )


def _mean(values: Iterable[bool]) -> float:
    return float(np.mean(list(values)))


def _put(document: Path, text: str) -> None:
    before, rest = document.read_text(encoding="utf-8").split(_BEGIN)
    after = rest.split(_END)[1]
    document.write_text(f"{before}{_BEGIN}\n\n{text}\n\n{_END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
