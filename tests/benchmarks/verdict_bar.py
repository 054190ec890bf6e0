"""Operating characteristics of the verdict on invented plants with known troubles; `verdict_report` prints them.

A line is right when a planted trouble has its factor (and level, where there are levels) or is named as another name
of it, and the rate in its bad rows truly is higher.  A trouble is *seen* when a likelihood-ratio test that knows
everything else (the other troubles and how the rejects scatter) gives p <= 5e-5: 2 % after correction for about 400
levels and shapes looked at in a series.  A line could be *told* from the others it is tied with when the data are at
least 20 times likelier with the true trouble than with any of their rows at a ratio of their own, all else known.
A tie is *true* when its rows are those of the trouble but for a tenth of the pieces: no data of that die could part
the two, such as a setting in which one coil was run and nothing else.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from scipy import optimize, special

from monitor.reckoning.attribution import candidates, context, stepwise
from monitor.reckoning.attribution.candidates import side
from monitor.reckoning.attribution.columns import named
from monitor.reckoning.attribution.findings import FALSE_ALARM, Found, findings
from monitor.reckoning.attribution.lines import VerdictLine
from monitor.reckoning.attribution.suspects import Series, Suspect, suspects
from monitor.reckoning.statistics.multiplicity import benjamini_hochberg
from shared.factors import Explanation
from tests.benchmarks import verdict_plants as plants
from tests.benchmarks.verdict_plants import Planted, Rng, Truth

SEEN_AT = 5e-5
TOLD_AT = 20.0
SAME_ROWS = 0.9
TRULY_WORSE = 1.3
Plant = Callable[[Rng, pd.DataFrame], Planted]

SCENARIOS: dict[str, tuple[Plant, ...]] = {
    "nothing planted": (),
    "one bad lot ×3": (plants.bad_level("lot", "lot", 3),),
    "wear ×4": (plants.worn(4),),
    "coil ends ×5": (plants.coil_ends(5),),
    "certificate value ×3": (plants.certificate(3),),
    "drift ×3": (plants.drifting(3),),
    "press ×2.5": (plants.bad_level("press", "press_id", 2.5),),
    "supplier ×2.5": (plants.bad_level("supplier", "supplier", 2.5),),
    "heat ×3": (plants.bad_level("heat", "heat", 3),),
    "one setup ×3": (plants.bad_level("setup", "setup_id", 3),),
    "speed ×3": (plants.speeding(3),),
    "fresh edge ×4": (plants.fresh_edge(4),),
    "first strokes after setting ×4": (plants.after_setting(4),),
    "lot ×5, wear ×4 and press ×2.5": (
        plants.bad_level("lot", "lot", 5),
        plants.worn(4),
        plants.bad_level("press", "press_id", 2.5),
    ),
}
TIE = "bad lot ×4 only on a dull die"
SCATTERS = ("gamma", "coils", "lots", "weeks")
PLANT_KINDS: tuple[Plant, ...] = (
    plants.bad_level("lot", "lot", 4),
    plants.worn(4),
    plants.coil_ends(5),
    plants.certificate(3),
    plants.bad_level("press", "press_id", 2.5),
    plants.drifting(3),
)


@dataclass
class Given:
    """One line as given: whether it is right, its interval against the truth, and what it is tied with.

    `twin` says that all it is tied with are the very rows of the trouble, `worse` that the rate in its rows truly was
    higher, whatever made it so.
    """

    right: bool
    names: frozenset[str]
    covered: bool
    tied: bool
    told: bool
    twin: bool
    worse: bool


@dataclass
class Outcome:
    """What one series showed: lines in order, which troubles were seen and which found."""

    lines: list[Given]
    seen: list[bool]
    found: list[bool]
    seconds: float
    rejected: int


@dataclass
class Tally:
    """Counts over the series of one scenario."""

    outcomes: list[Outcome] = field(default_factory=list)

    @property
    def lines(self) -> list[Given]:
        """All lines given."""
        return [line for outcome in self.outcomes for line in outcome.lines]

    @property
    def right(self) -> list[Given]:
        """The lines that name what was planted."""
        return [line for line in self.lines if line.right]

    @property
    def false(self) -> float:
        """Share of false lines among the lines given."""
        return _part(not line.right for line in self.lines)

    @property
    def covered(self) -> float:
        """Share of right lines whose interval covers the truth."""
        return _part(line.covered for line in self.right)

    @property
    def tied(self) -> float:
        """Share of right lines that are called tied."""
        return _part(line.tied for line in self.right)

    @property
    def tied_apart(self) -> float:
        """Share of right lines that are called tied where they are not: true ties are left out."""
        return _part(line.tied for line in self.right if not line.twin)

    @property
    def tied_wrongly(self) -> float:
        """Share of right lines that are called tied though the data could tell."""
        return _part(line.tied and line.told for line in self.right)

    @property
    def seen(self) -> float:
        """Share of series in which all that was planted could be seen."""
        return _part(all(one.seen) for one in self.outcomes if one.seen)

    @property
    def first(self) -> float:
        """Share of series with a right line first, of those in which something could be seen."""
        return _part(bool(one.lines) and one.lines[0].right for one in self.outcomes if any(one.seen))

    @property
    def found(self) -> float:
        """Share of series in which all that was planted was found."""
        return _part(all(one.found) for one in self.outcomes if one.found)

    @property
    def found_of_seen(self) -> float:
        """Share of troubles that were found, of those that could be seen."""
        return _part(
            found for one in self.outcomes for found, was in zip(one.found, one.seen, strict=False) if one.seen and was
        )

    def row(self, name: str) -> str:
        """One row of the table."""
        silent = _part(not one.lines for one in self.outcomes)
        shares = (self.seen, self.first, self.found, self.found_of_seen)
        cells = [name, str(len(self.outcomes)), *map(_share, shares), f"{_share(self.false)} of {len(self.lines)}"]
        cells += map(_share, (self.covered, self.tied, self.tied_apart, self.tied_wrongly, silent))
        return "| " + " | ".join(cells) + " |"


HEADER = (
    "| scenario | series | all seen | right factor first, of the seen | all planted found | found, of the seen | "
    "false lines | interval covers | called tied | tied where it is not | tied, but could be told | silent |\n"
    "|---|---|---|---|---|---|---|---|---|---|---|---|"
)


def _part(values: Iterable[bool]) -> float:
    """Share of what is true; NaN of nothing."""
    listed = list(values)
    return float(np.mean(listed)) if listed else np.nan


def _share(part: float) -> str:
    return "–" if np.isnan(part) else f"{part:.1%}"


def _likelihood(rows: pd.DataFrame, rejected: np.ndarray, truth: Truth, trouble: Planted) -> Callable[..., float]:
    """Minus the log likelihood at a level and a strength of some shape, all but one trouble known."""
    pieces, base = rows["inspected"].to_numpy(), truth.rate / trouble.multiplier
    size = 1 / max(truth.correlation, 1e-7) - 1

    def misfit(shape: np.ndarray, level: float, strength: float) -> float:
        share = np.clip(base * np.exp(level + strength * shape), 1e-9, 0.95)
        bad, good = share * size, (1 - share) * size
        return -float(np.sum(special.betaln(rejected + bad, pieces - rejected + good) - special.betaln(bad, good)))

    return misfit


def oracle(rows: pd.DataFrame, rejected: np.ndarray, truth: Truth, trouble: Planted) -> float:
    """Chance, without the trouble, of a likelihood ratio as large as that of its true shape; all else known."""
    misfit, shape = _likelihood(rows, rejected, truth, trouble), np.log(trouble.multiplier)
    without = optimize.minimize_scalar(lambda level: misfit(shape, level, 0.0), bounds=(-2, 3), method="bounded").fun
    best = optimize.minimize(lambda at: misfit(shape, *at), [0.0, 1.0], method="Nelder-Mead")
    return float(special.ndtr(-np.sqrt(max(2 * (without - best.fun), 0.0)))) if best.x[1] > 0 else 1.0


def could_be_told(
    rows: pd.DataFrame, rejected: np.ndarray, truth: Truth, trouble: Planted, others: Iterable[VerdictLine]
) -> bool:
    """Whether the data speak clearly for the true trouble against the rows of each other line."""
    if truth.scatter != "beta-binomial":
        return False
    misfit = _likelihood(rows, rejected, truth, trouble)

    def best(shape: np.ndarray) -> float:
        return float(optimize.minimize(lambda at: misfit(shape, *at), [0.0, 0.8], method="Nelder-Mead").fun)

    true = best(np.log(trouble.multiplier))
    return all(best(other.bad.astype(float)) - true >= np.log(TOLD_AT) for other in others)


def true_ratio(line: VerdictLine, rows: pd.DataFrame, trouble: Planted) -> float:
    """Ratio of the true mean multipliers between the rows that a line calls bad and those it compares them with."""
    return _mean_ratio(line, rows, trouble.multiplier)


def _mean_ratio(line: VerdictLine, rows: pd.DataFrame, rate: np.ndarray) -> float:
    pieces = rows["inspected"].to_numpy()
    bad = np.average(rate[line.bad], weights=pieces[line.bad])
    return float(bad / np.average(rate[line.compared], weights=pieces[line.compared]))


def matches(line: VerdictLine, trouble: Planted) -> bool:
    """Whether a line names this trouble, by itself or by another name of the very same rows."""
    return any(_names(one, trouble) for one in (line.explanation, *line.aliases))


def _names(explanation: Explanation, trouble: Planted) -> bool:
    """Whether an explanation is of the factor of a trouble, and of its level or value where it has one."""
    level = explanation.levels[0]
    of_it = level.name in trouble.names and level.code in ("is", "value_high", "value_low", "value_from", "value_under")
    return explanation.factor == trouble.factor and ("*" in trouble.names or of_it)


def given(found: Found, rows: pd.DataFrame, rejected: np.ndarray, truth: Truth) -> Given:
    """Judge one line against the truth; a line that names the trouble only as its near-namesake counts as right."""
    line = found.line
    mine = [trouble for trouble in truth.planted if matches(line, trouble)]
    others = [trouble for rival in found.rivals for trouble in truth.planted if matches(rival, trouble)]
    ratio = true_ratio(line, rows, mine[0]) if mine else 1.0
    names = {named(one.factor) for one in (line, *found.rivals)}
    apart = [rival for rival in found.rivals if side(rival.factor) != side(line.factor)]
    told = twin = False
    if apart and (mine or others):
        trouble = (mine or others)[0]
        beside = [one for one in (line, *apart) if not matches(one, trouble)]
        told = could_be_told(rows, rejected, truth, trouble, beside)
        twin = all(_same_rows(one, trouble, rows) for one in beside)
    return Given(
        right=(bool(mine) and ratio > 1.1) or bool(others),
        names=frozenset(names),
        covered=line.ratio[1] <= ratio <= line.ratio[2] if mine else True,
        tied=bool(apart),
        told=told,
        twin=twin,
        worse=_mean_ratio(line, rows, truth.rate * truth.alike) >= TRULY_WORSE,
    )


def _same_rows(line: VerdictLine, trouble: Planted, rows: pd.DataFrame) -> bool:
    """Whether a line speaks of the rows of a trouble, but for a tenth of the pieces."""
    pieces, strength = rows["inspected"].to_numpy(), trouble.multiplier
    bad = strength > (strength.max() + strength.min()) / 2
    return float(pieces[bad & line.bad].sum()) >= SAME_ROWS * float(pieces[bad | line.bad].sum())


def explain(rows: pd.DataFrame, rejected: np.ndarray) -> list[Found]:
    """Lines given for one series, in the order of the answer, with what the benchmark needs to judge them."""
    read = context.build(rows)
    answer = findings(stepwise.Rejects.of(read, candidates.build(read), rejected[read.kept]))
    adjusted = benjamini_hochberg([one.line.corrected for one in answer.found])
    lines = [one for one, chance in zip(answer.found, adjusted, strict=True) if chance <= FALSE_ALARM]
    return sorted(lines, key=lambda one: -one.line.explained[0])


def outcome(rows: pd.DataFrame, rejected: np.ndarray, truth: Truth) -> Outcome:
    """Explain one series and hold it against the truth."""
    began = time.process_time()
    lines = explain(rows, rejected)
    seconds = time.process_time() - began
    judged = [given(one, rows, rejected, truth) for one in lines]
    found = [
        any(matches(line, trouble) for one in lines for line in (one.line, *one.rivals)) for trouble in truth.planted
    ]
    known = truth.planted if truth.scatter == "beta-binomial" else []
    seen = [oracle(rows, rejected, truth, trouble) <= SEEN_AT for trouble in known]
    return Outcome(judged, seen, found, seconds, int(rejected.sum()))


Drawn = tuple[pd.DataFrame, np.ndarray, Truth]


def series_of(
    name: str,
    number: int,
    seed: int,
    scatter: str = "beta-binomial",
    pieces: tuple[float, float] = plants.PIECES,
    unequal: bool = False,
) -> Drawn:
    """Draw one series of a scenario, the same for the same number and seed."""
    rng = np.random.default_rng([seed, number, *name.encode()])
    rows = plants.make_die(rng, pieces=pieces)
    if unequal:
        rows["inspected"] = plants.unequal_pieces(rng, len(rows))
    truth = plants.base_truth(rng, rows)
    if name == TIE:
        rows, trouble = plants.lot_on_a_dull_die(4)(rng, rows)
        truth.planted.append(trouble)
    else:
        truth.planted += [plant(rng, rows) for plant in SCENARIOS[name]]
    return rows, plants.draw(rng, rows, truth, scatter), truth


def tally(name: str, series: int, seed: int, draw: Callable[..., Drawn] = series_of, **how: Any) -> Tally:
    """Measure one scenario; `draw` takes its name, number and seed, and what else is said `how`."""
    return Tally([outcome(*draw(name, number, seed, **how)) for number in range(series)])


def tie_shares(counted: Tally) -> dict[str, float]:
    """How often both sides of a true tie are named, and one side alone."""
    both = [any({"lot", "wear"} <= line.names for line in one.lines) for one in counted.outcomes]
    pairs = list(zip(both, counted.outcomes, strict=True))
    return {
        "both named, of the seen": _part(named_both for named_both, one in pairs if any(one.seen)),
        "both named, of the flagged": _part(named_both for named_both, one in pairs if one.lines),
        "one side alone, of all": _part(bool(one.lines) and not named_both for named_both, one in pairs),
    }


def plant_of(number: int, seed: int, planted: int) -> tuple[list[Series], list[Truth]]:
    """A plant of 20 dies with 60 lots and 6 causes each, some of the 120 series with a trouble."""
    rng = np.random.default_rng([seed, number, planted])
    chosen = set(map(int, rng.choice(120, planted, replace=False)))
    series, truths = [], []
    for die in range(20):
        rows = plants.make_die(rng, lots=60)
        for cause in range(6):
            truth = plants.base_truth(rng, rows)
            if die * 6 + cause in chosen:
                truth.planted.append(PLANT_KINDS[rng.integers(len(PLANT_KINDS))](rng, rows))
            series.append(Series(f"D{die}", f"cause {cause}", rows, plants.draw(rng, rows, truth)))
            truths.append(truth)
    return series, truths


@dataclass
class PlantOutcome:
    """What a plant showed."""

    right: int
    false: int
    found: int
    seen: int
    found_of_seen: int
    planted: int
    seconds: float


def plant_outcome(number: int, seed: int, planted: int = 5) -> PlantOutcome:
    """Explain a whole plant and hold it against the truth."""
    series, truths = plant_of(number, seed, planted)
    began = time.process_time()
    answer = suspects(series)
    seconds = time.process_time() - began
    lines = [line for line in answer if line.verdict in ("acts", "tied")]
    right = false = found = seen = found_of_seen = 0
    for one, truth in zip(series, truths, strict=True):
        mine = [line for line in lines if (line.die_id, line.cause) == (one.die_id, one.cause)]
        good = [any(_line_matches(line, trouble) for trouble in truth.planted) for line in mine]
        # Lines of a tie name each other, so that a tie is right or false as a whole.
        right += sum(good)
        false += len(good) - sum(good)
        for trouble in truth.planted:
            found += any(good)
            was_seen = oracle(one.rows, np.asarray(one.rejected), truth, trouble) <= SEEN_AT
            seen += was_seen
            found_of_seen += was_seen and any(good)
    return PlantOutcome(
        right, false, found=found, seen=seen, found_of_seen=found_of_seen, planted=planted, seconds=seconds
    )


def _line_matches(line: Suspect, trouble: Planted) -> bool:
    return any(_names(one, trouble) for one in (line.explanation, *line.tied_with))
