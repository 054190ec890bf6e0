"""What a die change or a coil change does to the state of a press."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from monitor.reckoning.press import die_events
from monitor.reckoning.press import strip as strips
from monitor.reckoning.press.carry import Carry
from monitor.reckoning.press.press_day import CoilChange, Die, DieChange, Event, Press
from monitor.reckoning.press.strip import Strip

MM_PER_M = 1000


@dataclass(frozen=True)
class MountNote:
    """What one change notes about a mounting: when it began or ended [us], weight [kg], strip cut off [mm]."""

    mounting_id: str
    coil_id: str
    mounted_us: int | None = None
    removed_us: int | None = None
    start_weighed_kg: float | None = None
    end_weighed_kg: float | None = None
    lost_mm: float = 0.0


@dataclass(frozen=True)
class Changed:
    """The state after a change, and notes about mountings."""

    carry: Carry
    notes: tuple[MountNote, ...] = ()


def apply(event: Event, carry: Carry, press: Press, dies: Mapping[str, Die]) -> Changed:
    """Apply one die change or coil change to the state of a press."""
    if isinstance(event, DieChange):
        return Changed(die_events.apply(event, carry))
    die = dies.get(carry.die.die_id) if carry.die else None
    return _COIL_EVENTS[event.event](event, carry, press, die)


def _plain(name: str) -> str:
    """Write a name so that the @ of a mounting's name is no part of it."""
    return name.replace("%", "%25").replace("@", "%40")


def mounting_name(press_id: str, event: CoilChange) -> str:
    """Name a mounting by its coil, press and moment."""
    return f"{_plain(event.coil_id)}@{_plain(press_id)}@{event.time_us}"


def _begin(event: CoilChange, carry: Carry, press: Press, strip: Strip, lost_mm: float) -> Changed:
    name = mounting_name(press.press_id, event)
    notes = [
        MountNote(name, event.coil_id, mounted_us=event.time_us, start_weighed_kg=event.weight_kg, lost_mm=lost_mm)
    ]
    before = carry.strip.mounting_id
    if before in carry.coils:
        notes.append(MountNote(before, carry.coils[before], removed_us=event.time_us))
    coils = _still_there(carry, strip) | {name: event.coil_id}
    return Changed(replace(carry, strip=strip, coils=coils), tuple(notes))


def _still_there(carry: Carry, strip: Strip) -> dict[str, str]:
    there = {carry.strip.mounting_id, strip.mounting_id, *(joint.mounting_id for joint in strip.joints)}
    return {name: coil for name, coil in carry.coils.items() if name in there}


def _lost(event: CoilChange, die: Die | None) -> tuple[int | None, float, int]:
    """Return lost progressions [count or None], strip cut off beyond the die [mm], and stations."""
    stations = die.stations if die else 1
    if event.lost_m is None:
        return None, 0.0, stations
    lost_mm = event.lost_m * MM_PER_M
    if die is None:
        return None, lost_mm, stations
    return round(lost_mm / die.pitch_mm), max(0.0, lost_mm - (stations - 1) * die.pitch_mm), stations


def _mount(event: CoilChange, carry: Carry, press: Press, die: Die | None) -> Changed:
    lost, beyond_mm, stations = _lost(event, die)
    strip = strips.mount(carry.strip, mounting_name(press.press_id, event), lost, stations)
    return _begin(event, carry, press, strip, beyond_mm)


def _splice(event: CoilChange, carry: Carry, press: Press, die: Die | None) -> Changed:
    lost, beyond_mm, _ = _lost(event, die)
    lead_in = strips.progressions(press.lead_in_mm, die.pitch_mm) if die else 0
    strip = strips.splice(carry.strip, mounting_name(press.press_id, event), lead_in, lost)
    return _begin(event, carry, press, strip, beyond_mm)


def _joint(event: CoilChange, carry: Carry, press: Press, die: Die | None) -> Changed:
    return Changed(carry)


def _cut(event: CoilChange, carry: Carry, press: Press, die: Die | None) -> Changed:
    """Cut the strip in the die, if it is of the coil named or of one nobody noted; a cut of another changes nothing."""
    name = _threaded(event.coil_id, carry)
    if name is None:
        return Changed(carry)
    lost, beyond_mm, stations = _lost(event, die)
    notes = (MountNote(name, event.coil_id, lost_mm=beyond_mm),) if beyond_mm and name in carry.coils else ()
    return Changed(replace(carry, strip=strips.cut(carry.strip, lost, stations)), notes)


def _threaded(coil_id: str, carry: Carry) -> str | None:
    """Return the mounting of a coil that feeds the die or still lies in it, "" of a coil nobody noted; None = not."""
    feeding = [carry.strip.mounting_id] if carry.strip.on_press else []
    names = [*feeding, *(joint.mounting_id for joint in reversed(carry.strip.joints))]
    named = [name for name in names if carry.coils.get(name) == coil_id]
    return named[0] if named else ("" if any(name not in carry.coils for name in names) else None)


def _remove(event: CoilChange, carry: Carry, press: Press, die: Die | None) -> Changed:
    """Take a coil off; the name says which, since a run-out coil may be noted after the next one was joined on."""
    _, beyond_mm, _ = _lost(event, die)
    current = carry.strip.mounting_id
    named = [name for name, coil in carry.coils.items() if coil == event.coil_id]
    name = current if current in named else (named[-1] if named else "")
    note = MountNote(name, event.coil_id, removed_us=event.time_us, end_weighed_kg=event.weight_kg, lost_mm=beyond_mm)
    leaves = name == current or not carry.coils.get(current)
    return Changed(replace(carry, strip=strips.park(carry.strip)) if leaves else carry, (note,) if name else ())


_COIL_EVENTS: dict[str, Callable[[CoilChange, Carry, Press, Die | None], Changed]] = {
    "mount": _mount,
    "splice": _splice,
    "joint": _joint,
    "cut": _cut,
    "remove": _remove,
}
