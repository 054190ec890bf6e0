"""Random small plants in contract files, with the exact truth about them.

The truth comes from `sample_runs.simulate`, which plays every stroke and owes nothing to the product.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, files, truth, weights
from sample_runs.simulate.book import (
    DieDesign,
    OutDesign,
    PartDesign,
    PlannedBreak,
    PlannedShift,
    PlantPlan,
    PressSetup,
)
from sample_runs.simulate.logger import LoggedReadings, read
from sample_runs.simulate.press import play
from sample_runs.simulate.script import Script
from tests.invented.checks import Checks
from tests.invented.jobs import Dice, Store, write_script
from tests.invented.loggers import write_habits

CLEAN = frozenset({"splice", "stops"})
ALL_FEATURES = CLEAN | {
    *("remount", "weighed", "late_remove", "coil_first", "dry", "feeds", "no_first_off", "no_die"),
    *("blanked", "part_change", "cut", "cut_splice", "joint", "set_again", "split_stop", "closed"),
    *("rollover", "reset", "glitch", "gap", "repeats", "inspections", "dispositions"),
}
ALL_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIRST_DATES = {
    "Europe/Berlin": (date(2026, 10, 24), date(2026, 3, 28), date(2026, 6, 8)),
    "America/Chicago": (date(2026, 10, 31), date(2026, 7, 6)),
    "Asia/Kolkata": (date(2026, 2, 2),),
    "UTC": (date(2020, 12, 30),),
}
OPERATIONS = ("pierce", "notch", "pilot", "idle", "form", "bend", "coin", "idle")


@dataclass(frozen=True)
class Truth:
    """What must come out of one random plant.

    Times in the frames are seconds since 1970 UTC (`_s`); `from_s` to `to_s` is the range that was played,
    from one plant-day start to another.  `features` says what happened in it.
    """

    folder: Path
    book: PlantPlan
    from_s: int
    to_s: int
    features: frozenset[str]
    shifts: pd.DataFrame
    hours: pd.DataFrame
    stops: pd.DataFrame
    coils: pd.DataFrame
    strokes_by_press: dict[str, int]
    readings: dict[str, LoggedReadings]


def random_plant(seed: int, folder: Path, *, days: int | None = None, features: Iterable[str] = ALL_FEATURES) -> Truth:
    """Write a random plant of one to three presses and `days` days to `folder` and return its truth."""
    dice = Dice(np.random.default_rng(seed), frozenset(features))
    plan = Plan(dice, int(dice.rng.integers(1, 4)) if days is None else days)
    return plan.write(Path(folder))


@dataclass
class Plan:
    """A random plant of so many days while it is being made up."""

    dice: Dice
    days: int
    store: Store = field(default_factory=Store)

    @property
    def rng(self) -> np.random.Generator:
        return self.dice.rng

    # -- the book -----------------------------------------------------------------------------------------

    def book(self) -> tuple[PlantPlan, date]:
        """A plant book and the first plant day."""
        zone = str(self.rng.choice(sorted(FIRST_DATES)))
        first = FIRST_DATES[zone][int(self.rng.integers(len(FIRST_DATES[zone])))]
        shifts, breaks = SHIFT_PATTERNS[int(self.rng.integers(len(SHIFT_PATTERNS)))]
        presses = tuple(self.press(number) for number in range(1, int(self.rng.integers(1, 4)) + 1))
        dies = tuple(self.die(number) for number in range(1, len(presses) * 2 + 1))
        parts = tuple(
            PartDesign(part_no, "DC01", 1.0, 5.0, name="shim") for die in dies for part_no in die.part_numbers
        )
        closed = ((first + timedelta(days=self.days - 1)).isoformat(),) if self.dice.chance(0.2, "closed") else ()
        stop_after_s = float(self.rng.choice([60, 45, 90, 120]))
        book = PlantPlan(
            "Test plant",
            zone,
            stop_after_s=stop_after_s,
            shifts=shifts,
            breaks=breaks,
            presses=presses,
            dies=dies,
            parts=parts,
            densities_kg_m3={"DC01": 7850.0},
            closed=closed,
        )
        return book, first

    def press(self, number: int) -> PressSetup:
        """A press of 20 to 100 strokes a minute, with a counter that rolls over or one that also counts feeds."""
        feeds = self.dice.chance(0.3, "feeds")
        modulus = None if feeds or not self.dice.chance(0.4, "rollover") else int(self.rng.choice([10_000, 100_000]))
        return PressSetup(
            press_id=f"P{number}",
            rated_spm=float(self.rng.integers(20, 100)),
            counter_modulus=modulus,
            lead_in_mm=float(self.rng.choice([0, 0, 900, 2500, 6000])) if "splice" in self.dice.features else 0.0,
            stop_after_s=None if self.dice.chance(0.7) else float(self.rng.choice([30, 75, 150])),
            feeds=feeds,
        )

    def die(self, number: int) -> DieDesign:
        """A die of 1 to 16 stations and 1 to 3 outs, of one part or of as many parts as outs."""
        rng = self.rng
        stations = int(rng.integers(1, 17))
        outs = int(rng.choice([1, 1, 2, 2, 3]))
        many = self.dice.chance(0.5)
        listed = many or self.dice.chance(0.6)
        parting = [stations if not listed else int(rng.integers(1, stations + 1)) for _ in range(outs)]
        parting[int(rng.integers(outs))] = stations
        operations = [str(rng.choice(OPERATIONS)) for _ in range(stations)]
        operations[-1] = "cutoff"
        return DieDesign(
            die_id=f"D-{100 + number}",
            pitch_mm=float(rng.integers(8, 120)) / 2,
            strip_width_mm=40.0,
            rated_spm=float(rng.integers(20, 100)),
            operations=tuple(operations),
            outs=tuple(
                OutDesign(f"{100 + number}-{n if many else 0}", station) for n, station in enumerate(parting, start=1)
            ),
            outs_listed=listed,
        )

    # -- played and written -------------------------------------------------------------------------------

    def write(self, folder: Path) -> Truth:
        """Play the plant, write its files, return its truth."""
        book, first = self.book()
        from_s = clock.plant_day_start_s(book, first)
        to_s = clock.plant_day_start_s(book, first + timedelta(days=self.days))
        dies = {die.die_id: die for die in book.dies}
        scripts = [
            write_script(
                self.dice,
                self.store,
                book=book,
                press=press,
                dies=list(book.dies[2 * n : 2 * n + 2]),
                from_s=from_s,
                to_s=to_s,
            )
            for n, press in enumerate(book.presses)
        ]
        played = {s.press_id: play(book.press(s.press_id), dies, s, from_s) for s in scripts}
        coils = weights.receive(book, self.store.coils, played, self.rng)
        weights.weigh(book, coils, played, scripts, self.rng)
        readings, presses, checks = {}, [], Checks(self.dice)
        for script in scripts:
            press, strokes = book.press(script.press_id), played[script.press_id]
            habits = write_habits(self.dice, book, press=press, script=script, played=strokes, window=(from_s, to_s))
            readings[press.press_id] = read(press, strokes, habits, from_s, to_s)
            found = truth.press_truth(
                book, press, script=script, played=strokes, readings=readings[press.press_id], from_s=from_s, to_s=to_s
            )
            checks.look_at(press, found.pieces, readings[press.press_id])
            presses.append(found)
        tables = files.book_tables(book) | checks.tables()
        tables["coils"] = files.coils_frame(list(coils.values()))
        self.write_files(folder, book, scripts, tables, readings)
        return Truth(
            folder=folder,
            book=book,
            from_s=from_s,
            to_s=to_s,
            features=frozenset(self.dice.happened),
            shifts=truth.shifts(presses),
            hours=truth.hours(presses),
            stops=pd.concat([press.stops for press in presses], ignore_index=True),
            coils=truth.coils(presses, book, coils),
            strokes_by_press={name: len(strokes.stroke_s) for name, strokes in played.items()},
            readings=readings,
        )

    def write_files(
        self,
        folder: Path,
        book: PlantPlan,
        scripts: list[Script],
        tables: dict[str, pd.DataFrame],
        readings: dict[str, LoggedReadings],
    ) -> None:
        """Write every table, each in one of the ways the contract allows."""
        folder.mkdir(parents=True, exist_ok=True)
        files.write_plant_toml(folder / "plant.toml", book)
        tables["reasons"] = pd.DataFrame(
            [("PUN", "broken punch", "tooling"), ("MIS", "misfeed", "tooling"), ("LUB", "no oil", "press")],
            columns=["reason", "name", "kind"],
        )
        for name, frame in (tables | files.event_tables(scripts)).items():
            if len(frame):
                files.write_csv(folder / f"{name}.csv", files.as_written(frame, book.timezone, self.style()))
        for press_id, read_now in readings.items():
            self.write_strokes(folder, book, press_id, files.strokes_frame(press_id, read_now))

    def write_strokes(self, folder: Path, book: PlantPlan, press_id: str, frame: pd.DataFrame) -> None:
        """Strokes of a press as one file, or cut in two with one reading standing in both."""
        middle = len(frame) // 2
        split = self.dice.chance(0.3, "repeats")
        for number, part in enumerate((frame[: middle + 1], frame[middle:]) if split else (frame,)):
            path = folder / f"strokes-{press_id}-{number}"
            if self.dice.chance(0.3):
                files.write_parquet(path.with_suffix(".parquet"), part)
                continue
            text = files.time_text(part["time"].to_numpy(), book.timezone, self.style(), settle=False)
            files.write_csv(path.with_suffix(".csv"), part.assign(time=text))

    def style(self) -> str:
        """One of the ways to write times."""
        return self.dice.one_of((files.UTC, files.OFFSET, files.LOCAL))


SHIFT_PATTERNS: tuple[tuple[tuple[PlannedShift, ...], tuple[PlannedBreak, ...]], ...] = (
    (
        (
            PlannedShift("Early", "06:00", "14:00", ALL_DAYS),
            PlannedShift("Late", "14:00", "22:00", ALL_DAYS),
            PlannedShift("Night", "22:00", "06:00", ALL_DAYS),
        ),
        (
            PlannedBreak("Early", "09:00", "09:20"),
            PlannedBreak("Late", "18:00", "18:30"),
            PlannedBreak("Night", "03:30", "04:00"),
        ),
    ),
    (
        (
            PlannedShift("Early", "05:30", "13:30", ("mon", "tue", "wed", "thu", "fri")),
            PlannedShift("Late", "13:30", "21:15", ALL_DAYS),
        ),
        (PlannedBreak("Early", "08:10", "08:25"), PlannedBreak("Early", "11:00", "11:30")),
    ),
    ((PlannedShift("Day", "07:00", "19:00", ALL_DAYS), PlannedShift("Night", "19:00", "07:00", ALL_DAYS)), ()),
    ((PlannedShift("Only", "08:00", "16:30", ALL_DAYS),), (PlannedBreak("Only", "12:00", "12:45"),)),
)
