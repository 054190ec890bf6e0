"""What a die change or a coil change does to the state of a press."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from monitor.reckoning import strip as strips
from monitor.reckoning.carry import Carry, DieInPress
from monitor.reckoning.press import CoilChange, Die, DieChange, Event, Press
from monitor.reckoning.strip import Strip

MM_PER_M = 1000


@dataclass(frozen=True)
class MountNote:
    """What one change says of a mounting: when it began or ended [us], what was weighed [kg], what was cut off [mm]."""

    mounting_id: str
    coil_id: str
    mounted_us: int | None = None
    removed_us: int | None = None
    start_weighed_kg: float | None = None
    end_weighed_kg: float | None = None
    lost_mm: float = 0.0


@dataclass(frozen=True)
class Changed:
    """The state after a change and what is to be noted of mountings."""

    carry: Carry
    notes: tuple[MountNote, ...] = ()


def apply(event: Event, carry: Carry, press: Press, dies: Mapping[str, Die]) -> Changed:
    """Apply one die change or coil change to the state of a press."""
    if isinstance(event, DieChange):
        return Changed(_DIE_EVENTS[event.event](event, carry, press))
    die = dies.get(carry.die.die_id) if carry.die else None
    return _COIL_EVENTS[event.event](event, carry, press, die)


def _set(event: DieChange, carry: Carry, press: Press) -> Carry:
    die = DieInPress(
        event.die_id, event.time_us, event.part_no, event.order_id, event.outs_running, carry.habits.first_off
    )
    return replace(carry, die=die, strip=strips.clear(carry.strip))


def _pull(event: DieChange, carry: Carry, press: Press) -> Carry:
    return replace(carry, die=None, strip=strips.clear(carry.strip))


def _first_off(event: DieChange, carry: Carry, press: Press) -> Carry:
    return replace(carry, die=replace(carry.die, setup=False)) if carry.die else carry


def _change(event: DieChange, carry: Carry, press: Press) -> Carry:
    if carry.die is None:
        return carry
    die = replace(
        carry.die,
        part_no=event.part_no or carry.die.part_no,
        order_id=event.order_id or carry.die.order_id,
        outs_running=event.outs_running,
    )
    return replace(carry, die=die)


def _as_it_was(event: DieChange, carry: Carry, press: Press) -> Carry:
    return carry


_DIE_EVENTS: dict[str, Callable[[DieChange, Carry, Press], Carry]] = {
    "set": _set,
    "first_off": _first_off,
    "change": _change,
    "last_off": _as_it_was,
    "pull": _pull,
}


def mounting_name(press_id: str, event: CoilChange) -> str:
    """Name a mounting by its coil, press and moment."""
    return f"{event.coil_id}@{press_id}@{event.time_us}"


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
    lost, beyond_mm, stations = _lost(event, die)
    name = carry.strip.mounting_id
    notes = (MountNote(name, carry.coils[name], lost_mm=beyond_mm),) if beyond_mm and name in carry.coils else ()
    return Changed(replace(carry, strip=strips.cut(carry.strip, lost, stations)), notes)


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
