"""Faults, boxes and looks of the simulator."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sample_runs.simulate.quality import Fault, InspectionDesk, draw, strokes_since, windows

FACTS = pd.DataFrame(
    {
        "second": np.arange(40_000),
        "setting": np.arange(40_000) < 1000,
        "lot": ["L1", "L2"] * 20_000,
        "since_sharpening": np.arange(40_000),
        "from_head_m": np.arange(40_000) % 1000 / 10,
    }
)


def pieces(mounting: list[int]) -> pd.DataFrame:
    good = np.ones(len(mounting), dtype=np.int64)
    return pd.DataFrame({"mounting": mounting, "good": good, "rejected": 0 * good, "setup_pieces": 0 * good})


def test_boxes_never_go_over_an_edge_and_close_on_a_tick() -> None:
    second = np.array([1, 2, 3, 4, 6, 7, 8, 11, 12])
    assert windows(second, [0, 10, 20], quantity=4) == [(0, 5), (5, 10), (10, 20)]


def test_a_stretch_without_pieces_fills_no_box() -> None:
    assert windows(np.array([25]), [0, 10, 20, 30], quantity=4) == [(20, 30)]


def test_strokes_since_sharpening_start_again_at_a_service_and_dry_strokes_do_not_count() -> None:
    fed = np.array([True, True, False, True, True, True])
    assert strokes_since(np.arange(1, 7), fed, [4]).tolist() == [1, 2, 2, 3, 1, 2]
    assert strokes_since(np.arange(1, 7), fed, []).tolist() == [1, 2, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("fault", "where", "times"),
    [
        (Fault("BUR", 0.02, bad_lot="L2", lot_factor=4), FACTS["lot"] == "L2", 4.0),
        (Fault("BUR", 0.02, head_m=20, head_factor=5), FACTS["from_head_m"] < 20, 5.0),
    ],
)
def test_a_planted_factor_shows(fault: Fault, where: pd.Series, times: float) -> None:
    bad = draw(FACTS, [fault], np.random.default_rng(1)) == "BUR"
    run = ~FACTS["setting"].to_numpy()
    rate, usual = bad[where.to_numpy() & run].mean(), bad[~where.to_numpy() & run].mean()
    assert usual == pytest.approx(0.02, rel=0.15)
    assert rate / usual == pytest.approx(times, rel=0.15)


def test_wear_multiplies_the_rate_at_the_stated_strokes() -> None:
    fault = Fault("BUR", 0.01, worn_strokes=40_000, worn_factor=5)
    chances = fault.chances(FACTS)
    assert chances[0] == pytest.approx(0.01)
    assert chances[20_000] == pytest.approx(0.02)
    assert chances[-1] == pytest.approx(0.05, rel=1e-3)


def test_setting_pieces_are_never_bad() -> None:
    cause = draw(FACTS, [Fault("BUR", 1.0)], np.random.default_rng(1))
    assert set(cause[:1000]) == {""}


def test_a_look_finds_every_bad_piece_once_and_writes_a_row_a_cause() -> None:
    desk, made = InspectionDesk("P1"), pieces([0, 0, 0, 1])
    cause = np.array(["BUR", "", "SCR", "BUR"], dtype=object)
    desk.look(made, cause, np.array([0, 1, 2]), {"time": 5, "kind": "sample"})
    desk.look(made, cause, np.array([0, 1, 2, 3]), {"time": 9, "kind": "tub"})
    found = [(row["kind"], row["inspected"], row["cause"], row["rejected"]) for row in desk.inspections]
    assert found == [("sample", 3, "BUR", 1), ("sample", 3, "SCR", 1), ("tub", None, "BUR", 1)]
    assert made["rejected"].tolist() == [1, 0, 1, 1]
    assert desk.shared == {0, 1}


def test_a_clean_look_writes_one_row_without_a_cause() -> None:
    desk, made = InspectionDesk("P1"), pieces([0, 0])
    desk.look(made, np.array(["", ""], dtype=object), np.array([0, 1]), {"time": 5, "kind": "full"})
    assert [(row["cause"], row["rejected"]) for row in desk.inspections] == [("", 0)]
