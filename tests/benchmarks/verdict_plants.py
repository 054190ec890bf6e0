"""Invented dies with known troubles: coils, lots, sharpenings and runs in their natural order, and rejects from them.

Every series is drawn with its own base rate, lot sizes, inspection habit, wear shape and kind of scatter, so that
nothing can be fitted to one of them.  The truth is kept beside: what was planted, and its multiplier of every row.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

Rng = np.random.Generator

# Typical pieces of an inspection: from a sample out of a tub to what a press makes in half an hour.
PIECES = (60.0, 3000.0)
SAMPLES = (30.0, 600.0)


@dataclass
class Planted:
    """One trouble: its factor, the words a right line may name it by, and its multiplier of the rate a row."""

    factor: str
    names: frozenset[str]
    multiplier: np.ndarray
    also: frozenset[str] = frozenset()


@dataclass
class Truth:
    """What moves the rejects of one series; `alike` is the multiplier that its coil, lot or week gave a row."""

    base: np.ndarray
    planted: list[Planted] = field(default_factory=list)
    scatter: str = "beta-binomial"
    correlation: float = 0.0
    alike: np.ndarray | float = 1.0

    @property
    def rate(self) -> np.ndarray:
        """True share rejected a row."""
        rate = self.base.copy()
        for trouble in self.planted:
            rate = rate * trouble.multiplier
        return np.minimum(rate, 0.9)


def make_die(rng: Rng, lots: int | None = None, pieces: tuple[float, float] = PIECES) -> pd.DataFrame:
    """One die's inspections in time order, with everything that a ledger would know about them.

    `pieces` bounds the typical number of pieces in an inspection of this die.
    """
    lots = lots or int(rng.integers(24, 61))
    coils = _coils(rng, lots)
    rows = _inspections(rng, coils, pieces)
    rows = _sharpen(rng, rows)
    return rows.reset_index(drop=True)


def _coils(rng: Rng, lots: int) -> pd.DataFrame:
    small, large = sorted(rng.integers(3, 9, 2))
    per_lot = rng.integers(small, large + 1, lots)
    lot = np.repeat(np.arange(lots), per_lot)
    heats = np.cumsum(rng.random(lots) < rng.uniform(0.4, 0.9))
    supplier_of_heat = rng.integers(0, rng.integers(2, 5), heats.max() + 1)
    # Some lots are delivered mixed, so that coils of two lots alternate.
    order = np.arange(lot.size, dtype=float)
    order += np.where(rng.random(lot.size) < rng.uniform(0, 0.3), rng.normal(0, 4, lot.size), 0)
    turn = np.argsort(order)
    lot = lot[turn]
    length_m = rng.uniform(400, 1500) * rng.uniform(0.85, 1.1, lot.size)
    pitch_m = rng.uniform(0.012, 0.06)
    runs = np.cumsum(rng.random(lot.size) < 1 / rng.uniform(2.5, 10))
    presses = rng.integers(0, rng.integers(2, 4), runs.max() + 1)
    speed_of_run = np.round(rng.uniform(60, 200) * rng.uniform(0.85, 1.15, runs.max() + 1))
    heat_values = rng.normal(size=(heats.max() + 1, 3))
    lot_values = 0.7 * heat_values[heats] + 0.7 * rng.normal(size=(lots, 3))
    values = lot_values[lot] + 0.4 * rng.normal(size=(lot.size, 3))
    return pd.DataFrame(
        {
            "coil_id": [f"C{number}" for number in range(lot.size)],
            "lot": [f"L{number}" for number in lot],
            "heat": [f"H{heats[number]}" for number in lot],
            "supplier": [f"S{supplier_of_heat[heats[number]]}" for number in lot],
            "length_m": length_m,
            "strokes": np.round(length_m / pitch_m),
            "run": runs,
            "setup_id": [f"R{number}" for number in runs],
            "press_id": [f"P{presses[number]}" for number in runs],
            "speed": speed_of_run[runs],
            "cert_yield_mpa": 300 + 15 * values[:, 0],
            "cert_thickness_mm": 1.0 + 0.01 * values[:, 1],
            "cert_hardness_hv": 120 + 5 * values[:, 2],
        }
    )


def _inspections(rng: Rng, coils: pd.DataFrame, pieces: tuple[float, float]) -> pd.DataFrame:
    checks = int(rng.integers(2, 7))
    count = rng.integers(max(1, checks - 1), checks + 2, len(coils))
    which = np.repeat(np.arange(len(coils)), count)
    at = rng.random(which.size)
    ends = rng.random(which.size)
    at = np.where(ends < 0.12, 0.02 * rng.random(which.size), at)
    at = np.where(ends > 0.88, 1 - 0.02 * rng.random(which.size), at)
    order = np.lexsort([at, which])
    which, at = which[order], at[order]
    coil = coils.iloc[which].reset_index(drop=True)
    before = (coils["strokes"].cumsum() - coils["strokes"]).to_numpy()[which]
    stroke = before + at * coil["strokes"].to_numpy()
    start_of_run = pd.Series(before).groupby(coil["run"]).transform("min").to_numpy()
    typical = np.exp(rng.uniform(np.log(pieces[0]), np.log(pieces[1])))
    inspected = np.maximum(np.round(typical * np.exp(rng.normal(0, rng.uniform(0, 0.6), which.size))), 10)
    per_day = rng.uniform(20_000, 80_000)
    clock = stroke / per_day + rng.uniform(0, 0.02)
    coil["inspected"] = inspected
    coil["head_m"] = at * coil["length_m"].to_numpy()
    coil["tail_m"] = (1 - at) * coil["length_m"].to_numpy()
    coil["stroke"] = stroke
    coil["strokes_since_set"] = stroke - start_of_run
    coil["day"] = np.floor(clock)
    coil["shift"] = np.array(["early", "late", "night"])[np.floor(3 * (clock % 1)).astype(int) % 3]
    coil["speed_spm"] = np.round(coil["speed"] * rng.choice([1.0, 1.0, 0.95, 0.9], len(coil)))
    return coil.drop(columns=["length_m", "strokes", "run", "speed"])


def unequal_pieces(rng: Rng, rows: int) -> np.ndarray:
    """Pieces looked at where most inspections are a handful and a few are full checks of thousands."""
    few = rng.integers(5, 40)
    many = rng.random(rows) < rng.uniform(0.03, 0.15)
    size = few * np.exp(np.where(many, rng.normal(4.5, 0.7, rows), rng.normal(0, 0.3, rows)))
    return np.maximum(np.round(size), 3)


def _sharpen(rng: Rng, rows: pd.DataFrame) -> pd.DataFrame:
    stroke = rows["stroke"].to_numpy()
    at, clock = -rng.uniform(0, 250_000), []
    while at < stroke[-1]:
        clock.append(at)
        at += rng.uniform(150_000, 400_000)
    last = np.searchsorted(clock, stroke, side="right") - 1
    return rows.assign(strokes_since_sharpening=stroke - np.array(clock)[last]).drop(columns="stroke")


def base_truth(rng: Rng, rows: pd.DataFrame) -> Truth:
    """Nothing planted: one rate between 0.1 and 2 %."""
    return Truth(np.full(len(rows), np.exp(rng.uniform(np.log(0.001), np.log(0.02)))))


def draw(rng: Rng, rows: pd.DataFrame, truth: Truth, scatter: str = "beta-binomial") -> np.ndarray:
    """Rejects a row: beta-binomial with mild overdispersion, or another kind of scatter."""
    truth.scatter = scatter
    rate, pieces = truth.rate, rows["inspected"].to_numpy()
    excess = rng.uniform(0.0, 0.6)
    if scatter == "beta-binomial":
        correlation = truth.correlation = excess / max(np.median(pieces) - 1, 1)
        size = 1 / correlation - 1
        share = rng.beta(rate * size, (1 - rate) * size)
        return rng.binomial(pieces.astype(int), share).astype(float)
    if scatter == "coils":
        truth.alike = _noise(rng, rows["coil_id"], 0.35)
    elif scatter == "lots":
        truth.alike = _noise(rng, rows["lot"], 0.3)
    elif scatter == "weeks":
        truth.alike = _noise(rng, (rows["day"] // 7).astype(str), 0.3)
    else:
        truth.alike = rng.gamma(4, 1 / 4, len(rows))
    share = rate * truth.alike
    return rng.binomial(pieces.astype(int), np.minimum(share, 0.95)).astype(float)


def _noise(rng: Rng, group: pd.Series, sd: float) -> np.ndarray:
    codes, names = pd.factorize(group)
    return np.exp(rng.normal(-(sd**2) / 2, sd, len(names)))[codes]


# What can be planted.  Each takes the rows and returns the trouble.


def bad_level(factor: str, column: str, ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """One level of a text column runs at `ratio` times the rate."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        share = rows[column].value_counts(normalize=True)
        fit = share[(share < 0.7) & (share > 0.25 / len(share))].index
        level = rng.choice(sorted(fit if len(fit) else share.index))
        return Planted(factor, frozenset({level}), np.where(rows[column] == level, ratio, 1.0))

    return plant


