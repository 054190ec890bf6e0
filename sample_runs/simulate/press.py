"""A press with its die, played one stroke at a time.

The strip in the die is a row of progressions, one a station.  A fed stroke pushes the row on by one; what
then lies under a parting station leaves as a piece.  No formula for the strip's lag is used anywhere: the lag is
what the row of progressions does.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from sample_runs.simulate.book import DieDesign, PressSetup
from sample_runs.simulate.script import CoilChangeNote, DieChangeNote, Script

NO_STRIP = -1


@dataclass(frozen=True)
class Era:
    """What is in the press between two events; `setting` until the first-off.

    `lead_part` is the part of the first out that runs: with it stand strokes and time of a die of several parts.
    """

    die_id: str
    part_no: str
    order_id: str
    setting: bool
    lead_part: str = ""


@dataclass
class PlayedMounting:
    """One mounting of a coil: what was fed into station 1 and what left station S."""

    coil_id: str
    die_id: str
    mounted_s: int
    weighed_kg: float | None
    removed_s: int | None = None
    rest_kg: float | None = None
    fed: int = 0
    finished: int = 0
    lost_m: float = 0.0


@dataclass
class Played:
    """All that one press did, one entry a stroke, a progression or a piece."""

    eras: list[Era]
    era_from_s: list[int]
    mountings: list[PlayedMounting] = field(default_factory=list)
    stroke_s: array[int] = field(default_factory=lambda: array("q"))
    stroke_era: array[int] = field(default_factory=lambda: array("i"))
    stroke_mounting: array[int] = field(default_factory=lambda: array("i"))
    progression_mounting: array[int] = field(default_factory=lambda: array("i"))
    progression_place: array[int] = field(default_factory=lambda: array("i"))
    piece_stroke: array[int] = field(default_factory=lambda: array("i"))
    piece_out: array[int] = field(default_factory=lambda: array("b"))
    piece_progression: array[int] = field(default_factory=lambda: array("i"))


class PressMachine:
    """One press between strokes; `stroke` and `event` move it on."""

    def __init__(self, press: PressSetup, dies: Mapping[str, DieDesign], from_s: int) -> None:
        self.press = press
        self.dies = dies
        self.die: DieDesign | None = None
        self.strip: deque[int] = deque()
        self.feeding = NO_STRIP
        self.on_decoiler = NO_STRIP
        self.joints: deque[list[int]] = deque()
        self.parting: list[tuple[int, int]] = []
        self.era = 0
        self.played = Played([Era("", "", "", False)], [from_s])

    def stroke(self, second: int, strip: bool) -> None:
        """Play one stroke."""
        played = self.played
        fed = strip and self.die is not None and self.feeding != NO_STRIP
        if fed:
            self._advance()
        played.stroke_s.append(second)
        played.stroke_era.append(self.era)
        played.stroke_mounting.append(self.feeding if fed else NO_STRIP)
        if fed:
            self._part_off(len(played.stroke_s) - 1)

    def _part_off(self, stroke: int) -> None:
        """Let the pieces under the parting stations go."""
        played, strip = self.played, self.strip
        for out, station in self.parting:
            progression = strip[station - 1]
            if progression != NO_STRIP:
                played.piece_stroke.append(stroke)
                played.piece_out.append(out)
                played.piece_progression.append(progression)

    def _advance(self) -> None:
        """Push the strip on by one progression; a joint that has come up to station 1 goes in now."""
        if self.joints:
            self._bring_joints_on()
        played, strip = self.played, self.strip
        mounting = played.mountings[self.feeding]
        mounting.fed += 1
        played.progression_mounting.append(self.feeding)
        played.progression_place.append(mounting.fed)
        strip.appendleft(len(played.progression_mounting) - 1)
        strip.pop()
        last = strip[-1]
        if last != NO_STRIP:
            played.mountings[played.progression_mounting[last]].finished += 1

    def _bring_joints_on(self) -> None:
        for joint in self.joints:
            joint[0] -= 1
        while self.joints and self.joints[0][0] < 0:
            self.feeding = self.joints.popleft()[1]

    def event(self, event: CoilChangeNote | DieChangeNote) -> None:
        """Let something happen between two strokes."""
        if isinstance(event, DieChangeNote):
            self._change_die(event)
        else:
            self._change_coil(event)

    def _change_die(self, event: DieChangeNote) -> None:
        era = self.played.eras[-1]
        if event.event == "set":
            self.die = self.dies[event.die_id]
            self._empty_die()
            self._give_die_to_waiting_coil()
            era = Era(event.die_id, event.part_no or self.die.outs[0].part_no, event.order_id, True)
        elif event.event == "first_off":
            era = replace(era, setting=False)
        elif event.event == "change":
            era = replace(era, part_no=event.part_no or era.part_no, order_id=event.order_id or era.order_id)
        elif event.event == "pull":
            self._empty_die()
            self.die = None
            era = Era("", "", "", False)
        if event.event in ("set", "change"):
            self._run_outs(event.outs_running)
            era = replace(era, lead_part=self._lead_part())
        self.played.eras.append(era)
        self.played.era_from_s.append(event.at_s)
        self.era += 1

    def _give_die_to_waiting_coil(self) -> None:
        if self.on_decoiler != NO_STRIP and self.die is not None:
            mounting = self.played.mountings[self.on_decoiler]
            mounting.die_id = mounting.die_id or self.die.die_id

    def _run_outs(self, running: tuple[int, ...]) -> None:
        assert self.die is not None
        outs = enumerate(self.die.outs, start=1)
        self.parting = [(number, out.station) for number, out in outs if not running or number in running]

    def _lead_part(self) -> str:
        assert self.die is not None
        return self.die.outs[min(out for out, _ in self.parting) - 1].part_no

    def _empty_die(self) -> None:
        stations = self.die.station_count if self.die else 0
        self.strip = deque([NO_STRIP] * stations)
        if self.joints:
            self.feeding = self.joints[-1][1]
            self.joints.clear()

    def _change_coil(self, event: CoilChangeNote) -> None:
        if event.event == "mount":
            self._end_mounting(self.on_decoiler, event.at_s, None)
            self._empty_die()
            self.feeding = self.on_decoiler = self._new_mounting(event)
        elif event.event == "splice":
            self._end_mounting(self.on_decoiler, event.at_s, None)
            self.on_decoiler = self._new_mounting(event)
            self._join(self.on_decoiler)
        elif event.event == "cut":
            self._empty_die()
            self.played.mountings[self.on_decoiler].lost_m += event.lost_m or 0.0
        elif event.event == "remove":
            self._remove(event)

    def _new_mounting(self, event: CoilChangeNote) -> int:
        die_id = self.die.die_id if self.die else ""
        self.played.mountings.append(PlayedMounting(event.coil_id, die_id, event.at_s, event.weight_kg))
        return len(self.played.mountings) - 1

    def _join(self, mounting: int) -> None:
        """Hang the new strip on the old one: what lies before station 1 is still the old coil's."""
        if self.feeding == NO_STRIP or self.die is None:
            self.feeding = mounting
            return
        strokes = 0
        while strokes * self.die.pitch_mm < self.press.lead_in_mm:
            strokes += 1
        self.joints.append([strokes, mounting])

    def _remove(self, event: CoilChangeNote) -> None:
        if self.on_decoiler != NO_STRIP and self.played.mountings[self.on_decoiler].coil_id == event.coil_id:
            self._end_mounting(self.on_decoiler, event.at_s, event.weight_kg)
            self._empty_die()
            self.feeding = self.on_decoiler = NO_STRIP
            return
        old = [m for m in self.played.mountings if m.coil_id == event.coil_id][-1]
        old.removed_s, old.rest_kg = event.at_s, event.weight_kg

    def _end_mounting(self, mounting: int, at_s: int, rest_kg: float | None) -> None:
        if mounting != NO_STRIP:
            self.played.mountings[mounting].removed_s = at_s
            self.played.mountings[mounting].rest_kg = rest_kg


def play(press: PressSetup, dies: Mapping[str, DieDesign], script: Script, from_s: int) -> Played:
    """Play the whole script of a press, every stroke of it, from the second `from_s` on."""
    script.check()
    machine = PressMachine(press, dies, from_s)
    waiting = deque(script.events)
    for second, strip in _strokes(script):
        while waiting and waiting[0].at_s < second:
            machine.event(waiting.popleft())
        machine.stroke(second, strip)
    while waiting:
        machine.event(waiting.popleft())
    return machine.played


def _strokes(script: Script) -> Iterator[tuple[int, bool]]:
    for run in script.runs:
        for second in run.seconds():
            yield second, run.strip
