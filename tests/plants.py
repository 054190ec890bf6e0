"""Random small plants in contract files, with the exact truth about them.

The truth comes from `sample_runs.simulate`, which plays every stroke and owes nothing to the product.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, files, truth
from sample_runs.simulate.book import Book, Break, Coil, Die, Out, Part, Press, Shift
from sample_runs.simulate.logger import Habits, Readings, read
from sample_runs.simulate.press import Played, play
from sample_runs.simulate.script import CoilChange, DieChange, Run, Script, Standing

TICK_S = 5
ALL_FEATURES = frozenset({"splice"})
ALL_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIRST_DATES = {
    "Europe/Berlin": (date(2026, 10, 24), date(2026, 3, 28), date(2026, 6, 8)),
    "America/Chicago": (date(2026, 10, 31), date(2026, 7, 6)),
    "Asia/Kolkata": (date(2026, 2, 2),),
    "UTC": (date(2026, 12, 30),),
}
OPERATIONS = ("pierce", "notch", "pilot", "idle", "form", "bend", "coin", "idle")


@dataclass(frozen=True)
class Truth:
    """What must come out of one random plant.

    Times in the frames are seconds since 1970 UTC (`_s`); `from_s` to `to_s` is the range that was played,
    from one plant-day start to another.  `features` says what happened in it.
    """

    folder: Path
    book: Book
    from_s: int
    to_s: int
    features: frozenset[str]
    shifts: pd.DataFrame
    hours: pd.DataFrame
    stops: pd.DataFrame
    coils: pd.DataFrame
    strokes_by_press: dict[str, int]
    readings: dict[str, Readings]


def random_plant(seed: int, folder: Path, *, days: int | None = None, features: Iterable[str] = ALL_FEATURES) -> Truth:
    """Write a random plant of one to three presses and `days` days to `folder` and return its truth."""
    rng = np.random.default_rng(seed)
    days = int(rng.integers(1, 4)) if days is None else days
    plan = _Plan(rng, days, frozenset(features))
    return plan.write(Path(folder))


@dataclass
class _Plan:
    rng: np.random.Generator
    days: int
    features: frozenset[str]
    coils: dict[str, Coil] = field(default_factory=dict)
    happened: set[str] = field(default_factory=set)

    def chance(self, probability: float, feature: str = "") -> bool:
        """Whether something happens; a feature switched off never does, and one that does is noted."""
        happens = bool(self.rng.random() < probability) and (not feature or feature in self.features)
        if happens and feature:
            self.happened.add(feature)
        return happens

    def ticks(self, low_s: float, high_s: float) -> int:
        """A random duration in seconds, a whole number of ticks."""
        low = max(int(low_s) // TICK_S, 1)
        return int(self.rng.integers(low, max(int(high_s) // TICK_S, low + 1))) * TICK_S

    # -- the book -----------------------------------------------------------------------------------------

    def book(self) -> tuple[Book, date]:
        """A plant book and the first plant day."""
        zone = str(self.rng.choice(sorted(FIRST_DATES)))
        first = FIRST_DATES[zone][int(self.rng.integers(len(FIRST_DATES[zone])))]
        shifts, breaks = SHIFT_PATTERNS[int(self.rng.integers(len(SHIFT_PATTERNS)))]
        presses = tuple(self.press(number) for number in range(1, int(self.rng.integers(1, 4)) + 1))
        dies = tuple(self.die(number) for number in range(1, len(presses) * 2 + 1))
        parts = tuple(Part(part_no, "DC01", 1.0, 5.0, name="shim") for die in dies for part_no in die.part_numbers)
        stop_after_s = float(self.rng.choice([60, 45, 90, 120]))
        book = Book("Test plant", zone, stop_after_s, shifts, breaks, presses, dies, parts, {"DC01": 7850.0})
        return book, first

    def press(self, number: int) -> Press:
        """A press of 40 to 140 strokes a minute."""
        rng = self.rng
        return Press(
            press_id=f"P{number}",
            rated_spm=float(rng.integers(40, 140)),
            lead_in_mm=float(rng.choice([0, 0, 900, 2500, 6000])) if "splice" in self.features else 0.0,
            stop_after_s=None if self.chance(0.7) else float(rng.choice([30, 75, 150])),
        )

    def die(self, number: int) -> Die:
        """A die of 1 to 16 stations and 1 to 3 outs, of one part or of as many parts as outs."""
        rng = self.rng
        stations = int(rng.integers(1, 17))
        outs = int(rng.choice([1, 1, 2, 2, 3]))
        many = self.chance(0.5)
        listed = many or self.chance(0.6)
        parting = [stations if not listed else int(rng.integers(1, stations + 1)) for _ in range(outs)]
        parting[int(rng.integers(outs))] = stations
        operations = [str(rng.choice(OPERATIONS)) for _ in range(stations)]
        operations[-1] = "cutoff"
        return Die(
            die_id=f"D-{100 + number}",
            pitch_mm=float(rng.integers(8, 120)) / 2,
            strip_width_mm=40.0,
            rated_spm=float(rng.integers(40, 140)),
            operations=tuple(operations),
            outs=tuple(
                Out(f"{100 + number}-{out if many else 0}", station) for out, station in enumerate(parting, start=1)
            ),
            outs_listed=listed,
        )

    # -- what happens -------------------------------------------------------------------------------------

    def script(self, book: Book, press: Press, dies: list[Die], from_s: int, to_s: int) -> Script:
        """Jobs one after another, standing time between them, nothing running at either end."""
        script = Script(press.press_id)
        speed = min(press.rated_spm, min(die.rated_spm for die in dies))
        now = from_s + self.ticks(300, 6 * 3600)
        while True:
            end = now + self.ticks(3600, 9 * 3600)
            if end > to_s - 900:
                break
            die = dies[int(self.rng.integers(len(dies)))]
            self.job(script, die, int(speed * self.rng.uniform(0.5, 0.9)), now, end)
            now = end + self.ticks(120, 10 * 3600 / len(book.presses))
        return script

    def job(self, script: Script, die: Die, spm: int, start_s: int, end_s: int) -> None:
        """One die set, threaded, run with coil changes and stops, and pulled at `end_s`."""
        part_no = str(self.rng.choice(die.part_numbers)) if self.chance(0.6) or not die.outs_listed else ""
        script.events.append(DieChange(start_s, "set", die.die_id, part_no, f"O-{len(script.events)}"))
        now = start_s + self.ticks(60, 900)
        script.events.append(self.mount(now, "mount"))
        now += self.ticks(30, 300)
        now = self.run(script, now, now + self.ticks(30, 400), spm)
        script.events.append(DieChange(now + TICK_S, "first_off", die.die_id))
        now += self.ticks(10, 900) + TICK_S
        while now < end_s - 300:
            now = self.run(script, now, min(now + self.ticks(20, 5400), end_s - 60), spm)
            now = self.between(script, now, end_s)
        last = [event for event in script.events if isinstance(event, CoilChange)][-1]
        if self.chance(0.7):
            script.events.append(CoilChange(end_s - 2 * TICK_S, "remove", last.coil_id))
        if self.chance(0.4):
            script.events.append(DieChange(end_s - TICK_S, "last_off", die.die_id))
        script.events.append(DieChange(end_s, "pull", die.die_id))

    def run(self, script: Script, from_s: int, to_s: int, spm: int) -> int:
        """A stretch of strokes; returns its end."""
        script.runs.append(Run(from_s, to_s, spm))
        return to_s

    def between(self, script: Script, now: int, end_s: int) -> int:
        """What happens between two stretches of strokes; returns when the press may go on."""
        left_s = end_s - 300 - now
        if left_s < 600:
            return now + TICK_S
        if self.chance(0.3):
            stood = self.ticks(60, min(1800, left_s))
            script.events.append(self.mount(now + self.ticks(5, stood), "mount"))
            return now + stood
        if self.chance(0.3, "splice"):
            # A splice often goes in without the press standing at all.
            script.events.append(self.mount(now, "splice"))
            return now + (0 if self.chance(0.5) else self.ticks(5, 600))
        stood = self.ticks(5, 200) if self.chance(0.6) else self.ticks(200, min(4000, left_s))
        if stood > 300 and self.chance(0.5):
            script.standings.append(Standing(now, now + stood, str(self.rng.choice(["PUN", "MIS", "LUB"]))))
        return now + stood

    def mount(self, at_s: int, event: str) -> CoilChange:
        """A new coil comes onto the press."""
        number = len(self.coils) + 1
        lot = f"L{number // 3}"
        self.coils[f"C-{number}"] = Coil(f"C-{number}", lot, "DC01", 40.0, 1.0, None, heat=f"H{number // 5}")
        return CoilChange(at_s, event, f"C-{number}")

    # -- played and written -------------------------------------------------------------------------------

    def write(self, folder: Path) -> Truth:
        """Play the plant, write its files, return its truth."""
        book, first = self.book()
        from_s = clock.plant_day_start_s(book, first)
        to_s = clock.plant_day_start_s(book, first + timedelta(days=self.days))
        scripts, presses, readings = [], [], {}
        played_all: dict[str, Played] = {}
        for number, press in enumerate(book.presses):
            script = self.script(book, press, list(book.dies[2 * number : 2 * number + 2]), from_s, to_s)
            played = play(press, {die.die_id: die for die in book.dies}, script, from_s)
            read_now = read(press, played, self.habits(book, script, from_s, to_s), from_s, to_s)
            scripts.append(script)
            played_all[press.press_id] = played
            readings[press.press_id] = read_now
            nothing = np.array([], dtype=np.int64)
            presses.append(truth.press_truth(book, press, played, read_now, from_s, to_s, nothing))
        self.weigh_coils(book, played_all.values())
        self.write_files(folder, book, scripts, readings)
        return Truth(
            folder=folder,
            book=book,
            from_s=from_s,
            to_s=to_s,
            features=frozenset(self.happened),
            shifts=truth.shifts(presses),
            hours=truth.hours(presses),
            stops=pd.concat([press.stops for press in presses], ignore_index=True),
            coils=truth.coils(presses, book, self.coils),
            strokes_by_press={name: len(played.stroke_s) for name, played in played_all.items()},
            readings=readings,
        )

    def habits(self, book: Book, script: Script, from_s: int, to_s: int) -> Habits:
        """A logger that reads at every event, shift edge and full hour, and regularly between."""
        edges = {event.at_s for event in script.events}
        for window in clock.windows(book, script.press_id, from_s, to_s):
            edges |= {window.start_s, window.end_s}
        quarters = np.arange(from_s - from_s % 900, to_s + 1, 900)
        edges |= set(np.unique(clock.hour_starts_s(book.timezone, quarters)).tolist())
        every_s = int(self.rng.choice([10, 15, 20, 30])) * (1 if self.days * len(book.presses) < 4 else 2)
        return Habits(every_s, sorted(edges), start_counter=int(self.rng.integers(0, 5_000_000)))

    def weigh_coils(self, book: Book, played: Iterable[Played]) -> None:
        """Give every coil more weight than was used of it, so that none is overrun."""
        used_kg = dict.fromkeys(self.coils, 0.0)
        for press in played:
            for mounting in press.mountings:
                coil = self.coils[mounting.coil_id]
                metres = mounting.fed * book.die(mounting.die_id).pitch_mm / 1000 if mounting.die_id else 0.0
                used_kg[coil.coil_id] += metres * coil.width_mm * coil.thickness_mm * 7850e-6
        for coil_id, used in used_kg.items():
            weight = round(float(used * self.rng.uniform(1.05, 1.6) + 5), 1)
            self.coils[coil_id] = replace(self.coils[coil_id], weight_kg=weight)

    def write_files(self, folder: Path, book: Book, scripts: list[Script], readings: dict[str, Readings]) -> None:
        """Write every table, in one of the ways the contract allows."""
        folder.mkdir(parents=True, exist_ok=True)
        files.write_plant_toml(folder / "plant.toml", book)
        tables = files.book_tables(book)
        tables["coils"] = files.coils_frame(list(self.coils.values()))
        tables["reasons"] = pd.DataFrame(
            [("PUN", "broken punch", "tooling"), ("MIS", "misfeed", "tooling"), ("LUB", "no oil", "press")],
            columns=["reason", "name", "kind"],
        )
        tables |= files.event_tables(scripts, book.timezone, str(self.rng.choice(STYLES)))
        for name, frame in tables.items():
            if len(frame):
                files.write_csv(folder / f"{name}.csv", frame)
        for press_id, read_now in readings.items():
            frame = files.strokes_frame(press_id, read_now)
            if self.chance(0.3):
                files.write_parquet(folder / f"strokes-{press_id}.parquet", frame)
            else:
                style = str(self.rng.choice(STYLES))
                frame["time"] = files.time_text(frame["time"].to_numpy(), book.timezone, style, settle=False)
                files.write_csv(folder / f"strokes-{press_id}.csv", frame)


STYLES = (files.UTC, files.OFFSET, files.LOCAL)
SHIFT_PATTERNS: tuple[tuple[tuple[Shift, ...], tuple[Break, ...]], ...] = (
    (
        (
            Shift("Early", "06:00", "14:00", ALL_DAYS),
            Shift("Late", "14:00", "22:00", ALL_DAYS),
            Shift("Night", "22:00", "06:00", ALL_DAYS),
        ),
        (Break("Early", "09:00", "09:20"), Break("Late", "18:00", "18:30"), Break("Night", "03:30", "04:00")),
    ),
    (
        (
            Shift("Early", "05:30", "13:30", ("mon", "tue", "wed", "thu", "fri")),
            Shift("Late", "13:30", "21:15", ALL_DAYS),
        ),
        (Break("Early", "08:10", "08:25"), Break("Early", "11:00", "11:30")),
    ),
    ((Shift("Day", "07:00", "19:00", ALL_DAYS), Shift("Night", "19:00", "07:00", ALL_DAYS)), ()),
    ((Shift("Only", "08:00", "16:30", ALL_DAYS),), (Break("Only", "12:00", "12:45"),)),
)
