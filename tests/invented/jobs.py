"""What happens at a press of a random plant: jobs one after another, each with a die, coils, stops and faults."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sample_runs.simulate.book import Coil, DieDesign, PlantPlan, PressSetup
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Run, Script, StopNote
from sample_runs.simulate.weights import TO_BE_WEIGHED

TICK_S = 5
REASONS = ("PUN", "MIS", "LUB")


@dataclass
class Dice:
    """Random choices; a feature that is switched off never comes up, and one that does is noted."""

    rng: np.random.Generator
    features: frozenset[str]
    happened: set[str] = field(default_factory=set)

    def chance(self, probability: float, feature: str = "") -> bool:
        """Whether something happens."""
        happens = bool(self.rng.random() < probability) and (not feature or feature in self.features)
        if happens and feature:
            self.happened.add(feature)
        return happens

    def ticks(self, low_s: float, high_s: float) -> int:
        """A random duration in seconds, a whole number of ticks."""
        low = max(int(low_s) // TICK_S, 1)
        return int(self.rng.integers(low, max(int(high_s) // TICK_S, low + 1))) * TICK_S

    def one_of(self, values: tuple[str, ...]) -> str:
        """One of some words."""
        return values[int(self.rng.integers(len(values)))]


@dataclass
class Store:
    """The coils of the plant, and since when those that came off a press can be used again."""

    coils: dict[str, Coil] = field(default_factory=dict)
    free_from_s: dict[str, int] = field(default_factory=dict)

    def new(self) -> str:
        """A coil that has just come in; three to a lot, five to a heat."""
        number = len(self.coils) + 1
        name = f"C-{number}"
        self.coils[name] = Coil(
            name,
            f"L{number // 3}",
            material="DC01",
            width_mm=40.0,
            thickness_mm=1.0,
            weight_kg=None,
            heat=f"H{number // 5}",
        )
        return name

    def used_before(self, at_s: int) -> list[str]:
        """Coils that have been on a press and stand in the store again."""
        return [name for name, free in self.free_from_s.items() if free < at_s]


@dataclass
class Shop:
    """One press while its script is being written."""

    dice: Dice
    store: Store
    press: PressSetup
    script: Script
    spm: int
    die: DieDesign | None = None
    part_no: str = ""
    coil: str = ""
    lead_strokes: int = 0
    blanked: bool = False

    def run(self, from_s: int, to_s: int, strip: bool = True) -> int:
        """A stretch of strokes; returns its end."""
        run = Run(from_s, to_s, self.spm, strip)
        self.script.runs.append(run)
        if strip:
            self.lead_strokes = max(self.lead_strokes - len(run.seconds()), 0)
        return to_s

    def put_on(self, at_s: int, event: str) -> None:
        """A coil comes onto the press, new or half used."""
        used = self.store.used_before(at_s)
        old = self.coil
        if used and self.dice.chance(0.4, "remount"):
            self.coil = self.dice.one_of(tuple(used))
            del self.store.free_from_s[self.coil]
        else:
            self.coil = self.store.new()
        weight = TO_BE_WEIGHED if self.dice.chance(0.25, "weighed") else None
        self.script.events.append(CoilChangeNote(at_s, event, self.coil, weight_kg=weight))
        if event == "splice" and self.die is not None:
            self.lead_strokes += int(-(-self.press.lead_in_mm // self.die.pitch_mm))
            if self.dice.chance(0.4, "late_remove"):
                self.take_off(at_s + TICK_S, old)
                return
        else:
            self.lead_strokes = 0
        if old:
            self.store.free_from_s[old] = at_s

    def take_off(self, at_s: int, coil_id: str) -> None:
        """A coil leaves the press and may be weighed."""
        weight = TO_BE_WEIGHED if self.dice.chance(0.6, "weighed") else None
        self.script.events.append(CoilChangeNote(at_s, "remove", coil_id, weight_kg=weight))
        self.store.free_from_s[coil_id] = at_s
        if coil_id == self.coil:
            self.coil = ""

    # -- one job ------------------------------------------------------------------------------------------

    def job(self, die: DieDesign, start_s: int, end_s: int) -> None:
        """One die set, threaded, run with coil changes and stops, and pulled at `end_s`."""
        now = self.set_up(die, start_s)
        while now < end_s - 300:
            now = self.run(now, min(now + self.dice.ticks(20, 5400), end_s - 60))
            now = self.between(now, end_s - 300)
        if self.dice.chance(0.7):
            self.take_off(end_s - 2 * TICK_S, self.coil)
        if self.dice.chance(0.4):
            self.script.events.append(DieChangeNote(end_s - TICK_S, "last_off", die.die_id))
        self.script.events.append(DieChangeNote(end_s, "pull", die.die_id))
        self.die = None

    def set_up(self, die: DieDesign, start_s: int) -> int:
        """Set the die, thread a coil and make first pieces; returns when the run may begin."""
        dice, now = self.dice, start_s
        early = not self.coil and dice.chance(0.15, "coil_first")
        if early:
            self.put_on(now, "mount")
            now += dice.ticks(5, 300)
        self.set_die(die, now)
        now += dice.ticks(60, 600)
        if not self.coil and dice.chance(0.3, "dry"):
            now = self.run(now, now + dice.ticks(20, 120)) + dice.ticks(5, 100)
        if not early:
            self.put_on(now, "mount")
            now += dice.ticks(30, 300)
        if self.press.feeds and dice.chance(0.5, "feeds"):
            now = self.run(now, now + dice.ticks(20, 120), strip=False)
        now = self.run(now, now + dice.ticks(30, 400))
        if not dice.chance(0.08, "no_first_off"):
            now += dice.ticks(5, 600)
            self.script.events.append(DieChangeNote(now, "first_off", die.die_id))
        return now + dice.ticks(5, 300)

    def set_die(self, die: DieDesign, at_s: int) -> None:
        """Set a die, sometimes with an out blanked off from the start."""
        named = self.dice.chance(0.6) or not die.outs_listed
        self.part_no = self.dice.one_of(die.part_numbers) if named else ""
        self.die = die
        self.blanked = len(die.outs) > 1 and self.dice.chance(0.15, "blanked")
        order_id = f"O-{self.press.press_id}-{len(self.script.events)}"
        self.script.events.append(
            DieChangeNote(
                at_s,
                "set",
                die_id=die.die_id,
                part_no=self.part_no,
                order_id=order_id,
                outs_running=self.some_outs() if self.blanked else (),
            )
        )

    def some_outs(self) -> tuple[int, ...]:
        """All outs of the die but one."""
        assert self.die is not None
        lost = int(self.dice.rng.integers(1, len(self.die.outs) + 1))
        return tuple(out for out in range(1, len(self.die.outs) + 1) if out != lost)

    # -- between two stretches of strokes -----------------------------------------------------------------

    def between(self, now: int, until_s: int) -> int:
        """Something happens, or the press just stands; returns when it may go on."""
        dice, left_s = self.dice, until_s - now
        if left_s < 1800:
            return now + TICK_S
        if dice.chance(0.2):
            stood = dice.ticks(60, 1500)
            self.put_on(now + dice.ticks(5, stood - 10), "mount")
            return now + stood
        for feature, happen in (
            ("splice", self.splice),
            ("cut", self.cut),
            ("joint", self.joint),
            ("blanked", self.blank_off),
            ("part_change", self.change_part),
            ("set_again", self.set_again),
        ):
            if feature in dice.features and dice.chance(0.2):
                return happen(now)
        if self.press.feeds and dice.chance(0.3, "feeds"):
            return self.run(now, now + dice.ticks(10, 200), strip=False)
        return self.stand(now, left_s)

    def splice(self, now: int) -> int:
        """A coil is joined on, often without the press standing at all."""
        self.dice.happened.add("splice")
        self.put_on(now, "splice")
        return now + (2 * TICK_S if self.dice.chance(0.5) else self.dice.ticks(10, 600))

    def cut(self, now: int) -> int:
        """The strip is cut back and threaded again, but not while a joint lies before the die."""
        if self.lead_strokes:
            return now + TICK_S
        self.dice.happened.add("cut")
        self.script.events.append(CoilChangeNote(now + TICK_S, "cut", self.coil))
        if self.dice.chance(0.3, "cut_splice"):
            # The strip is threaded again, so what lies before the die is the old coil's although the die is empty.
            return self.splice(now + self.dice.ticks(10, 200))
        return now + self.dice.ticks(10, 900)

    def joint(self, now: int) -> int:
        """A mill weld runs through."""
        self.dice.happened.add("joint")
        self.script.events.append(CoilChangeNote(now, "joint", self.coil))
        return now

    def blank_off(self, now: int) -> int:
        """An out is blanked off, or all run again."""
        assert self.die is not None
        if len(self.die.outs) == 1:
            return now + TICK_S
        self.dice.happened.add("blanked")
        running = tuple(range(1, len(self.die.outs) + 1)) if self.blanked else self.some_outs()
        self.blanked = not self.blanked
        self.script.events.append(DieChangeNote(now, "change", self.die.die_id, self.part_no, outs_running=running))
        return now + (0 if self.dice.chance(0.3) else self.dice.ticks(60, 900))

    def change_part(self, now: int) -> int:
        """The die goes on, but its strokes now count for another of its parts."""
        assert self.die is not None
        if len(self.die.part_numbers) == 1 or self.blanked:
            return now + TICK_S
        self.dice.happened.add("part_change")
        self.part_no = self.dice.one_of(self.die.part_numbers)
        order_id = f"O-{self.press.press_id}-{len(self.script.events)}"
        self.script.events.append(DieChangeNote(now, "change", self.die.die_id, self.part_no, order_id))
        return now + self.dice.ticks(5, 60)

    def set_again(self, now: int) -> int:
        """The die is pulled and set again while its coil stays on the press."""
        assert self.die is not None
        if self.lead_strokes:
            return now + TICK_S
        self.dice.happened.add("set_again")
        self.script.events.append(DieChangeNote(now, "pull", self.die.die_id))
        now += self.dice.ticks(60, 600)
        self.set_die(self.die, now)
        now = self.run(now + TICK_S, now + self.dice.ticks(30, 200))
        self.script.events.append(DieChangeNote(now, "first_off", self.die.die_id))
        return now + TICK_S

    def stand(self, now: int, left_s: int) -> int:
        """The press stands, below `stop_after_s` or above; somebody may have entered why."""
        stood = self.dice.ticks(5, 200) if self.dice.chance(0.6) else self.dice.ticks(200, min(4000, left_s))
        if stood > 300 and self.dice.chance(0.6):
            begin, end = (now, now + stood)
            if self.dice.chance(0.5, "split_stop"):
                middle = now + self.dice.ticks(60, stood - 60)
                self.script.standings.append(StopNote(middle, end, self.dice.one_of(REASONS)))
                end = middle - (TICK_S * 4 if self.dice.chance(0.5) else 0)
            self.script.standings.append(StopNote(begin, end, self.dice.one_of(REASONS)))
        return now + stood


def write_script(
    dice: Dice, store: Store, book: PlantPlan, press: PressSetup, dies: list[DieDesign], from_s: int, to_s: int
) -> Script:
    """Jobs one after another, standing time between them, nothing running at either end."""
    script = Script(press.press_id)
    speed = min(press.rated_spm, min(die.rated_spm for die in dies))
    shop = Shop(dice, store, press, script, spm=int(speed * dice.rng.uniform(0.5, 0.9)))
    now = from_s + dice.ticks(300, 6 * 3600)
    while (end := now + dice.ticks(3600, 9 * 3600)) <= to_s - 900:
        shop.job(dies[int(dice.rng.integers(len(dies)))], now, end)
        now = end + dice.ticks(120, 10 * 3600 / len(book.presses))
        if not shop.coil and now - end > 600 and dice.chance(0.3, "no_die"):
            shop.run(end + 60, end + 60 + dice.ticks(10, 200))
    script.standings.sort(key=lambda stood: stood.from_s)
    return script
