"""What the scales of the simulator read."""

from __future__ import annotations

import numpy as np
import pytest

from sample_runs.simulate.book import Coil, DieDesign, OutDesign, PlantPlan
from sample_runs.simulate.press import Era, Played, PlayedMounting
from sample_runs.simulate.script import CoilChangeNote, Script
from sample_runs.simulate.weights import TO_BE_WEIGHED, receive, used_kg, weigh

DIE = DieDesign("D-1", 50.0, strip_width_mm=100.0, rated_spm=60.0, operations=("cutoff",), outs=(OutDesign("A", 1),))
BOOK = PlantPlan(
    "Test",
    "UTC",
    stop_after_s=60,
    shifts=(),
    breaks=(),
    presses=(),
    dies=(DIE,),
    parts=(),
    densities_kg_m3={"DC01": 8000.0},
)
COIL = Coil("C-1", "L-1", material="DC01", width_mm=100.0, thickness_mm=1.0, weight_kg=100.0)


def mounted(at_s: int, fed: int, weighed_kg: float | None = None, rest_kg: float | None = None) -> PlayedMounting:
    return PlayedMounting(
        "C-1", "D-1", mounted_s=at_s, weighed_kg=weighed_kg, removed_s=at_s + 50, rest_kg=rest_kg, fed=fed, finished=fed
    )


def test_a_thousand_strokes_of_50_mm_use_40_kg_of_a_strip_of_100_by_1_mm() -> None:
    assert used_kg(BOOK, COIL, mounted(0, 1000)) == pytest.approx(40.0)
    assert used_kg(BOOK, COIL, PlayedMounting("C-1", "", 0, None)) == 0.0


def test_a_coil_bought_later_is_heavier_than_what_is_used_of_it() -> None:
    played = {"P1": Played([Era("", "", "", False)], [0], [mounted(0, 1000), mounted(100, 500)])}
    bought = receive(
        BOOK,
        {"C-1": Coil("C-1", "L-1", material="DC01", width_mm=100.0, thickness_mm=1.0, weight_kg=None)},
        played,
        np.random.default_rng(1),
    )
    assert 60 < (bought["C-1"].weight_kg or 0) < 110


def test_what_is_weighed_follows_what_was_used_over_all_mountings() -> None:
    first, second = mounted(0, 1000, None, TO_BE_WEIGHED), mounted(100, 500, TO_BE_WEIGHED, None)
    events = [
        CoilChangeNote(0, "mount", "C-1"),
        CoilChangeNote(50, "remove", "C-1", TO_BE_WEIGHED),
        CoilChangeNote(100, "mount", "C-1", TO_BE_WEIGHED),
        CoilChangeNote(150, "remove", "C-1"),
    ]
    script = Script("P1", events=list(events))
    played = {"P1": Played([Era("", "", "", False)], [0], [first, second])}
    weigh(BOOK, {"C-1": COIL}, played, [script], np.random.default_rng(1), scale_error=0.0)
    assert (first.rest_kg, second.weighed_kg, second.rest_kg) == (60.0, 60.0, None)
    weights = [event.weight_kg for event in script.events if isinstance(event, CoilChangeNote)]
    assert weights == [None, 60.0, 60.0, None]