def worn(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """Rate grows with strokes since sharpening to `ratio` at the end, along one of several curves."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        part = rows["strokes_since_sharpening"].to_numpy() / rows["strokes_since_sharpening"].max()
        bend, knee = rng.uniform(0.3, 0.6), rng.uniform(0.5, 0.75)
        curve = [
            lambda u: ratio**u,
            lambda u: 1 + (ratio - 1) * u,
            lambda u: 1 + (ratio - 1) * np.maximum(u - bend, 0) / (1 - bend),
            lambda u: 1 + (ratio - 1) / (1 + np.exp(-(u - knee) / 0.06)),
            lambda u: 1 + (ratio - 1) * u**2,
        ][rng.integers(5)]
        return Planted("wear", frozenset({"*"}), curve(part))

    return plant


def coil_ends(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """The first metres of a coil, the last, or both."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        length = rng.uniform(8, 40)
        head, tail = rows["head_m"].to_numpy() < length, rows["tail_m"].to_numpy() < length
        which = [head, tail, head | tail][rng.integers(3)]
        return Planted("coil_position", frozenset({"*"}), np.where(which, ratio, 1.0))

    return plant


def certificate(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """Rate follows one certificate value; `ratio` between its 10th and 90th percentile."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        name = rng.choice(["yield_mpa", "thickness_mm", "hardness_hv"])
        values = rows[f"cert_{name}"].to_numpy()
        low, high = np.quantile(values, [0.1, 0.9])
        part = (values - low) / (high - low) * rng.choice([-1, 1])
        return Planted("cert", frozenset({name}), ratio ** np.clip(part, -1, 2))

    return plant


def drifting(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """Rate changes steadily over the whole time, or jumps and stays."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        part = rows["day"].to_numpy() / rows["day"].max()
        if rng.random() < 0.3:
            return Planted("drift", frozenset({"*"}), np.where(part > rng.uniform(0.3, 0.7), ratio, 1.0))
        part = part if rng.random() < 0.7 else 1 - part
        return Planted("drift", frozenset({"*"}), ratio**part)

    return plant


def fresh_edge(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """The first strokes after sharpening are the bad ones."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        fresh = rows["strokes_since_sharpening"].to_numpy() < rng.uniform(5_000, 20_000)
        return Planted("wear", frozenset({"*"}), np.where(fresh, ratio, 1.0))

    return plant


def speeding(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """Rate follows press speed."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        speed = rows["speed_spm"].to_numpy()
        low, high = np.quantile(speed, [0.1, 0.9])
        return Planted("speed", frozenset({"*"}), ratio ** np.clip((speed - low) / (high - low), -0.5, 1.5))

    return plant


def after_setting(ratio: float) -> Callable[[Rng, pd.DataFrame], Planted]:
    """The first strokes after the die was set are the bad ones."""

    def plant(rng: Rng, rows: pd.DataFrame) -> Planted:
        first = rows["strokes_since_set"].to_numpy() < rng.uniform(2_000, 10_000)
        return Planted("setup", frozenset({"*"}), np.where(first, ratio, 1.0))

    return plant


def lot_on_a_dull_die(ratio: float) -> Callable[[Rng, pd.DataFrame], tuple[pd.DataFrame, Planted]]:
    """One lot runs only on a die duller than it ever is otherwise, and nothing else runs on it then.

    Either the lot or the dull edge is bad; nothing in the data can tell which.
    """

    def plant(rng: Rng, rows: pd.DataFrame) -> tuple[pd.DataFrame, Planted]:
        lots = rows["lot"].unique()
        lot = rng.choice(lots[len(lots) // 5 : -len(lots) // 5])
        mine = (rows["lot"] == lot).to_numpy()
        clock = rows["strokes_since_sharpening"].to_numpy().copy()
        start = np.nanmax(clock[~mine]) + rng.uniform(5_000, 60_000)
        clock[mine] = start + np.cumsum(rng.uniform(0.5, 1.5, mine.sum())) * rng.uniform(2_000, 8_000)
        moved = rows.assign(strokes_since_sharpening=clock)
        return moved, Planted("lot", frozenset({lot}), np.where(mine, ratio, 1.0), frozenset({"wear"}))

    return plant
