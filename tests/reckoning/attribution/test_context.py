import numpy as np
import pandas as pd
import pytest

from monitor.reckoning.attribution.context import build


def test_rows_without_pieces_are_left_out_and_empty_text_is_not_known():
    rows = pd.DataFrame({"inspected": [50, 0, 60], "lot": ["B", "A", ""], "day": [1.0, 2.0, np.nan]})
    read = build(rows)
    assert read.kept.tolist() == [0, 2]
    assert read.names["lot"] == ("B",)
    assert read.levels["lot"].tolist() == [0, -1]
    assert np.isnan(read.numbers["day"][1])


def test_only_known_circumstances_are_taken():
    rows = pd.DataFrame(
        {
            "inspected": [5],
            "cert_yield_mpa": [300.0],
            "strokes_since_sharpening_4": [9.0],
            "operator": ["x"],
            "x": [1.0],
        }
    )
    assert set(build(rows).numbers) == {"cert_yield_mpa", "strokes_since_sharpening_4"}


def test_a_coil_or_lot_that_is_not_known_is_alone():
    rows = pd.DataFrame({"inspected": [5, 5, 5, 5], "lot": ["", "", "A", "A"], "coil_id": ["C1", "C1", "", ""]})
    read = build(rows)
    assert read.coil[0] == read.coil[1]
    assert read.coil[2] != read.coil[3]
    assert read.lot[0] == read.lot[1] != read.lot[2]
    assert read.lot[2] == read.lot[3]


def test_rows_hang_together_by_coil_lot_and_time():
    rows = pd.DataFrame(
        {
            "inspected": np.full(96, 10),
            "lot": np.repeat([f"L{k}" for k in range(24)], 4),
            "coil_id": np.repeat([f"C{k}" for k in range(48)], 2),
            "day": np.repeat(np.arange(48.0), 2),
        }
    )
    coil, lot, time, long = build(rows).groupings
    assert np.unique(coil.outer).size == 48
    assert np.unique(lot.outer).size == 24
    assert lot.outer_of_inner.size == 48
    assert np.unique(time.outer).size == 24
    assert np.unique(long.outer).size == 10
    for stretch in (time.outer, long.outer):
        assert all(np.unique(stretch[rows["day"] == day]).size == 1 for day in range(48))


def test_a_frame_without_pieces_looked_at_is_refused():
    with pytest.raises(ValueError, match="no column inspected"):
        build(pd.DataFrame({"lot": ["A"]}))
