"""Other shops than those of `verdict_plants`, on which nothing of the method was tried out before it was measured.

Lots of one coil or of twenty, one press or six with an unequal share, inspections at even times or at random, of equal
or very different size, certificates of the lot or of the coil, edges that last evenly or not, wear that saturates or
goes in jumps, ends that fade, and scatter of up to two and a half times chance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from tests.benchmarks import verdict_plants as plants
from tests.benchmarks.verdict_bar import TIE, Drawn
from tests.benchmarks.verdict_plants import Planted, Rng, Truth

Plant = Callable[[Rng, pd.DataFrame], Planted]
CERTIFICATES = {"yield_mpa": 300.0, "thickness_mm": 1.0, "hardness_hv": 120.0}


def series_of(name: str, number: int, seed: int) -> Drawn:
    """Draw one series of a scenario, the same for the same number and seed."""
    rng = np.random.default_rng([seed, number, *b"other", *name.encode()])
    rows = make_die(rng)
    truth = _base(rng, rows)
    if name == TIE:
        rows, trouble = plants.lot_on_a_dull_die(4)(rng, rows)
        truth.planted.append(trouble)
    else:
        truth.planted += [plant(rng, rows) for plant in SCENARIOS[name]]
    return rows, _draw(rng, rows, truth), truth


def make_die(rng: Rng) -> pd.DataFrame:
    """One die's inspections in time order."""
    coils = _coils(rng)
    ends = coils["strokes"].cumsum().to_numpy()
    at = _moments(rng, ends, coils["strokes"].to_numpy())
    which = np.minimum(np.searchsorted(ends, at, side="right"), len(coils) - 1)
    rows = coils.iloc[which].reset_index(drop=True)
    begun = (ends - coils["strokes"].to_numpy())[which]
    part = (at - begun) / rows["strokes"].to_numpy()
    clock = at / np.exp(rng.uniform(np.log(5_000), np.log(300_000)))
    shifts = np.array(["A", "B", "C", "D"])[: rng.integers(2, 5)]
    rows["inspected"] = _pieces(rng, len(rows))
    rows["head_m"], rows["tail_m"] = part * rows["length_m"], (1 - part) * rows["length_m"]
    rows["strokes_since_set"] = at - pd.Series(begun).groupby(rows["setup_id"]).transform("min").to_numpy()
    rows["day"], rows["shift"] = clock, shifts[np.floor(2 * clock).astype(int) % shifts.size]
    rows["strokes_since_sharpening"] = _since_sharpening(rng, at, float(ends[-1]))
    return rows.drop(columns=["length_m", "strokes"])


def _coils(rng: Rng) -> pd.DataFrame:
    coils = int(rng.integers(60, 400))
    lot = np.cumsum(rng.random(coils) < 1 / np.exp(rng.uniform(np.log(1.5), np.log(20))))
    if rng.random() < 0.5:
        lot = lot[np.argsort(np.arange(coils) + rng.normal(0, 3, coils) * (rng.random(coils) < 0.3))]
    heat = lot // rng.integers(1, 5)
    run = np.cumsum(rng.random(coils) < 1 / np.exp(rng.uniform(np.log(1.2), np.log(30))))
    supplier = rng.integers(0, rng.integers(2, 7), heat.max() + 1)
    presses = int(rng.integers(2, 7))
    press = rng.choice(presses, run.max() + 1, p=rng.dirichlet(np.ones(presses)))
    speed = rng.uniform(30, 600) * np.exp(rng.normal(0, rng.choice([0.02, 0.1, 0.25]), run.max() + 1))
    length_m = rng.uniform(150, 3000) * rng.uniform(0.5, 1.05, coils)
    table = pd.DataFrame({"coil_id": [f"K{number}" for number in range(coils)], "length_m": length_m})
    names = {"lot": ("B", lot), "heat": ("S", heat), "setup_id": ("R", run)}
    names |= {"supplier": ("V", supplier[heat]), "press_id": ("P", press[run])}
    for column, (letter, codes) in names.items():
        table[column] = [f"{letter}{code}" for code in codes]
    for name, middle in CERTIFICATES.items():
        own = rng.normal(size=coils) * rng.choice([0.0, 0.5])
        value = 0.6 * rng.standard_t(5, heat.max() + 1)[heat] + 0.6 * rng.standard_t(5, lot.max() + 1)[lot] + own
        table[f"cert_{name}"] = middle * (1 + 0.04 * value)
    return table.assign(strokes=length_m / rng.uniform(0.004, 0.15), speed_spm=np.round(speed[run]))


def _moments(rng: Rng, ends: np.ndarray, strokes: np.ndarray) -> np.ndarray:
    """Strokes at which somebody looked: evenly or at random, often also at the ends of every coil."""
    looks = int(max(np.exp(rng.uniform(np.log(150), np.log(3000))), ends.size / 2))
    even = (np.arange(looks) + rng.random()) * ends[-1] / looks
    at = even if rng.random() < 0.5 else rng.uniform(0, ends[-1], looks)
    if rng.random() < 0.6:
        at = np.concatenate([at, ends - 0.997 * strokes, ends - 0.003 * strokes])
    return np.sort(at)


