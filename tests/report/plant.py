"""An invented plant for reports: a press, die and part each, a week of mornings, every id with the part's own token.

Whoever finds a part's token in a paper has found something of that part.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.cli.main import main
from monitor.ledger import Ledger
from monitor.load.files import load

PLANT = """
name = "Tiny works"
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
"""
#: What never goes out: supplier, standing reason, free text with a name in it, names of presses and dies.
SECRETS = ("zqsupplier", "zqreason", "Zqperson", "zqpress", "zqdie")
HOURS, SPM, SUBGROUP = 4, 60, 5
Row = dict[str, object]


def token(number: int) -> str:
    """Letters that stand for a part and occur nowhere else: zqaa, zqab ..."""
    return "zq" + chr(ord("a") + number // 26) + chr(ord("a") + number % 26)


@dataclass
class Works:
    """What the files are written from: customers with the number of their parts, and a week's first day."""

    customers: Mapping[str, int]
    first: dt.date
    days: int = 5
    coils_a_day: int = 1
    names: Mapping[str, str] = field(default_factory=dict)
    quiet: bool = False

    def parts(self) -> Iterator[tuple[str, str]]:
        """Tokens of the parts with their customers."""
        owners = [name for name, count in self.customers.items() for _ in range(count)]
        yield from ((token(number), owner) for number, owner in enumerate(owners))

    def tokens(self, customer: str) -> set[str]:
        """Tokens of a customer's parts."""
        return {part for part, owner in self.parts() if owner == customer}

    def write(self, folder: Path, plant: str = PLANT) -> Path:
        """Write the files of the plant."""
        folder.mkdir()
        (folder / "plant.toml").write_text(plant, "utf-8")
        tables: dict[str, list[Row]] = {}
        for part, owner in self.parts():
            for name, rows in {**self._book(part, owner), **self._week(part, owner)}.items():
                tables.setdefault(name, []).extend(rows)
        tables["materials"] = [{"material": "DC01", "density_kg_m3": 7850}]
        tables["causes"] = [{"cause": "BUR", "name": "burr too high"}, {"cause": "CRK", "name": "crack"}]
        tables["reasons"] = [{"reason": "zqreason", "kind": "tooling"}]
        for name, rows in tables.items():
            (folder / f"{name}.csv").write_text(text(rows), "utf-8")
        return folder

    def _book(self, part: str, owner: str) -> dict[str, list[Row]]:
        return {
            "presses": [{"press_id": f"P-{part}", "rated_spm": SPM, "name": "zqpress"}],
            "dies": [{"die_id": f"D-{part}", "pitch_mm": 10, "parts_per_stroke": 1, "rated_spm": SPM, "name": "zqdie"}],
            "stations": [{"die_id": f"D-{part}", "station": n, "operation": "blank"} for n in (1, 2)],
            "parts": [
                {
                    "part_no": part,
                    "name": self.names.get(part, f"bracket {part}"),
                    "customer": owner,
                    "net_weight_g": 1,
                }
            ],
            "routes": [{"part_no": part, "step": 1, "die_id": f"D-{part}"}],
            "characteristics": [
                {
                    "part_no": part,
                    "characteristic": f"hole {part}",
                    "lower": 4.9,
                    "upper": 5.1,
                    "unit": "mm",
                    "key": "true",
                }
            ],
        }

    def _week(self, part: str, owner: str) -> dict[str, list[Row]]:
        rows: dict[str, list[Row]] = {name: [] for name in ("strokes", "coils", "coil_changes", "containers")}
        press = {"press_id": f"P-{part}"}
        start = dt.datetime.combine(self.first, dt.time(6))
        rows["die_changes"] = [{"time": start, "event": "set", "die_id": f"D-{part}", **press}]
        rows["die_changes"] += [
            {"time": start + dt.timedelta(minutes=2), "event": "first_off", "die_id": f"D-{part}", **press}
        ]
        rows["stops"] = [{"start_at": start + dt.timedelta(hours=5), "reason": "zqreason", **press,
                          "end_at": start + dt.timedelta(hours=6)}]  # fmt: skip
        rows["shipments"], rows["inspections"], rows["measurements"] = [], [], []
        for day in range(self.days):
            self._day(rows, part, owner, start + dt.timedelta(days=day), day)
        if not self.quiet:
            rows["complaints"], rows["holds"] = self._papers(part, owner, start)
        return {name: found for name, found in rows.items() if found}

    def _day(self, rows: dict[str, list[Row]], part: str, owner: str, start: dt.datetime, day: int) -> None:
        press = {"press_id": f"P-{part}"}
        minute = dt.timedelta(minutes=1)
        rows["strokes"] += [
            {"time": start + n * minute, "counter": SPM * (60 * HOURS * day + n), **press}
            for n in range(60 * HOURS + 1)
        ]
        for number in range(self.coils_a_day):
            coil, event = f"C-{part}-{day}-{number}", "splice" if day + number else "mount"
            rows["coils"].append(
                {"coil_id": coil, "lot": f"L-{part}-{day}-{number}", "heat": f"H-{part}-{day}", "material": "DC01",
                 "supplier": "zqsupplier", "width_mm": 20, "thickness_mm": 1, "weight_kg": 40}
            )  # fmt: skip
            at = start + number * 60 * HOURS / self.coils_a_day * minute
            rows["coil_changes"].append({"time": at, "event": event, "coil_id": coil, **press})
        for hour in range(HOURS):
            self._hour(
                rows,
                part,
                owner=owner,
                start=start + hour * 60 * minute,
                box=f"B-{part}-{day}-{hour}",
                number=day * HOURS + hour,
            )

    def _hour(
        self, rows: dict[str, list[Row]], part: str, owner: str, start: dt.datetime, box: str, number: int
    ) -> None:
        where = {"press_id": f"P-{part}", "part_no": part}
        closed = start + dt.timedelta(minutes=59, seconds=59)
        rejected = {"BUR": 4 + number % 5, "CRK": number % 3}
        made = 60 * SPM
        rows["containers"].append(
            {
                "container_id": box,
                "opened_at": start,
                "closed_at": closed,
                "quantity": made - sum(rejected.values()),
                **where,
            }
        )
        rows["shipments"].append(
            {"shipment_id": f"S-{part}-{start:%d}", "container_id": box, "customer": owner,
             "shipped_at": start.replace(hour=13)}
        )  # fmt: skip
        if self.quiet:
            return
        look = {"inspection_id": f"I-{box}", "time": closed, "kind": "full", "inspected": made - 1, "container_id": box}
        rows["inspections"] += [{**look, **where, "cause": cause, "rejected": n} for cause, n in rejected.items() if n]
        for half in (0, 30):
            rows["measurements"] += [
                {"time": start + dt.timedelta(minutes=half), "characteristic": f"hole {part}", "piece": piece,
                 "value": 5 + 0.004 * ((7 * piece + 3 * number + half) % 9 - 4), **where}
                for piece in range(1, SUBGROUP + 1)
            ]  # fmt: skip

    def _papers(self, part: str, owner: str, start: dt.datetime) -> tuple[list[Row], list[Row]]:
        complaint = {"complaint_id": f"K-{part}", "reported_at": start + dt.timedelta(days=2), "customer": owner}
        complaint |= {"part_no": part, "container_id": f"B-{part}-0-0", "pieces": 3, "cause": "BUR", "accepted": "yes"}
        hold = {"hold_id": f"Q-{part}", "placed_at": start + dt.timedelta(days=3), "scope": "lot"}
        hold |= {"value": f"L-{part}-1-0", "reason": "seen by Zqperson at the press"}
        return [complaint], [hold]


def text(rows: Sequence[Row]) -> str:
    """CSV of rows that may have different columns."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, names)
    writer.writeheader()
    writer.writerows({n: v.isoformat() if isinstance(v, dt.datetime) else v for n, v in row.items()} for row in rows)
    return out.getvalue()


def loaded(works: Works, folder: Path, plant: str = PLANT) -> Path:
    """Write a plant and load it; returns the folder of the ledger."""
    files = works.write(folder / "files", plant)
    with Ledger.open(folder / "ledger", create=True) as ledger:
        report = load([files], ledger)
    assert not [(f.file, f.refused, f.set_aside) for f in report.files if f.refused or f.set_aside]
    return folder / "ledger"


def run(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    """Give the command `week`; returns its exit code."""
    monkeypatch.setattr(sys, "argv", ["strokeledger", "week", *(str(word) for word in words)])
    try:
        main()
    except SystemExit as left:
        return int(left.code or 0)
    return 0
