"""Scales: what each coil weighed when it came, and what it weighed when somebody put it on a scale.

Weights move nothing in the press, so they are worked out once everything has been played.  An event that is to carry
a weight is planned with `TO_BE_WEIGHED` in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sample_runs.simulate.book import Coil, PlantPlan
from sample_runs.simulate.press import Played, PlayedMounting
from sample_runs.simulate.script import CoilChangeNote, Script

TO_BE_WEIGHED = -1.0


def used_kg(book: PlantPlan, coil: Coil, mounting: PlayedMounting) -> float:
    """Weight of the strip that one mounting fed."""
    if not mounting.die_id:
        return 0.0
    metres = mounting.fed * book.die(mounting.die_id).pitch_mm / 1000
    return metres * coil.width_mm * coil.thickness_mm * book.densities_kg_m3[coil.material] * 1e-6


def receive(
    book: PlantPlan, coils: Mapping[str, Coil], presses: Mapping[str, Played], rng: np.random.Generator
) -> dict[str, Coil]:
    """The coils with a received weight that no run of them uses up."""
    used = dict.fromkeys(coils, 0.0)
    for played in presses.values():
        for mounting in played.mountings:
            used[mounting.coil_id] += used_kg(book, coils[mounting.coil_id], mounting)
    return {
        name: coil
        if coil.weight_kg is not None
        else replace(coil, weight_kg=round(float(used[name] * rng.uniform(1.05, 1.6) + 5), 1))
        for name, coil in coils.items()
    }


def weigh(
    book: PlantPlan,
    coils: Mapping[str, Coil],
    presses: Mapping[str, Played],
    scripts: list[Script],
    rng: np.random.Generator,
    scale_error: float = 0.004,
) -> None:
    """Put a reading into every event that is to be weighed, and into the mounting it belongs to."""
    left = {name: coil.weight_kg or 0.0 for name, coil in coils.items()}
    mountings = [m for played in presses.values() for m in played.mountings]
    read: dict[tuple[int, str], float] = {}
    for mounting in sorted(mountings, key=lambda m: m.mounted_s):
        coil_id = mounting.coil_id
        if mounting.weighed_kg == TO_BE_WEIGHED:
            mounting.weighed_kg = read[mounting.mounted_s, coil_id] = _scale(left[coil_id], rng, scale_error)
        left[coil_id] -= used_kg(book, coils[coil_id], mounting)
        if mounting.rest_kg == TO_BE_WEIGHED and mounting.removed_s is not None:
            mounting.rest_kg = read[mounting.removed_s, coil_id] = _scale(left[coil_id], rng, scale_error)
    for script in scripts:
        script.events = [
            replace(event, weight_kg=read[event.at_s, event.coil_id])
            if isinstance(event, CoilChangeNote) and event.weight_kg == TO_BE_WEIGHED
            else event
            for event in script.events
        ]


def _scale(weight_kg: float, rng: np.random.Generator, error: float) -> float:
    return max(round(float(weight_kg * (1 + rng.normal(0, error))), 1), 0.0)
