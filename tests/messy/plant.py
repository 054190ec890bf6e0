"""A random plant, played stroke by stroke, before anybody writes anything down about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np
import pandas as pd

from sample_runs.simulate import clock, truth, weights
from sample_runs.simulate.book import Coil, DieDesign, OutDesign, PartDesign, PlantPlan, PressSetup
from sample_runs.simulate.logger import LoggedReadings, read
from sample_runs.simulate.press import NO_STRIP, Played, play
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Run, Script
from tests.invented.jobs import Dice, Store, write_script
from tests.invented.loggers import write_habits
from tests.invented.plants import ALL_FEATURES, Plan
from tests.messy import loggers

CUSTOMERS = ("Gate Works", "Hinge & Leaf; West", "Porch 'n' Step")
#: What an identifier may hold besides letters and digits.
ODD = ("{}", "{} a;b", "{}'s", '{} "x"', "Öl {}", "{};2+3", "{} <b>")
#: The presses that are played at most: a plant is to be small.
MOST_PRESSES = 2
#: One more press, for what cannot be true of two at once.
EXTRA = "P9"
#: How long it runs, and how long the other one does: nobody can take that for a late note.
TOGETHER_S, LONG_S = 1800, 2400
# What spoils a reading or a counter is for the plants with tidy notes; here people are in the wrong.
_LEFT_OUT = {"inspections", "dispositions", "repeats", "stops", "split_stop"}


@dataclass
class Plant:
    """What happened, press by press; times are whole seconds since 1970 UTC.

    `dense` says that the loggers read at every event, shift edge and full hour, so that every count is exact.
    `doubled` are the die and the coil that are noted on two presses at once, and the press where they are.
    """

    dice: Dice
    book: PlantPlan
    from_s: int
    to_s: int
    dense: bool
    coils: dict[str, Coil]
    scripts: dict[str, Script]
    played: dict[str, Played]
    readings: dict[str, LoggedReadings]
    doubled: tuple[str, str, str] = ("", "", "")
    strokes: dict[str, pd.DataFrame] = field(default_factory=dict)
    pieces: dict[str, pd.DataFrame] = field(default_factory=dict)

    def stop_after_s(self, press_id: str) -> float:
        """Seconds without a stroke from which a press counts as standing."""
        own = self.book.press(press_id).stop_after_s
        return self.book.stop_after_s if own is None else own

    def slowest_spm(self, press_id: str) -> float:
        """Rated speed of a press, or of the slowest die where that is slower."""
        return min(self.book.press(press_id).rated_spm, *(die.rated_spm for die in self.book.dies))

    def dry_s(self, press_id: str) -> np.ndarray:
        """Seconds of the strokes of a press that fed no strip."""
        played = self.played[press_id]
        return np.asarray(played.stroke_s)[np.asarray(played.stroke_mounting) == NO_STRIP]

    def customer(self, part_no: str) -> str:
        """Who buys a part."""
        return next(part.customer for part in self.book.parts if part.part_no == part_no)


def random_plant(seed: int, dense: bool, days: int) -> Plant:
    """A random plant of one or two presses, with loggers that read often or seldom."""
    dice = Dice(np.random.default_rng(seed), frozenset(ALL_FEATURES - _LEFT_OUT))
    plan = Plan(dice, days)
    tidy, first = plan.book()
    book = _renamed(dice, replace(tidy, presses=tidy.presses[:MOST_PRESSES]))
    from_s = clock.plant_day_start_s(book, first)
    to_s = clock.plant_day_start_s(book, first + timedelta(days=days))
    store, dies = _OddStore(dice=dice), {die.die_id: die for die in book.dies}
    scripts = {
        press.press_id: write_script(
            dice, store, book=book, press=press, dies=list(book.dies[2 * n : 2 * n + 2]), from_s=from_s, to_s=to_s
        )
        for n, press in enumerate(book.presses)
    }
    doubled = _doubled(dice, scripts) if dense and dice.chance(0.25) else ("", "", "")
    if doubled[0]:
        book = replace(book, presses=(*book.presses, PressSetup(EXTRA, 60.0)))
    played = {name: play(book.press(name), dies, script, from_s) for name, script in scripts.items()}
    coils = weights.receive(book, store.coils, played, dice.rng)
    weights.weigh(book, coils, played, list(scripts.values()), dice.rng)
    readings = {
        name: _read(dice, book, script=scripts[name], played=played[name], span=(from_s, to_s), dense=dense)
        for name in scripts
    }
    plant = Plant(
        dice,
        book,
        from_s=from_s,
        to_s=to_s,
        dense=dense,
        coils=coils,
        scripts=scripts,
        played=played,
        readings=readings,
        doubled=doubled,
    )
    for name in scripts:
        plant.strokes[name], plant.pieces[name] = truth.made(book, book.press(name), played[name], from_s, to_s)
    return plant


def _doubled(dice: Dice, scripts: dict[str, Script]) -> tuple[str, str, str]:
    """Let one more press run with the die and the coil of another, as if somebody had noted the wrong ones."""
    for script in list(scripts.values()):
        for run in script.runs:
            die = next(
                (e for e in reversed(script.events) if isinstance(e, DieChangeNote) and e.at_s <= run.from_s), None
            )
            coil = next(
                (e for e in reversed(script.events) if isinstance(e, CoilChangeNote) and e.at_s <= run.from_s), None
            )
            if run.to_s - run.from_s < LONG_S or not die or not coil or die.event == "pull" or coil.event != "mount":
                continue
            dice.happened.add("a die and a coil on two presses")
            at_s = run.from_s + 120
            begin: list[CoilChangeNote | DieChangeNote] = [
                DieChangeNote(at_s, "set", die.die_id),
                CoilChangeNote(at_s + 10, "mount", coil.coil_id),
            ]
            begin.append(DieChangeNote(at_s + 15, "first_off", die.die_id))
            end = [
                CoilChangeNote(at_s + TOGETHER_S + 30, "remove", coil.coil_id),
                DieChangeNote(at_s + TOGETHER_S + 40, "pull", die.die_id),
            ]
            scripts[EXTRA] = Script(EXTRA, [Run(at_s + 20, at_s + 20 + TOGETHER_S, 50)], [*begin, *end])
            return die.die_id, coil.coil_id, script.press_id
    return "", "", ""


def _read(
    dice: Dice, book: PlantPlan, script: Script, played: Played, span: tuple[int, int], dense: bool
) -> LoggedReadings:
    press = book.press(script.press_id)
    if dense:
        return read(
            press, played, write_habits(dice, book, press=press, script=script, played=played, window=span), *span
        )
    return loggers.seldom(dice, book, press, played, span)


@dataclass
class _OddStore(Store):
    """Coils whose names hold any sign that prints."""

    dice: Dice | None = None

    def new(self) -> str:
        assert self.dice is not None
        plain = super().new()
        coil = self.coils.pop(plain)
        name = self.dice.one_of(ODD).format(plain)
        lot = f"{coil.lot}; {len(ODD)}"
        self.coils[name] = replace(coil, coil_id=name, lot=lot)
        return name


def _renamed(dice: Dice, book: PlantPlan) -> PlantPlan:
    """The book with odd names of presses, dies and parts, and customers."""
    presses = tuple(replace(press, press_id=dice.one_of(ODD).format(press.press_id)) for press in book.presses)
    used = book.dies[: 2 * len(presses)]
    parts = {name: dice.one_of(ODD).format(name) for die in used for name in die.part_numbers}
    dies = tuple(_renamed_die(dice, die, parts) for die in used)
    # Three outs of the shortest pitch weigh less than its strip.
    rows = tuple(
        PartDesign(name, "DC01", 1.0, 0.3, name="shim", customer=dice.one_of(CUSTOMERS)) for name in parts.values()
    )
    return replace(book, presses=presses, dies=dies, parts=rows)


def _renamed_die(dice: Dice, die: DieDesign, parts: Mapping[str, str]) -> DieDesign:
    outs = tuple(OutDesign(parts[out.part_no], out.station) for out in die.outs)
    return replace(die, die_id=dice.one_of(ODD).format(die.die_id), outs=outs)
