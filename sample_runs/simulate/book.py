"""What there is in an invented plant: presses, dies, parts, material, shifts."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class PressSetup:
    """One press; `feeds` tells whether its logger also counts strokes with strip fed."""

    press_id: str
    rated_spm: float
    name: str = ""
    area: str = ""
    rated_force_kn: float | None = None
    counter_modulus: int | None = None
    lead_in_mm: float = 0.0
    stop_after_s: float | None = None
    feeds: bool = False


@dataclass(frozen=True)
class OutDesign:
    """One piece a stroke: which part it is and the station where it parts off (1 = first)."""

    part_no: str
    station: int


@dataclass(frozen=True)
class DieDesign:
    """A progressive die; station 1 stands first in `operations`, the last one is station S."""

    die_id: str
    pitch_mm: float
    strip_width_mm: float
    rated_spm: float
    operations: tuple[str, ...]
    outs: tuple[OutDesign, ...]
    outs_listed: bool = True
    name: str = ""
    sharpen_every_strokes: int | None = None

    @property
    def station_count(self) -> int:
        """Number of stations S, idle ones included."""
        return len(self.operations)

    @property
    def part_numbers(self) -> tuple[str, ...]:
        """The parts of the outs, each once, in order of the outs."""
        return tuple(dict.fromkeys(out.part_no for out in self.outs))


@dataclass(frozen=True)
class PartDesign:
    """One part number with its net weight."""

    part_no: str
    material: str
    thickness_mm: float
    net_weight_g: float
    name: str = ""
    customer: str = ""
    revision: str = ""


@dataclass(frozen=True)
class Coil:
    """One slit coil as received; a reel is a coil without a received weight."""

    coil_id: str
    lot: str
    material: str
    width_mm: float
    thickness_mm: float
    weight_kg: float | None
    heat: str = ""
    supplier: str = ""
    details: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class PlannedShift:
    """A planned shift: clock times "HH:MM", the days it starts on, its presses (none named = all)."""

    name: str
    start: str
    end: str
    days: tuple[str, ...]
    presses: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlannedBreak:
    """A planned break inside a shift, clock times "HH:MM"."""

    shift: str
    start: str
    end: str


@dataclass(frozen=True)
class PlantPlan:
    """The plant book, with the calendar of `plant.toml`."""

    name: str
    timezone: str
    stop_after_s: float
    shifts: tuple[PlannedShift, ...]
    breaks: tuple[PlannedBreak, ...]
    presses: tuple[PressSetup, ...]
    dies: tuple[DieDesign, ...]
    parts: tuple[PartDesign, ...]
    densities_kg_m3: dict[str, float]
    closed: tuple[str, ...] = ()

    def press(self, press_id: str) -> PressSetup:
        """The press of that id."""
        return next(press for press in self.presses if press.press_id == press_id)

    def die(self, die_id: str) -> DieDesign:
        """The die of that id."""
        return next(die for die in self.dies if die.die_id == die_id)