def _pieces(rng: Rng, rows: int) -> np.ndarray:
    size = np.exp(rng.uniform(np.log(20), np.log(3000)))
    scatter = [np.ones(rows), np.exp(rng.normal(0, 0.8, rows)), np.where(rng.random(rows) < 0.1, 10, 1)]
    return np.maximum(np.round(size * scatter[rng.integers(3)]), 5)


def _since_sharpening(rng: Rng, at: np.ndarray, last: float) -> np.ndarray:
    """Strokes since sharpening of edges that last evenly or not; sometimes not known before the first."""
    life, uneven = np.exp(rng.uniform(np.log(30_000), np.log(800_000))), rng.random() < 0.5
    moments = [-rng.uniform(0, life)]
    while moments[-1] < last:
        moments.append(moments[-1] + life * (0.1 + rng.weibull(2) if uneven else rng.uniform(0.9, 1.1)))
    known = np.array(moments)
    since = at - known[np.searchsorted(known, at, side="right") - 1]
    unknown = (at < known[1]) & (rng.random() < 0.3)
    return since if unknown.all() else np.where(unknown, np.nan, since)


def _base(rng: Rng, rows: pd.DataFrame) -> Truth:
    """One rate at which 40 to 1500 rejects are found in all."""
    rejects = np.exp(rng.uniform(np.log(40), np.log(1500)))
    return Truth(np.full(len(rows), np.clip(rejects / rows["inspected"].sum(), 2e-5, 0.05)))


def _draw(rng: Rng, rows: pd.DataFrame, truth: Truth) -> np.ndarray:
    rate, pieces = truth.rate, rows["inspected"].to_numpy()
    mean = np.average(pieces, weights=pieces)
    truth.correlation = max(rng.uniform(0, 1.5) / max(mean - 1, 1), 1e-9)
    size = 1 / truth.correlation - 1
    return rng.binomial(pieces.astype(int), rng.beta(rate * size, (1 - rate) * size)).astype(float)


def _worn(ratio: float) -> Plant:
    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        strokes = rows["strokes_since_sharpening"].to_numpy()
        strokes = np.where(np.isnan(strokes), np.nanmedian(strokes), strokes)
        part = np.minimum(strokes / np.quantile(strokes, 0.98), 1.3)
        curve = [
            1 + (ratio - 1) * part**3,
            1 + (ratio - 1) * (1 - np.exp(-3 * part)),
            ratio ** (part**1.5),
            1 + (ratio - 1) * np.floor(3 * part) / 3,
        ][rng.integers(4)]
        return Planted("wear", frozenset({"*"}), curve)

    return plant


def _coil_ends(ratio: float) -> Plant:
    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        reach, head, tail = rng.uniform(3, 60), rows["head_m"].to_numpy(), rows["tail_m"].to_numpy()
        where = [head, tail, np.minimum(head, tail)][rng.integers(3)]
        fades = 1 + (ratio - 1) * np.exp(-where / reach)
        return Planted(
            "coil_position", frozenset({"*"}), fades if rng.random() < 0.5 else 1 + (ratio - 1) * (where < reach)
        )

    return plant


def _certificate(ratio: float) -> Plant:
    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        name = rng.choice(list(CERTIFICATES))
        values = rows[f"cert_{name}"].to_numpy() * rng.choice([-1, 1])
        low, high = np.quantile(values, [0.1, 0.9])
        part = (values - low) / (high - low)
        steep = ratio ** np.clip(part, -1, 2)
        curve = steep if rng.random() < 0.6 else np.where(part > rng.uniform(0.5, 1), ratio, 1.0)
        return Planted("cert", frozenset({name}), curve)

    return plant


def _drifting(ratio: float) -> Plant:
    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        part, moment = rows["day"].to_numpy() / rows["day"].max(), rng.uniform(0.2, 0.6)
        slowly = 1 + (ratio - 1) / (1 + np.exp(-12 * (part - moment)))
        curve = [ratio**part, np.where(part > moment, 1 / ratio, 1.0), slowly][rng.integers(3)]
        return Planted("drift", frozenset({"*"}), curve)

    return plant


SCENARIOS: dict[str, tuple[Plant, ...]] = {
    "nothing planted": (),
    "one bad lot ×3": (plants.bad_level("lot", "lot", 3),),
    "wear ×4": (_worn(4),),
    "coil ends ×5": (_coil_ends(5),),
    "certificate value ×3": (_certificate(3),),
    "drift ×3": (_drifting(3),),
    "press ×2.5": (plants.bad_level("press", "press_id", 2.5),),
    "supplier ×2.5": (plants.bad_level("supplier", "supplier", 2.5),),
    "lot ×5, wear ×4 and press ×2.5": (
        plants.bad_level("lot", "lot", 5),
        _worn(4),
        plants.bad_level("press", "press_id", 2.5),
    ),
}
