"""Plants of a few rows, written and loaded as files: what a test does not say is one press, one die and one part."""

from __future__ import annotations

import csv
import datetime as dt
from collections import defaultdict
from pathlib import Path

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.report import LoadReport

DAY = dt.date(2026, 11, 2)
PLAIN = 'name = "Tiny"\ntimezone = "UTC"\n'
SHIFTS = (
    PLAIN
    + """
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
days = ["mon", "tue", "wed", "thu", "fri"]
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
days = ["mon", "tue", "wed", "thu", "fri"]
[[break]]
shift = "early"
start = "10:00"
end = "10:30"
"""
)

Row = dict[str, object]


def at(clock: str, date: dt.date = DAY) -> str:
    """A moment in UTC: "HH:MM" or "HH:MM:SS" of a day."""
    return f"{date.isoformat()}T{clock if len(clock) > 5 else clock + ':00'}+00:00"


class Tiny:
    """Rows by table; `load` writes what has been added since the last time and loads it."""

    def __init__(self, folder: Path, toml: str = PLAIN, stations: int = 1, pitch_mm: float = 30.0) -> None:
        self.folder = folder
        self.rows: dict[str, list[Row]] = defaultdict(list)
        self.counters: dict[str, int] = defaultdict(int)
        self.ledger = Ledger.open(folder / "ledger", create=True)
        self.loads = 0
        self.toml = toml
        self.add("presses", press_id="P", rated_spm=200)
        self.die("D", stations, pitch_mm)
        self.add("parts", part_no="N", net_weight_g=10, customer="K")
        self.add("routes", part_no="N", step=1, die_id="D")
        self.add("materials", material="steel", density_kg_m3=8000)
        self.add("causes", cause="BUR", operations="pierce")

    def die(self, die_id: str, stations: int, pitch_mm: float = 30.0, outs: int = 1, **more: object) -> None:
        """A die whose stations all pierce."""
        self.add("dies", die_id=die_id, pitch_mm=pitch_mm, parts_per_stroke=outs, rated_spm=200, **more)
        for station in range(1, stations + 1):
            self.add("stations", die_id=die_id, station=station, operation="pierce", **more)

    def add(self, table: str, **row: object) -> None:
        """A row of a table."""
        self.rows[table].append(row)

    def coil(self, coil_id: str, lot: str = "L", heat: str = "H", weight_kg: float = 5000) -> None:
        """A coil of 30 x 1 mm steel: 0.24 kg a metre."""
        self.add("coils", coil_id=coil_id, lot=lot, heat=heat, material="steel", width_mm=30, thickness_mm=1,
                 weight_kg=weight_kg, supplier="S")  # fmt: skip

    def set_die(self, time: str, die_id: str = "D", press: str = "P", **more: object) -> None:
        """A die set; nobody enters first-offs unless a test does."""
        self.add("die_changes", time=time, press_id=press, event="set", die_id=die_id, **more)

    def change(self, time: str, event: str, coil_id: str, press: str = "P", **more: object) -> None:
        """A coil change."""
        self.add("coil_changes", time=time, press_id=press, event=event, coil_id=coil_id, **more)

    def run(self, begin: str, end: str, press: str = "P", spm: float = 60, every_s: int = 20, feeds: int = -1) -> None:
        """Stroke evenly from one moment to another, read every so many seconds."""
        first, last = (dt.datetime.fromisoformat(text) for text in (begin, end))
        seconds = int((last - first).total_seconds())
        before = self.counters[press]
        for second in [*range(0, seconds, every_s), seconds]:
            counter = before + round(spm / 60 * second)
            row: Row = {"time": (first + dt.timedelta(seconds=second)).isoformat(), "press_id": press}
            row["counter"] = 1000 + counter
            if feeds >= 0:
                row["feeds"] = feeds
            self.rows["strokes"].append(row)
            self.counters[press] = counter

    def box(self, name: str, begin: str, end: str, quantity: int | None = None, **more: object) -> None:
        """A container."""
        row = {"container_id": name, "part_no": "N", "press_id": "P", "opened_at": begin, "closed_at": end}
        self.add("containers", **{**row, "quantity": quantity, **more})

    def look(self, name: str, time: str, kind: str, inspected: int | None, rejected: int, **more: object) -> None:
        """An inspection of one cause, or a clean one."""
        row = {"inspection_id": name, "time": time, "press_id": "P", "kind": kind, "inspected": inspected}
        self.add("inspections", **{**row, "cause": "BUR" if rejected else "", "rejected": rejected, **more})

    def load(self) -> LoadReport:
        """Write the rows added since the last time as files, and load them."""
        self.loads += 1
        folder = self.folder / f"load-{self.loads}"
        folder.mkdir()
        if self.loads == 1:
            (folder / "plant.toml").write_text(self.toml, "utf-8")
        for name, rows in self.rows.items():
            columns = list(dict.fromkeys(column for row in rows for column in row))
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns)
                writer.writeheader()
                writer.writerows(rows)
        self.rows.clear()
        report = load([folder], self.ledger)
        assert not any(file.refused for file in report.files), report.files
        assert not any(file.set_aside for file in report.files), figure(self.ledger, "set_aside")["reason"].tolist()
        return report
