"""The plant that screens are tested on: five presses in three shifts, or as many fives as wanted, read every minute.

P02 has been standing for 23 minutes without a reason, the counter of P05 is silent for six, and P03 has a long name.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from shared.calendar import Calendar
from shared.plant import Plant
from tests.invented.tiny import Tiny

PLANT_TOML = """
name = "Invented pressings"
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
[[break]]
shift = "early"
start = "09:00"
end = "09:30"
[[break]]
shift = "early"
start = "12:00"
end = "12:15"
[[break]]
shift = "late"
start = "18:00"
end = "18:30"
[[break]]
shift = "night"
start = "02:00"
end = "02:30"
"""
CALENDAR = Calendar(Plant.from_toml(PLANT_TOML))
FIRST, NEWEST = "2026-11-01 06:00", "2026-11-02 19:42"

CAUSES = {"BUR": "burr too high", "SLG": "slug mark, pulled slug", "CRK": "split or crack at a bend"}
REASONS = {
    "CCH": ("coil change", "setup"), "PUN": ("broken or chipped punch", "tooling"),
    "WMA": ("waiting for coil", "material"), "FEE": ("feed, straightener or decoiler fault", "press"),
    "QHD": ("quality hold", "quality"), "NOS": ("no setter free", "labour"),
    "NOP": ("no order for this press", "planned"),
}  # fmt: skip
REASON_NAMES = {reason: name for reason, (name, _) in REASONS.items()}

#: Clock times at which every press stands, for how many minutes and why; each press a little later than the one before.
STOPS = (
    ("07:10", 14, "CCH"), ("08:20", 3, ""), ("10:05", 22, "PUN"), ("11:05", 3, ""), ("13:10", 9, "WMA"),
    ("15:20", 12, "CCH"), ("16:35", 2, ""), ("17:05", 26, "FEE"), ("19:00", 3, ""),
    ("20:10", 15, "QHD"), ("23:10", 14, "CCH"), ("00:40", 3, ""), ("03:30", 18, "NOS"), ("05:00", 3, ""),
)  # fmt: skip
BREAKS = (("09:00", 30), ("12:00", 15), ("18:00", 30), ("02:00", 30))
STANDING_MIN, SILENT_MIN = 23, 6
COIL_KG, STRIP_KG_M = 600, 0.2355
MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class Line:
    """One press with the die it runs."""

    number: int
    name: str
    die_id: str
    die: str
    part_no: str
    spm: int
    outs: int
    pitch_mm: float
    every: int = 500
    """Pieces of which one is rejected."""


LINES = (
    Line(1, "Bracket line", "D102", "Angle bracket 40", part_no="BR-40-A", spm=95, outs=1, pitch_mm=46),
    Line(2, "Washers and shims", "D117", "Washer M8, 4-out", part_no="WA-08", spm=180, outs=4, pitch_mm=22),
    Line(3, "Hinge leaves, large press at the north gate beside the coil store", "D131", "Hinge leaf left and right",
         part_no="HL-70-L", spm=48, outs=2, pitch_mm=78, every=90),
    Line(4, "Clips", "D140", "Spring clip", part_no="CL-12", spm=220, outs=2, pitch_mm=18),
    Line(5, "Second bracket line", "D155", "Shim 0.5", part_no="SH-05", spm=120, outs=1, pitch_mm=31),
)  # fmt: skip
DIE_NAMES = {line.die_id: line.die for line in LINES}


def at(text: str) -> int:
    """Microseconds since 1970 UTC of a plant clock time such as "2026-11-02 06:00"."""
    day, clock = text.split()
    hours, minutes = clock.split(":")
    return CALENDAR.wall_us(dt.date.fromisoformat(day), int(hours) * 60 + int(minutes))


def iso(us: int | None) -> str:
    """A moment as the figures write it."""
    return CALENDAR.local_iso([us])[0]


class FivePresses:
    """The files of the plant over a stretch of plant clock time, `fives` times five presses, loaded into a ledger.

    `unread` presses have no reading; a plant that nobody has read yet begins when it ends.
    """

    def __init__(
        self,
        folder: Path,
        first: str = FIRST,
        newest: str = NEWEST,
        *,
        fives: int = 1,
        toml: str = PLANT_TOML,
        unread: tuple[str, ...] = (),
    ) -> None:
        self.first, self.newest = (dt.datetime.fromisoformat(text) for text in (first, newest))
        self.plant = Tiny(folder, toml)
        self.plant.rows.clear()
        self._write_book(fives)
        for tens in range(fives):
            for line in LINES:
                press = f"P{tens}{line.number}"
                self.plant.add("presses", press_id=press, name=line.name, rated_spm=line.spm)
                if press not in unread:
                    _Press(self, line, press).write()

    def load(self) -> Path:
        """Folder of the ledger, closed."""
        self.plant.load()
        self.plant.ledger.close()
        return self.plant.ledger.root

    def _write_book(self, fives: int) -> None:
        plant = self.plant
        for cause, name in CAUSES.items():
            plant.add("causes", cause=cause, name=name, operations="pierce")
        for reason, (name, kind) in REASONS.items():
            plant.add("reasons", reason=reason, name=name, kind=kind)
        plant.add("materials", material="DC01", density_kg_m3=7850)
        for line in LINES:
            plant.add("dies", die_id=line.die_id, name=line.die, pitch_mm=line.pitch_mm, parts_per_stroke=line.outs,
                      rated_spm=line.spm, sharpen_every_strokes=80_000)  # fmt: skip
            for station in (1, 2):
                plant.add("stations", die_id=line.die_id, station=station, operation="pierce")
            plant.add(
                "parts", part_no=line.part_no, net_weight_g=round(0.7 * STRIP_KG_M * line.pitch_mm / line.outs, 2)
            )
            plant.add("routes", part_no=line.part_no, step=1, die_id=line.die_id)


class _Press:
    """What one press did, minute by minute."""

    def __init__(self, plant: FivePresses, line: Line, press: str) -> None:
        self.rows = plant.plant
        self.line, self.press = line, press
        self.first, self.newest = plant.first, plant.newest
        self.last = plant.newest - SILENT_MIN * MINUTE if line.number == 5 else plant.newest
        self.coils = 0

    def write(self) -> None:
        """Write readings, stops, coils, an order, and an inspection of every hour."""
        line, begin = self.line, self.first.isoformat()
        self.rows.set_die(begin, line.die_id, self.press, part_no=line.part_no, order_id=f"A-{self.press}")
        self.rows.add("orders", order_id=f"A-{self.press}", part_no=line.part_no, press_id=self.press, quantity=400_000,
                      due_at="2026-11-04T14:00:00")  # fmt: skip
        self._mount(self.first)
        standing = [span for span in self._standing() if span[0] < self.last]
        for start, end, reason in standing:
            if reason == "CCH":
                self._mount(start + 5 * MINUTE)
            if reason in REASONS:
                self.rows.add("stops", press_id=self.press, start_at=start.isoformat(),
                              end_at=min(end, self.last).isoformat(), reason=reason)  # fmt: skip
        self._read([span[:2] for span in standing])

    def _standing(self) -> Iterator[tuple[dt.datetime, dt.datetime, str]]:
        """Spans in which the press stands, with the code of the reason, "" where nobody gave one."""
        day = self.first.date()
        while day <= self.newest.date():
            for clock, minutes, reason in STOPS:
                start = dt.datetime.fromisoformat(f"{day} {clock}") + 2 * self.line.number * MINUTE
                if self.first < start:
                    yield start, start + minutes * MINUTE, reason
            for clock, minutes in BREAKS:
                start = dt.datetime.fromisoformat(f"{day} {clock}")
                yield start, start + minutes * MINUTE, "break"
            day += dt.timedelta(days=1)
        if self.line.number == 2:
            yield self.newest - STANDING_MIN * MINUTE, self.newest + MINUTE, ""

    def _read(self, standing: list[tuple[dt.datetime, dt.datetime]]) -> None:
        counter = pieces = 0
        moment = self.first
        while moment <= self.last:
            self.rows.add("strokes", time=moment.isoformat(), press_id=self.press, counter=counter)
            if not any(start <= moment < end for start, end in standing):
                counter += self.line.spm - 4
                pieces += (self.line.spm - 4) * self.line.outs
            moment += MINUTE
            if moment.minute == 55 and moment < self.last:
                self._look(moment, pieces)
                pieces = 0

    def _look(self, moment: dt.datetime, pieces: int) -> None:
        """Every piece of the hour, or on the fifth press a sample of five."""
        rejected = pieces // self.line.every
        name = f"I-{self.press}-{moment:%d%H}"
        if self.line.number == 5:
            self.rows.look(name, moment.isoformat(), "sample", 5, int(moment.hour % 6 == 0), press_id=self.press)
        elif pieces:
            cause = list(CAUSES)[moment.hour % len(CAUSES)] if rejected else ""
            self.rows.look(name, moment.isoformat(), "full", pieces, rejected, press_id=self.press, cause=cause)

    def _mount(self, moment: dt.datetime) -> None:
        name = f"C26{self.press[1:]}{self.coils + 1:03d}"
        if self.coils:
            self.rows.change(moment.isoformat(), "remove", f"C26{self.press[1:]}{self.coils:03d}", self.press)
        self.coils += 1
        self.rows.coil(name, f"L{self.press[1:]}-{self.coils // 3}", f"H{self.press[1:]}", COIL_KG)
        self.rows.rows["coils"][-1] |= {"material": "DC01", "supplier": "Invented strip mill"}
        self.rows.change((moment + MINUTE).isoformat(), "mount", name, self.press)
