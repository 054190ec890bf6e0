"""An invented plant of five presses, worked out far enough to fill the figure tables a screen reads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from dashboards.ledger.floor_queries import FloorSigns
from dashboards.ledger.records import Record, records
from monitor.figures import FIGURES
from monitor.figures.judgement.alarms import COLUMNS
from monitor.handover import HandOver
from monitor.plant.order_pace import OrderPace
from monitor.reckoning.statistics.intervals import wilson
from shared.calendar import Calendar, ShiftWindow
from shared.plant import Plant
from tests.dashboards.invented_book import PLANT_TOML, NoDesk

MIN = 60_000_000
HOUR = 60 * MIN

CALENDAR = Calendar(Plant.from_toml(PLANT_TOML))

NAMES = {
    "presses": {
        "P01": "Bracket line",
        "P02": "Washers and shims",
        "P03": "Hinge leaves, large press at the north gate beside the coil store",
        "P04": "Clips",
        "P05": "Second bracket line",
    },
    "dies": {
        "D102": "Angle bracket 40",
        "D117": "Washer M8, 4-out",
        "D131": "Hinge leaf left and right",
        "D140": "Spring clip",
        "D155": "Shim 0.5",
    },
    "parts": {},
    "causes": {
        "BUR": "burr too high",
        "SLG": "slug mark, pulled slug",
        "MSF": "misfeed, short feed",
        "CRK": "split or crack at a bend",
        "SCR": "scratch",
        "ANG": "bend angle out, springback",
    },
    "reasons": {
        "CCH": "coil change",
        "DCH": "die change",
        "PUN": "broken or chipped punch",
        "SLU": "slug or scrap jam, chute blocked",
        "WMA": "waiting for coil",
        "FEE": "feed, straightener or decoiler fault",
        "QHD": "quality hold",
        "HCK": "hourly check with the press stopped",
        "NOS": "no setter free",
        "NOP": "no order for this press",
    },
}
KINDS = {
    "CCH": "setup", "DCH": "setup", "PUN": "tooling", "SLU": "tooling", "WMA": "material", "FEE": "press",
    "QHD": "quality", "HCK": "quality", "NOS": "labour", "NOP": "planned",
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One press with the die it runs."""

    press_id: str
    die_id: str
    part_no: str
    spm: float
    parts_per_stroke: int
    pitch_m: float
    kg_per_m: float
    net_kg: float
    coil_kg: float
    scrap: float


LINES = (
    Line(
        "P01",
        "D102",
        part_no="BR-40-A",
        spm=95,
        parts_per_stroke=1,
        pitch_m=0.046,
        kg_per_m=0.47,
        net_kg=0.0139,
        coil_kg=820,
        scrap=0.004,
    ),
    Line(
        "P02",
        "D117",
        part_no="WA-08",
        spm=180,
        parts_per_stroke=4,
        pitch_m=0.022,
        kg_per_m=0.50,
        net_kg=0.0016,
        coil_kg=600,
        scrap=0.0015,
    ),
    Line(
        "P03",
        "D131",
        part_no="HL-70-L",
        spm=48,
        parts_per_stroke=2,
        pitch_m=0.078,
        kg_per_m=1.25,
        net_kg=0.0370,
        coil_kg=1900,
        scrap=0.012,
    ),
    Line(
        "P04",
        "D140",
        part_no="CL-12",
        spm=220,
        parts_per_stroke=2,
        pitch_m=0.018,
        kg_per_m=0.11,
        net_kg=0.0007,
        coil_kg=180,
        scrap=0.002,
    ),
    Line(
        "P05",
        "D155",
        part_no="SH-05",
        spm=120,
        parts_per_stroke=1,
        pitch_m=0.031,
        kg_per_m=0.16,
        net_kg=0.0033,
        coil_kg=400,
        scrap=0.003,
    ),
)


@dataclass
class Frames:
    """The figure tables and the state of the presses, as the ledger would give them."""

    newest: str
    figures: dict[str, pd.DataFrame] = field(default_factory=dict)
    states: pd.DataFrame = field(default_factory=pd.DataFrame)


def lines(name: str, rows: list[dict[str, object]]) -> list[Record]:
    """Rows as records of a figure table."""
    return records(table(name, rows))


def table(name: str, rows: list[dict[str, object]]) -> pd.DataFrame:
    """Rows as a figure table: its columns in order and typed; what a row lacks is missing as in a ledger."""
    types = {"COUNT": "Int64", "NUMBER": "float64", "FLAG": "bool"}
    missing = {"COUNT": pd.NA, "NUMBER": np.nan, "FLAG": False}
    return pd.DataFrame(
        {
            column.name: pd.Series(
                [row.get(column.name, missing.get(column.kind.name, "")) for row in rows],
                dtype=types.get(column.kind.name, "str"),
            )
            for column in FIGURES[name].columns
        }
    )


