"""Capability by part, characteristic, press and die; the indices themselves are checked in tests/published."""

import numpy as np
import pandas as pd
import pytest

from monitor.figures.judgement.capability import capabilities, subgroups, with_die


def values(out, numbers, press_id="P1"):
    return pd.DataFrame(
        {
            "part_no": "S-3",
            "characteristic": "height",
            "press_id": press_id,
            "time_us": np.repeat(np.arange(len(numbers) // 5), 5),
            "out": out,
            "value": numbers,
        }
    )


def test_values_of_one_time_and_out_are_a_subgroup():
    both = pd.concat([values(1, [1.0] * 10), values(2, [2.0] * 10)])
    groups = subgroups(both)
    assert groups.shape == (4, 5)
    assert sorted(set(groups[:, 0])) == [1.0, 2.0]
    assert (groups.std(axis=1) == 0).all()


def test_the_die_is_the_one_that_was_in_the_press():
    changes = [
        {"press_id": "P1", "time": 0, "event": "set", "die_id": "D-1"},
        {"press_id": "P1", "time": 5, "event": "pull", "die_id": "D-1"},
        {"press_id": "P1", "time": 7, "event": "set", "die_id": "D-2"},
    ]
    told = with_die(pd.DataFrame({"press_id": "P1", "time_us": [-1, 0, 4, 5, 6, 7]}), changes)
    assert list(told["die_id"]) == ["", "D-1", "D-1", "", "", "D-2"]


def test_cpk_of_a_centred_process_by_hand():
    rng = np.random.default_rng(3)
    numbers = rng.normal(10.0, 0.1, 500)
    table = capabilities(values(1, numbers).assign(die_id="D-1"), {("S-3", "height"): {"lower": 9.6, "upper": 10.4}})
    assert len(table) == 1
    row = table.iloc[0]
    # Half the tolerance over three standard deviations: 0.4 / 0.3.
    assert row["ppk"] == pytest.approx(0.4 / 0.3, rel=0.1)
    assert row["cpk_low"] < row["cpk"] < row["cpk_high"]
    assert (row["n"], row["subgroups"]) == (500, 100)


def test_a_characteristic_that_the_plant_book_does_not_know_gives_no_row():
    assert capabilities(values(1, [1.0] * 10).assign(die_id=""), {}).empty
