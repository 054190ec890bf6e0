"""Plan what happens at one press of the sample plant, shift after shift, with its coils and its stops."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from sample_runs.simulate import clock
from sample_runs.simulate.book import DieDesign, PlantPlan, PressSetup
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Run, Script, StopNote
from sample_runs.simulate.weights import TO_BE_WEIGHED

TICK_S = 5
# Reason, share of the stops, usual minutes and their spread as a factor.
STOPS = (
    ("MIS", 0.26, 4, 1.8),
    ("SLU", 0.18, 6, 1.7),
    ("EMA", 0.12, 4, 1.5),
    ("ADJ", 0.12, 8, 1.6),
    ("WMA", 0.08, 14, 1.7),
    ("LUB", 0.07, 6, 1.5),
    ("PUN", 0.06, 38, 1.5),
    ("NOS", 0.06, 18, 1.8),
    ("FEE", 0.05, 25, 1.8),
)


@dataclass
class Supply:
    """Strip of one kind in the order in which it goes to a press; `left` counts strokes a coil is still good for."""

    waiting: list[str]
    left: dict[str, int]
    returned: set[str] = field(default_factory=set)

    def take(self) -> str:
        """The next coil."""
        return self.waiting.pop(0)

    def give_back(self, coil_id: str) -> None:
        """A coil that was not used up goes on first next time."""
        self.returned.add(coil_id)
        self.waiting.insert(0, coil_id)


@dataclass
class Planner:
    """One press while its script is being written; `now` is how far it has got."""

    book: PlantPlan
    press: PressSetup
    rng: np.random.Generator
    now: int
    splice_share: float = 0.5
    weighed_share: float = 0.8
    script: Script = field(init=False)
    die: DieDesign | None = None
    supply: Supply | None = None
    coil: str = ""
    before: str = ""
    lead: int = 0
    spm: int = 0

    def __post_init__(self) -> None:
        self.script = Script(self.press.press_id)

    def between(self, low_s: float, high_s: float) -> int:
        """A random duration, a whole number of ticks."""
        return max(int(self.rng.uniform(low_s, high_s)) // TICK_S, 1) * TICK_S

    def chance(self, probability: float) -> bool:
        """Whether something happens."""
        return bool(self.rng.random() < probability)

    def stand(self, seconds: int, reason: str) -> None:
        """The press stands; most stops get their reason entered, to the minute as people write it down."""
        if seconds >= 120 and self.chance(0.85):
            entered = self.script.standings
            end = -(-(self.now + seconds) // 60) * 60
            start = max(self.now - self.now % 60, (entered[-1].to_s or 0) if entered else 0)
            entered.append(StopNote(start, end, reason))
        self.now += seconds

    def stroke_to(self, to_s: int, spm: int, strip: bool = True) -> None:
        """Run the press to a moment, and take the strip it feeds off the coils."""
        run = Run(self.now, to_s, spm, strip)
        if strip and self.supply is not None and self.coil:
            fed = len(run.seconds())
            old = min(fed, self.lead)
            self.lead -= old
            self.supply.left[self.before or self.coil] -= old
            self.supply.left[self.coil] -= fed - old
        self.script.runs.append(run)
        self.now = to_s

    # -- dies ---------------------------------------------------------------------------------------------

    def job(
        self, die: DieDesign, supply: Supply, spm: int, order_id: str, until_s: int, part_no: str = "", dry_s: int = 0
    ) -> None:
        """One die from setting to pulling."""
        self.set_die(die, supply, spm=spm, order_id=order_id, part_no=part_no, dry_s=dry_s)
        self.work(until_s)
        self.pull_die()

    def set_die(
        self, die: DieDesign, supply: Supply, spm: int, order_id: str, part_no: str = "", dry_s: int = 0
    ) -> None:
        """Change over: set the die, thread the strip, make first pieces, wait for the first-off."""
        self.die, self.supply, self.spm = die, supply, spm
        self.stand(self.between(1200, 3600), "DCH")
        self.script.events.append(DieChangeNote(self.now, "set", die.die_id, part_no, order_id))
        self.now += self.between(120, 300)
        if dry_s:
            self.stroke_to(self.now + dry_s, 20)
        self.stand(self.between(300, 800), "CCH")
        self.mount()
        self.now += self.between(60, 150)
        if dry_s and self.press.feeds:
            self.stroke_to(self.now + dry_s, 20, strip=False)
        for _ in range(3):
            self.stroke_to(self.now + self.between(20, 80), spm // 2)
            self.now += self.between(30, 200)
        self.stand(self.between(240, 900), "FOF")
        self.script.events.append(DieChangeNote(self.now, "first_off", die.die_id))
        self.now += self.between(20, 90)

    def pull_die(self) -> None:
        """Take off the coil, weigh it, pull the die."""
        assert self.die is not None
        assert self.supply is not None
        self.now += self.between(60, 200)
        self.take_off(self.coil)
        self.supply.give_back(self.coil)
        self.coil = ""
        self.now += self.between(60, 300)
        self.script.events.append(DieChangeNote(self.now, "last_off", self.die.die_id))
        self.now += self.between(60, 300)
        self.script.events.append(DieChangeNote(self.now, "pull", self.die.die_id))
        self.die = None

    def change(self, outs_running: tuple[int, ...]) -> None:
        """Blank off outs, or open them again."""
        assert self.die is not None
        self.stand(self.between(600, 1500), "ADJ")
        self.script.events.append(DieChangeNote(self.now, "change", self.die.die_id, outs_running=outs_running))
        self.now += self.between(20, 60)

    # -- coils --------------------------------------------------------------------------------------------

    def mount(self) -> None:
        """Thread the next coil."""
        assert self.supply is not None
        self.coil, self.before, self.lead = self.supply.take(), "", 0
        weighed = TO_BE_WEIGHED if self.coil in self.supply.returned and self.chance(self.weighed_share / 2) else None
        self.script.events.append(CoilChangeNote(self.now, "mount", self.coil, weight_kg=weighed))

    def take_off(self, coil_id: str) -> None:
        """A coil leaves the press; what is left is weighed more often than not."""
        weighed = TO_BE_WEIGHED if self.chance(self.weighed_share) else None
        self.script.events.append(CoilChangeNote(self.now, "remove", coil_id, weight_kg=weighed))

    def change_coil(self) -> None:
        """The coil is at its end: join the next one on, or thread it."""
        assert self.supply is not None
        assert self.die is not None
        if not self.chance(self.splice_share):
            self.stand(self.between(300, 500), "CCH")
            self.take_off(self.coil)
            self.now += self.between(60, 120)
            self.mount()
            self.now += self.between(60, 240)
            return
        self.stand(self.between(100, 300), "SPL")
        self.before, self.coil = self.coil, self.supply.take()
        self.lead = self.lead_strokes()
        self.script.events.append(CoilChangeNote(self.now, "splice", self.coil))
        self.now += self.between(20, 60)
        self.take_off(self.before)
        self.now += self.between(20, 60)

    def lead_strokes(self) -> int:
        """Strokes until a joint noted at the decoiler comes to station 1."""
        assert self.die is not None
        return int(np.ceil(self.press.lead_in_mm / self.die.pitch_mm))

    def strokes_left(self) -> int:
        """Strokes until the coil has to be changed, in time for a splice."""
        assert self.supply is not None
        return self.supply.left[self.coil] - self.lead_strokes() - 5

    # -- shifts -------------------------------------------------------------------------------------------

    def work(self, to_s: int) -> None:
        """Run through the shifts of the press until `to_s`."""
        for start, end in spans(self.book, self.press, self.now, to_s, self.rng):
            self.work_span(max(start, self.now), end)

    def work_span(self, from_s: int, to_s: int) -> None:
        """Run from one moment to another, with coil changes, short stops and long ones."""
        self.now = max(self.now, from_s)
        if self.chance(0.7):
            self.stand(self.between(120, 420), "CLN")
        while self.now < to_s - 60:
            room = self.strokes_left() * 60 // self.spm // TICK_S * TICK_S
            until = min(to_s, self.now + self.between(60, 60 + self.rng.exponential(900)))
            if room < 30:
                if to_s - self.now < 1500:
                    break
                self.change_coil()
                continue
            self.stroke_to(min(until, self.now + room), self.spm)
            if self.now < to_s - 1800:
                self.stop()

    def stop(self) -> None:
        """A short stop that nobody writes down, or a longer one; a misfeed may need the strip cut back."""
        if self.chance(0.78):
            self.now += self.between(5, 55)
            return
        shares = np.array([share for _, share, _, _ in STOPS])
        reason, _, minutes, spread = STOPS[int(self.rng.choice(len(STOPS), p=shares / shares.sum()))]
        seconds = min(minutes * 60 * float(np.exp(self.rng.normal(0, np.log(spread)))), 5400)
        self.stand(self.between(seconds, seconds + TICK_S), reason)
        if reason == "MIS" and self.lead == 0 and self.chance(0.3):
            self.script.events.append(CoilChangeNote(self.now, "cut", self.coil))
            self.now += self.between(30, 120)


def spans(
    book: PlantPlan, press: PressSetup, from_s: int, to_s: int, rng: np.random.Generator
) -> Iterator[tuple[int, int]]:
    """Planned time of a press without its breaks; now and then a break is run through."""
    for window in clock.windows(book, press.press_id, from_s, to_s):
        if window.closed:
            continue
        start = max(window.start_s, from_s)
        for break_from, break_to in window.breaks:
            if start < break_from < to_s and rng.random() > 0.12:
                yield start, min(break_from, to_s)
                start = break_to
        if start < min(window.end_s, to_s):
            yield start, min(window.end_s, to_s)