def iso(us: int | None) -> str:
    return CALENDAR.local_iso([us])[0]


def at(text: str) -> int:
    """Microseconds of a plant clock time such as "2026-11-02 06:00"."""
    day, clock = text.split()
    hours, minutes = clock.split(":")
    return CALENDAR.wall_us(dt.date.fromisoformat(day), int(hours) * 60 + int(minutes))


def plant(days: int = 1, newest: str = "2026-11-02 19:42", seed: int = 7) -> Frames:
    """The whole plant from `days` before the newest reading on."""
    now = at(newest)
    made = [_Press(line, now, days, np.random.default_rng([seed, n])) for n, line in enumerate(LINES)]
    frames = Frames(newest=iso(now))
    for name in ("shifts", "hours", "stops", "coils", "scrap"):
        frames.figures[name] = table(name, [row for press in made for row in press.rows[name]])
    frames.states = pd.DataFrame([press.state() for press in made])
    return frames


class _Press:
    def __init__(self, line: Line, now: int, days: int, rng: np.random.Generator) -> None:
        self.line, self.rng = line, rng
        silent = 6 * MIN if line.press_id == "P05" else 0
        self.now = now - silent
        self.rows: dict[str, list[dict[str, object]]] = {
            name: [] for name in ("shifts", "hours", "stops", "coils", "scrap")
        }
        self.coil_number = 0
        self.sampled = line.press_id == "P05"
        self.standing_since: int | None = None
        self.mounted_at = 0
        self.coil: dict[str, float] = {}
        first = now - days * 24 * HOUR
        self._mount(first)
        for window in CALENDAR.shifts(line.press_id, first, now):
            if window.start_us >= first:
                self._shift(window)
        self._close_coil(None)

    def state(self) -> dict[str, object]:
        line = self.line
        return {
            "press_id": line.press_id,
            "name": NAMES["presses"][line.press_id],
            "last_reading_at": iso(self.now),
            "standing_since": iso(self.standing_since),
            "die_id": line.die_id,
            "part_no": line.part_no,
            "coil_id": self._coil_id(),
            "lot": self._lot(),
            "rated_spm": line.spm,
            "parts_per_stroke": line.parts_per_stroke,
            "order_id": f"A-{line.die_id[1:]}7",
            "order_quantity": 40_000,
            "order_due_at": "2026-11-04T14:00:00+01:00",
        }

    def _shift(self, window: ShiftWindow) -> None:
        end = min(window.end_us, self.now)
        stops = self._stops(window, end)
        running = _gaps(window.start_us, end, [(a, b) for a, b, _, _ in stops])
        strokes = pieces = rejected = 0
        self.looked: dict[tuple[str, str, str], int] = {}
        self.found: dict[tuple[tuple[str, str, str], str], int] = {}
        coil_changes = [b for _, b, reason, _ in stops if reason == "CCH"]
        for hour in CALENDAR.hour_starts(window.start_us, end):
            seconds = sum(_overlap(a, b, hour, hour + HOUR) for a, b in running) / 1e6
            made = int(seconds / 60 * self.line.spm * self.rng.uniform(0.93, 0.99))
            out = made * self.line.parts_per_stroke
            bad = self._bad(out)
            for change in coil_changes:
                if hour <= change < hour + HOUR:
                    self._close_coil(change)
                    self._mount(change)
            self._add_to_coil(made, out, bad)
            strokes, pieces, rejected = strokes + made, pieces + out, rejected + bad
            self.rows["hours"].append(self._what() | {
                "hour_start": iso(hour), "running_s": seconds, "unresolved_s": 0.0, "strokes": made, "pieces": out,
                "rejected": bad, "good": out - bad,
            })  # fmt: skip
            if out:
                self._inspect(out, bad)
        self._write_stops(window, stops)
        self._write_scrap(window)
        self._write_shift(window, end, stops=stops, running=running, strokes=strokes, pieces=pieces, rejected=rejected)

    def _stops(self, window: ShiftWindow, end: int) -> list[tuple[int, int, str, bool]]:
        """Stops of one shift in order, as (from, to, reason, still standing)."""
        wanted = [(a, b, "break") for a, b in window.breaks]
        for _ in range(self.rng.integers(5, 12)):
            start = int(self.rng.integers(window.start_us, window.end_us))
            wanted.append((start, start + int(self.rng.uniform(1.1, 3.5) * MIN), "no reason yet"))
        reasons = [reason for reason in NAMES["reasons"] if reason not in ("CCH", "NOP", "DCH")]
        for reason in ["CCH", *self.rng.choice(reasons, size=self.rng.integers(2, 4), replace=False)]:
            start = int(self.rng.integers(window.start_us + 20 * MIN, window.end_us - 40 * MIN))
            wanted.append((start, start + int(self.rng.uniform(7, 34) * MIN), str(reason)))
        if self.line.press_id == "P02" and window.start_us < self.now < window.end_us:
            self.standing_since = self.now - 23 * MIN
            wanted.append((self.standing_since, window.end_us, "no reason yet"))
        kept: list[tuple[int, int, str, bool]] = []
        priority = {"break": 0, "CCH": 1, "no reason yet": 3}
        for start, stop, reason in sorted(wanted, key=lambda w: (-(w[1] > self.now), priority.get(w[2], 2))):
            if start < end and not any(start < b + MIN and stop > a - MIN for a, b, _, _ in kept):
                kept.append((start, min(stop, end), reason, stop > end))
        return sorted(kept)

    def _write_stops(self, window: ShiftWindow, stops: list[tuple[int, int, str, bool]]) -> None:
        for start, stop, reason, standing in stops:
            self.rows["stops"].append({
                "stop_id": f"{self.line.press_id}-{start}", "press_id": self.line.press_id,
                "die_id": self.line.die_id, "start_at": iso(start), "end_at": "" if standing else iso(stop),
                "seconds": (stop - start) / 1e6, "shift_date": str(window.shift_date), "shift": window.shift,
                "reason": reason, "kind": {"break": "planned"}.get(reason, KINDS.get(reason, "")),
                "planned": reason in ("break", "NOP"),
            })  # fmt: skip

    def _write_shift(self, window, end, stops, running, strokes, pieces, rejected) -> None:
        out = sum(b - a for a, b, reason, _ in stops if reason == "break") / 1e6
        planned = (end - window.start_us) / 1e6 - out
        ran = sum(b - a for a, b in running) / 1e6
        setup = 12 if window.shift == "early" else 0
        good = pieces - rejected - setup
        rated = self.line.spm * self.line.parts_per_stroke / 60
        availability, effectiveness, quality = ran / planned, pieces / rated / ran, good / pieces
        self.rows["shifts"].append(self._what() | {
            "shift_date": str(window.shift_date), "shift": window.shift, "planned_s": planned,
            "running_s": ran, "stopped_s": planned - ran, "unresolved_s": 0.0,
            "setup_s": 0.0, "extra_run_s": 0.0, "strokes": strokes,
            "setup_strokes": setup, "strokes_without_strip": 0, "pieces": pieces, "setup_pieces": setup,
            "rejected": rejected, "reworked": 0, "good": good,
            "parts_per_planned_hour": pieces * 3600 / planned,
            "parts_per_running_hour": pieces * 3600 / ran, "availability": availability,
            "effectiveness": effectiveness, "quality": quality,
            "oee_index": availability * effectiveness * quality,
        })  # fmt: skip

    def _bad(self, out: int) -> int:
        if self.sampled:
            return int(out > 0 and self.rng.random() < 0.2)
        return int(self.rng.poisson(out * self.line.scrap))

    def _inspect(self, out: int, bad: int) -> None:
        """One inspection an hour: every piece, or on P05 a sample of five."""
        group = (self._coil_id(), self._lot(), "sample" if self.sampled else "full")
        self.looked[group] = self.looked.get(group, 0) + (5 if self.sampled else out)
        first, second = self.rng.choice(list(NAMES["causes"]), size=2, replace=False)
        for cause, number in ((first, bad - bad // 3), (second, bad // 3)):
            self.found[group, cause] = self.found.get((group, cause), 0) + number

    def _write_scrap(self, window: ShiftWindow) -> None:
        rows = {key: number for key, number in self.found.items() if number}
        for group in self.looked:
            if not any(group == key[0] for key in rows):
                rows[group, ""] = 0
        for (group, cause), number in rows.items():
            coil_id, lot, kind = group
            looked = self.looked[group]
            low, high = wilson(number, looked)
            self.rows["scrap"].append(self._what() | {
                "shift_date": str(window.shift_date), "shift": window.shift, "coil_id": coil_id, "lot": lot,
                "cause": cause, "kind": kind, "inspected": looked, "rejected": number, "spread": False,
                "rate": number / looked, "rate_low": float(low), "rate_high": float(high),
            })  # fmt: skip

    def _what(self) -> dict[str, object]:
        return {"press_id": self.line.press_id, "die_id": self.line.die_id, "part_no": self.line.part_no}

    def _coil_id(self) -> str:
        return f"C26{self.line.press_id[1:]}{self.coil_number:04d}"

    def _lot(self) -> str:
        return f"L{self.line.press_id[1:]}-{self.coil_number // 4:03d}"

    def _mount(self, at_us: int) -> None:
        self.coil_number += 1
        self.mounted_at = at_us
        self.coil = {"strokes": 0, "pieces": 0, "rejected": 0}

    def _add_to_coil(self, strokes: int, pieces: int, rejected: int) -> None:
        for key, value in (("strokes", strokes), ("pieces", pieces), ("rejected", rejected)):
            self.coil[key] += value

    def _close_coil(self, removed: int | None) -> None:
        line, coil = self.line, self.coil
        used_m = coil["strokes"] * line.pitch_m
        used_kg = used_m * line.kg_per_m
        start = max(line.coil_kg, used_kg * 1.004) if removed is None else used_kg * 1.013
        good = coil["pieces"] - coil["rejected"]
        remaining = start - used_kg if removed is None else 0.0
        skeleton = used_kg - coil["pieces"] * line.net_kg - 11 * line.pitch_m * line.kg_per_m
        parts = {
            "good_kg": good * line.net_kg, "skeleton_kg": skeleton, "setup_kg": 0.0,
            "unfinished_kg": 11 * line.pitch_m * line.kg_per_m, "rejected_kg": coil["rejected"] * line.net_kg,
            "remaining_kg": remaining,
        }  # fmt: skip
        self.rows["coils"].append(parts | {
            "coil_id": self._coil_id(), "lot": self._lot(), "heat": f"H{self.coil_number // 8:05d}",
            "supplier": "Invented strip mill", "material": "DC01", "press_id": line.press_id,
            "die_id": line.die_id, "mounted_at": iso(self.mounted_at), "removed_at": iso(removed),
            "strokes": coil["strokes"], "used_m": used_m, "used_kg": used_kg, "start_kg": start,
            "overrun_m": 0.0, "pieces": coil["pieces"], "unfinished": 11, "setup_pieces": 0,
            "rejected": coil["rejected"], "good": good, "difference_kg": start - sum(parts.values()),
            "coil_yield": good * line.net_kg / used_kg if used_kg else np.nan,
        })  # fmt: skip


def _overlap(a: int, b: int, c: int, d: int) -> int:
    return max(0, min(b, d) - max(a, c))


def _gaps(start: int, end: int, spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    edges = [start, *(edge for span in spans for edge in span), end]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]


class PlantFloor:
    """What the floor of these frames is asked: each hour with rejects is a stretch, D102 has 9,000 strokes left."""

    def __init__(self, frames: Frames) -> None:
        self.frames = frames

    def rejects(self, from_: str, to: str, press: str) -> pd.DataFrame:
        hours = self.frames.figures["hours"]
        hours = hours[(hours["rejected"] > 0) & hours["press_id"].isin([press] if press else hours["press_id"])]
        starts = hours["hour_start"].map(_us).astype("int64")
        return pd.DataFrame({
            "press_id": hours["press_id"], "from_us": starts, "to_us": starts + HOUR, "kind": "full",
            "causes": "BUR", "rejected": hours["rejected"], "inspected": hours["pieces"],
        })  # fmt: skip

    def unresolved(self, from_: str, to: str, press: str) -> pd.DataFrame:
        return pd.DataFrame(columns=["press_id", "die_id", "shift_date", "shift", "from_us", "to_us"])

    def stops_by_reason(self, since: dt.date) -> pd.DataFrame:
        stops = self.frames.figures["stops"].loc[lambda rows: rows["shift_date"] >= since.isoformat()]
        return stops.groupby(["press_id", "reason", "kind"])["stop_id"].nunique().rename("stops").reset_index()

    def orders(self) -> dict[str, OrderPace]:
        due = at("2026-11-04 14:00")
        ends = (at("2026-11-03 09:10"), at("2026-11-03 06:40"), at("2026-11-03 12:20"))
        presses = [press for press in self.frames.states["press_id"] if press.endswith("1")]
        return {
            press: OrderPace(press, "A-1027", "BR-40-A", 40_000, 31_250, due, *ends, pace=4_100.0, wanted=1_900.0)
            for press in presses
        }

    def signs(self) -> FloorSigns:
        row = ("P03", "D131", "CRK", at("2026-11-02 19:10"), 41, 2_000, 0.004)
        called = pd.DataFrame([row], columns=list(COLUMNS)) if len(self.frames.states) else pd.DataFrame()
        return FloorSigns(1, called, {"D102": (9_000, 80_000), "D140": (-1_200, 60_000)})

    def history(self, tables, from_us, to_us, press) -> list[object]:
        return []

    def hand_over(self, date, shift, press) -> HandOver:
        return HandOver(lack="There is no such shift on that day.")


class PlantDoor:
    """A service onto frames built in memory, filtering as the ledger's figures do."""

    def __init__(self, frames: Frames, calendar: Calendar | None = CALENDAR) -> None:
        self.frames = frames
        self.version = 1
        self._calendar = calendar
        self.desk = NoDesk()

    def read(self) -> PlantDoor:
        return self

    def figures(
        self, names: Sequence[str], from_: str = "", to: str = "", press: str = "", die: str = ""
    ) -> dict[str, pd.DataFrame]:
        return {name: self.figure(name, from_, to, press, die) for name in names}

    def figure(self, name: str, from_: str = "", to: str = "", press: str = "", die: str = "") -> pd.DataFrame:
        if name in ("loads", "set_aside"):  # Files and rows set aside: this plant was never loaded.
            return pd.DataFrame({column: [] for column in [*FIGURES[name].names, "refused"]})
        frame = self.frames.figures[name]
        if press:
            frame = frame[frame["press_id"] == press]
        if die:
            frame = frame[frame["die_id"] == die]
        return frame[_within(frame, name, from_, to)].reset_index(drop=True).copy()

    def press_states(self) -> pd.DataFrame:
        return self.frames.states.copy()

    def calendar(self) -> Calendar | None:
        return self._calendar

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        return dict(NAMES[table])

    @property
    def floor(self) -> PlantFloor:
        return PlantFloor(self.frames)

    def clocks(self) -> dict[str, object]:
        return {}

    def hold_places(self) -> list[object]:
        return []

    def unspent_coils(self) -> pd.DataFrame:
        return self.figure("coil_ledger")

    def held_at_presses(self) -> list[object]:
        return []

    def missing_scans(self, from_: str = "", to: str = "", press: str = "") -> list[object]:
        return []

    def contradictions(self, from_: str = "", to: str = "", press: str = "", die: str = "") -> list[object]:
        return []

    def cached(self, question, load):
        return load()

    def rated_per_hour(self, press_id: str, die_id: str, date: dt.date) -> float | None:
        line = next((line for line in LINES if line.die_id == die_id), None)
        return 60 * line.spm * line.parts_per_stroke if line else None


def _within(frame: pd.DataFrame, name: str, from_: str, to: str) -> pd.Series:
    if name in ("shifts", "scrap"):
        keys = zip(frame["shift_date"], frame["shift"], strict=True)
        start = pd.Series([_shift_start(*key) for key in keys], index=frame.index, dtype="int64")
        end = start
    else:
        first, last = {"hours": ("hour_start",) * 2, "stops": ("start_at", "end_at")}.get(
            name, ("mounted_at", "removed_at")
        )
        start, end = frame[first].map(_us), frame[last].map(_us)
    keep = pd.Series(True, index=frame.index)
    if from_:
        keep &= end >= _us(from_)
    if to:
        keep &= start < _us(to)
    return keep


def _us(text: str) -> int:
    if not text:
        return 2**62
    when = dt.datetime.fromisoformat(text) if "T" in text else None
    if when is None:
        return CALENDAR.day_start_us(dt.date.fromisoformat(text))
    return (when - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)


def _shift_start(date: str, shift: str) -> int:
    return CALENDAR.wall_us(dt.date.fromisoformat(date), {"early": 360, "late": 840, "night": 1320}[shift])


def empty() -> Frames:
    """A ledger that holds nothing yet."""
    columns = list(_Press(LINES[0], at("2026-11-02 19:42"), 1, np.random.default_rng(1)).state())
    return Frames("", {name: table(name, []) for name in FIGURES}, pd.DataFrame(columns=columns, dtype="str"))


def crowd(frames: Frames, copies: int) -> Frames:
    """The same plant with every press repeated under further ids."""

    def renamed(frame: pd.DataFrame, n: int) -> pd.DataFrame:
        return frame.assign(press_id=frame["press_id"].str.replace("P0", f"P{n}"))

    figures = {
        name: pd.concat([renamed(frame, n) for n in range(copies)], ignore_index=True)
        for name, frame in frames.figures.items()
    }
    states = pd.concat([renamed(frames.states, n) for n in range(copies)], ignore_index=True)
    return replace(frames, figures=figures, states=states)
