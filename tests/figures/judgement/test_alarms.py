"""Alarms of the shift: a rise is called, an even rate is not, and what is too little to go by says nothing."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from typing import cast

import numpy as np
import pandas as pd
import pytest

from monitor.figures.judgement.alarms import alarms
from monitor.ledger import Snapshot
from tests.figures.given import SECOND, START_US, facts

HOUR = 3600 * SECOND
TODAY = dt.date(2026, 11, 2)
SINCE, UNTIL = START_US, START_US + 24 * HOUR


class Held:
    """A ledger that holds these rejects."""

    def __init__(self, rows: pd.DataFrame) -> None:
        self.rows = rows

    def facts(self, kind: str, from_date: dt.date, to_date: dt.date) -> pd.DataFrame:
        assert (kind, from_date) == ("rejects", dt.date(2026, 10, 5))
        assert to_date > TODAY + dt.timedelta(days=1)
        return self.rows


def looks(before: list[int], now: list[int], kind: str = "full", inspected: int = 1000) -> Snapshot:
    """An inspection an hour up to the shift and in it, with so many burrs each."""
    rows = []
    for place, rejected in enumerate([*before, *now], -len(before)):
        at_us = SINCE + place * HOUR
        same = {"inspection_id": f"I{place}", "kind": kind, "to_us": at_us + HOUR - 1, "from_us": at_us}
        rows.append({**same, "inspected": inspected})
        rows.append({**same, "cause": "BUR", "rejected": rejected})
    return cast(Snapshot, Held(facts("rejects", *rows)))


def test_a_rise_is_called_with_what_was_seen_and_what_is_usual() -> None:
    found = alarms(looks([2] * 30, [9, 11, 8]), TODAY, SINCE, UNTIL)
    assert found[["press_id", "die_id", "cause"]].to_numpy().tolist() == [["P1", "D1", "BUR"]]
    row = found.iloc[0]
    assert (row["rejected"], row["inspected"], row["usual"]) == (28, 3000, pytest.approx(0.002))
    assert row["at_us"] == SINCE + 2 * HOUR - 1


def test_an_even_rate_and_a_rise_of_yesterday_are_not() -> None:
    assert alarms(looks([2] * 30, [2, 3, 1, 2]), TODAY, SINCE, UNTIL).empty
    assert alarms(looks([2] * 30 + [15] * 2, [1, 2, 0]), TODAY, SINCE, UNTIL).empty


def test_false_alarms_are_as_rare_as_is_said() -> None:
    draw = np.random.default_rng(5)
    called = sum(
        len(alarms(looks(draw.poisson(2, 60).tolist(), draw.poisson(2, 8).tolist()), TODAY, SINCE, UNTIL))
        for _ in range(150)
    )
    # One in 500 inspections, 1200 inspections looked at: 2.4 are expected, a few more come of the rate being estimated.
    assert called <= 12


def test_too_little_to_go_by_and_tubs_say_nothing() -> None:
    assert alarms(looks([2] * 10, [9, 11, 8]), TODAY, SINCE, UNTIL).empty
    assert alarms(looks([0] * 30, [9, 11, 8]), TODAY, SINCE, UNTIL).empty
    assert alarms(looks([2] * 30, [9, 11, 8], kind="tub"), TODAY, SINCE, UNTIL).empty


def test_a_look_that_found_more_than_it_looked_at_says_nothing() -> None:
    # 3 looks at 1000 pieces with 2 bad ones each, and one at 1000 that is said to have found 1001: usual is 2 of 1000.
    assert alarms(looks([2] * 30, [2, 1001, 2, 2]), TODAY, SINCE, UNTIL).empty
    found = alarms(looks([2] * 29 + [1001], [9, 11, 8]), TODAY, SINCE, UNTIL)
    assert found["usual"].tolist() == [pytest.approx(0.002)]


def test_the_linear_algebra_keeps_to_one_thread_unless_told_otherwise() -> None:
    told = (
        "import os, sys; os.environ.pop('OPENBLAS_NUM_THREADS', None); import monitor; print('numpy' in sys.modules, "
    )
    ran = subprocess.run(
        [sys.executable, "-c", told + "os.environ['OPENBLAS_NUM_THREADS'])"], capture_output=True, text=True, check=True
    )
    assert ran.stdout.split() == ["False", "1"]
