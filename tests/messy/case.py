"""One random plant with everything that was written down about it, and what must come out."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, files
from sample_runs.simulate.script import CoilChangeNote, Script
from tests.invented.jobs import Dice
from tests.messy.boxes import Store
from tests.messy.changes import Noted, noted
from tests.messy.delivery import Delivery, Row, as_text, deliver
from tests.messy.loggers import Seen, Spread, seen, spread
from tests.messy.notes import EDGE_S, StopTruth, reasons, written
from tests.messy.plant import EXTRA, Plant, random_plant
from tests.messy.rechecks import Desk

#: How many plants in a row read often, before one that reads seldom.
_DENSE_OF = 3
# The plant may lie ahead of the clock of this computer.
_ANY_CLOCK = "\n[times]\ndays_ahead = 36500\n"


@dataclass
class Case:
    """A plant, its notes, its files, and the truth by press."""

    seed: int
    plant: Plant
    folder: Path
    edge_s: int = EDGE_S
    views: dict[str, Seen] = field(default_factory=dict)
    stops: dict[str, StopTruth] = field(default_factory=dict)
    noted: dict[str, Noted] = field(default_factory=dict)
    spreads: dict[str, Spread] = field(default_factory=dict)
    desk: Desk = field(init=False)
    store: Store = field(init=False)
    delivery: Delivery = field(default_factory=Delivery)

    def __post_init__(self) -> None:
        self.desk, self.store = Desk(self.plant.dice), Store(self.plant)

    @property
    def features(self) -> list[str]:
        """What happened in it, in words."""
        return sorted(self.plant.dice.happened)


def make(seed: int, folder: Path) -> Case:
    """Play a plant, note it as people do, write its files to a folder, and keep the truth about it."""
    rng = np.random.default_rng([seed, 12])
    dense = seed % _DENSE_OF != 0
    days = int(rng.choice([1, 1, 2] if dense else [1, 2, 4]))
    plant = random_plant(seed, dense, days)
    case = Case(seed, plant, folder)
    span, dice = (plant.from_s, plant.to_s), plant.dice
    never = tuple(die.die_id for die in plant.book.dies)
    uses = [
        (event.at_s, event.coil_id)
        for script in plant.scripts.values()
        for event in script.events
        if isinstance(event, CoilChangeNote) and event.event in ("mount", "splice")
    ]
    case.edge_s = int(rng.choice([EDGE_S, EDGE_S, 120, 600]))
    scripts = []
    for name, script in plant.scripts.items():
        readings = plant.readings[name]
        view = case.views[name] = seen(readings, *span, plant.stop_after_s(name), plant.slowest_spm(name))
        notes = written(dice, view)
        case.stops[name] = reasons(view, notes, case.edge_s)
        others = [die for die in never if all(die not in _dies_of(s) for s in plant.scripts.values())]
        if dense and name != EXTRA:
            case.noted[name] = noted(dice, script, readings, others, uses)
        else:
            case.noted[name] = Noted(list(script.events))
        scripts.append(Script(name, [], case.noted[name].events, notes))
        cuts = [event.at_s for event in case.noted[name].events]
        case.spreads[name] = spread(plant.book, plant.book.press(name), readings, cuts, span)
        if dense:
            case.desk.look_at(name, plant.pieces[name], readings, plant.dry_s(name))
        case.store.fill(name, plant.pieces[name])
    case.store.pack_over()
    case.store.send()
    _write(case, scripts)
    return case


def _dies_of(script: Script) -> set[str]:
    return {event.die_id for event in script.events if not isinstance(event, CoilChangeNote)}


def _write(case: Case, scripts: list[Script]) -> None:
    """Write plant.toml, the tables in several files each, and the readings of each press."""
    plant, dice, folder = case.plant, case.plant.dice, case.folder
    folder.mkdir(parents=True, exist_ok=True)
    files.write_plant_toml(folder / "plant.toml", plant.book)
    with (folder / "plant.toml").open("a", encoding="utf-8") as toml:
        toml.write(_ANY_CLOCK)
    if case.edge_s != EDGE_S:
        text = (folder / "plant.toml").read_text("utf-8")
        (folder / "plant.toml").write_text(f"entered_edge_s = {case.edge_s}\n{text}", "utf-8")
    tables = _tables(case, scripts)
    last = datetime.fromtimestamp(plant.to_s, ZoneInfo(plant.book.timezone)).date()
    case.delivery = deliver(dice, folder, tables, last, plant.book.dies[-1].die_id)
    for number, (name, readings) in enumerate(plant.readings.items()):
        frame = files.strokes_frame(name, readings)
        case.delivery.files += _write_strokes(case, f"strokes-{number}", frame, ~readings.glitch)


def _tables(case: Case, scripts: list[Script]) -> dict[str, list[Row]]:
    plant, dice = case.plant, case.plant.dice
    book = plant.book
    reasons_ = [("PUN", "broken punch", "tooling"), ("MIS", "misfeed", "tooling"), ("LUB", "no oil", "press")]
    causes = [("BUR", "burr too high", "pierce;notch", "tooling"), ("SCR", "scratch", "", "handling")]
    causes.append(("MSF", "misfeed", "pilot", "setup;press"))
    made = {(out.part_no, die.die_id) for die in book.dies for out in die.outs}
    frames = files.book_tables(book) | {
        "coils": files.coils_frame(list(plant.coils.values())),
        "reasons": pd.DataFrame(reasons_, columns=["reason", "name", "kind"]),
        "causes": pd.DataFrame(causes, columns=["cause", "name", "operations", "origin"]),
        "routes": pd.DataFrame([(part, 1, die) for part, die in sorted(made)], columns=["part_no", "step", "die_id"]),
        "inspections": pd.DataFrame(case.desk.inspections),
        "dispositions": pd.DataFrame(case.desk.dispositions),
        "containers": pd.DataFrame(case.store.containers),
        "repacks": pd.DataFrame(case.store.repacks),
        "shipments": pd.DataFrame(case.store.shipments),
    }
    frames |= files.event_tables(scripts)
    styles = (files.UTC, files.OFFSET, files.LOCAL)
    return {name: as_text(frame, book.timezone, dice.one_of(styles)) for name, frame in frames.items() if len(frame)}


def _write_strokes(case: Case, stem: str, frame: pd.DataFrame, sound: np.ndarray) -> list[Path]:
    """Readings of a press in one file or two, with one reading in both; they keep their order.

    A few of the sound ones are wrong at first, and corrected in a file of their own.
    """
    plant, dice = case.plant, case.plant.dice
    middle, found = len(frame) // 2, []
    parts = [frame[: middle + 1], frame[middle:]] if dice.chance(0.3) else [frame]
    corrected = dice.chance(0.3)
    if corrected:
        dice.happened.add("readings corrected")
        first, last = _corrected(dice, frame, sound)
        parts = [first, last]
    for number, part in enumerate(parts):
        path = case.folder / f"{stem}-{number}"
        if not corrected and dice.chance(0.3):
            found.append(path.with_suffix(".parquet"))
            files.write_parquet(found[-1], part)
            continue
        found.append(path.with_suffix(".csv"))
        # Few readings cannot settle which of two equal hours a plant time means.
        style = dice.one_of((files.UTC, files.OFFSET, files.LOCAL) if plant.dense else (files.UTC, files.OFFSET))
        text = files.time_text(part["time"].to_numpy(), plant.book.timezone, style, settle=False)
        files.write_csv(found[-1], part.assign(time=text))
    return found


def _corrected(dice: Dice, frame: pd.DataFrame, sound: np.ndarray) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The readings with some of them a stroke too low, and those again as they should be."""
    rises = np.diff(frame["counter"].to_numpy(), prepend=0)
    rows = np.flatnonzero((rises >= 2) & (rises < 1000) & sound & np.roll(sound, 1))[1:]
    chosen = np.sort(dice.rng.choice(rows, min(5, len(rows)), replace=False))
    first, last = frame.assign(recorded_at=""), frame.iloc[chosen].assign(recorded_at="2026-12-02T10:00:00Z")
    where = first.index[chosen]
    first.loc[where, "counter"] -= 1
    first.loc[where, "recorded_at"] = "2026-12-01T10:00:00Z"
    return first, last


def day_after(plant: Plant) -> str:
    """The plant day on which what was played has ended, as ISO text."""
    return str(clock.plant_day(plant.book, plant.to_s) + timedelta(days=0))
