"""The rows behind a line, counted by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd

from monitor.figures.judgement.proof import Proofs
from monitor.reckoning.attribution.suspects import Series, suspects
from shared.factors import Level
from tests.figures.bench_given import curve, named

LOTS = np.repeat(["L1", "L2", "L3", "L4"], 20)
ROWS = pd.DataFrame(
    {
        "inspected": 1000,
        "rejected": np.where(LOTS == "L2", 40, 8),
        "lot": LOTS,
        "coil_id": np.repeat([f"C{n}" for n in range(16)], 5),
        "press_id": np.tile(["P1", "P2"], 40),
        "day": 20_000 + np.arange(80) / 4,
    }
)


def test_the_rows_of_a_lot_are_held_against_all_others() -> None:
    told = Proofs(ROWS).of(named("lot", "L2"))
    assert told is not None
    assert told.bad.tolist() == (LOTS == "L2").tolist()
    assert (told.bad_inspected, told.bad_rejected) == (20_000, 800)
    assert (told.compared_inspected, told.compared_rejected) == (60_000, 480)
    assert (told.bad_rate, told.compared_rate) == (0.04, 0.008)


def test_every_line_of_the_verdict_has_its_rows_and_counts_the_same_pieces() -> None:
    lines = suspects([Series("D1", "BUR", ROWS, ROWS["rejected"].to_numpy())])
    assert "acts" in {line.verdict for line in lines}
    for line in lines:
        told = Proofs(ROWS).of(line.explanation, line.tied_with)
        assert told is not None, line
        assert (told.bad_inspected, told.bad_rejected) == (line.inspected, line.rejected), line


def test_both_sides_of_a_tie_have_their_rows() -> None:
    dull = np.where(LOTS == "L2", 200_000.0, np.tile(np.linspace(1000, 90_000, 20), 4))
    rows = ROWS.assign(strokes_since_sharpening=dull)
    lines = suspects([Series("D1", "BUR", rows, rows["rejected"].to_numpy())])
    tied = [line for line in lines if line.verdict == "tied"]
    assert {line.explanation.factor for line in tied} >= {"lot", "wear"}
    for line in tied:
        told = Proofs(rows).of(line.explanation, line.tied_with)
        assert told is not None, line
        assert told.bad_rejected == line.rejected, line


def test_rows_without_pieces_are_on_neither_side_and_a_name_that_is_gone_has_none() -> None:
    rows = pd.concat([ROWS, ROWS[:1].assign(inspected=0, rejected=0)], ignore_index=True)
    told = Proofs(rows).of(named("lot", "L1"))
    assert told is not None
    assert not told.bad[-1]
    assert not told.compared[-1]
    assert Proofs(ROWS).of(named("lot", "L9")) is None
    rising = curve("wear", Level("sharpening_rising"))
    assert Proofs(ROWS).of(rising, [named("lot", "L9")]) is None


def test_a_lot_whose_name_looks_like_several_levels_is_found() -> None:
    lots = np.where(LOTS == "L2", "L1; L3 station 1_2", LOTS)
    rows = ROWS.assign(lot=lots)
    told = Proofs(rows).of(named("lot", "L1; L3 station 1_2"))
    assert told is not None
    assert told.bad_rejected == 800
