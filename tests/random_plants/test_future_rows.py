"""A row of the plant book dated after the asked range changes no byte of any figure that takes a range."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pytest

from monitor.export import as_csv
from monitor.figures import AVAILABLE, ask_all
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.facts import FACTS
from shared.plant import Plant
from tests.invented.plants import random_plant

TABLES = ("presses", "dies", "stations", "outs", "routes", "parts", "materials", "causes", "reasons", "characteristics")
#: The lists of rows set aside and of files take no range.
ASKED = [name for name in AVAILABLE if name not in ("set_aside", "loads")]
#: What a mounting or a container held is told whole, however long after the range it went on.
WHOLE = ("coils", "coil_ledger", "trace", "exposure")
SEED = 3
YEARS = dt.timedelta(days=1000)
DAY = dt.timedelta(days=1)

Rows = Sequence[Mapping[str, object]]


def read(folder: Path, table: str) -> list[dict[str, str]]:
    """The rows of a table as they were written."""
    file = folder / f"{table}.csv"
    return list(csv.DictReader(file.read_text("utf-8").splitlines())) if file.exists() else []


def write(folder: Path, table: str, rows: Rows) -> None:
    """Write rows of a table, all of the same columns."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(name for row in rows for name in row)))
        writer.writeheader()
        writer.writerows(rows)


def utc(seconds: int) -> str:
    """A moment since 1970 as ISO 8601."""
    return dt.datetime.fromtimestamp(seconds, dt.UTC).isoformat()


def whole_plant(folder: Path, seed: int) -> tuple[Path, dt.date]:
    """A random plant of three days with customers, routes, deliveries, complaints, measurements and sharpenings."""
    truth = random_plant(seed, folder, days=3)
    first = dt.datetime.fromtimestamp(truth.from_s + 2 * 3600, dt.UTC).date()
    parts = [row | {"customer": "K", "net_weight_g": "5"} for row in read(folder, "parts")]
    write(folder, "parts", parts)
    listed = {row["die_id"]: row["part_no"] for row in read(folder, "outs")}
    dies = [row["die_id"] for row in read(folder, "dies")]
    own = {die: listed.get(die) or next(p["part_no"] for p in parts if p["part_no"][:3] in die) for die in dies}
    write(folder, "routes", [{"part_no": part, "step": 1, "die_id": die} for die, part in own.items()])
    boxes = read(folder, "containers")
    sent = [
        {"shipment_id": f"S{n}", "container_id": box["container_id"], "shipped_at": (first + n % 3 * DAY).isoformat()}
        for n, box in enumerate(boxes)
    ]
    write(folder, "shipments", sent)
    write(
        folder,
        "characteristics",
        [{"part_no": p["part_no"], "characteristic": "d", "lower": 9, "upper": 11} for p in parts],
    )
    presses = [row["press_id"] for row in read(folder, "presses")]
    measured = [
        {"time": utc(truth.from_s + 3600 * n), "press_id": presses[n % len(presses)], "part_no": part["part_no"],
         "characteristic": "d", "piece": 1, "value": 10 + (n * 7 % 11 - 5) / 4}
        for n in range(1, 70, 3) for part in parts
    ]  # fmt: skip
    write(folder, "measurements", measured)
    write(folder, "complaints", [{"complaint_id": "Q1", "reported_at": (first + DAY).isoformat(), "customer": "K",
                                  "part_no": parts[0]["part_no"], "pieces": 3}])  # fmt: skip
    write(folder, "die_service", [{"time": utc(truth.from_s + 7200), "die_id": d, "work": "sharpen"} for d in dies])
    return folder, first


def changed(folder: Path, table: str, since: dt.date) -> Rows:
    """Every row of a table as it is to be from a day on, with all that bears on figures changed."""
    new: dict[str, dict[str, object]] = {
        "presses": {"rated_spm": 3, "stop_after_s": 3, "lead_in_mm": 9000, "counter_modulus": 7},
        "dies": {
            "pitch_mm": 300,
            "rated_spm": 3,
            "parts_per_stroke": 1,
            "sharpen_every_strokes": 3,
            "strip_width_mm": 9,
        },
        "stations": {"operation": "idle"},
        "outs": {"station": 1},
        "routes": {"step": 2},
        "parts": {"net_weight_g": 500, "customer": "Z", "thickness_mm": 9},
        "materials": {"density_kg_m3": 999},
        "causes": {"operations": "draw", "name": "another"},
        "reasons": {"kind": "planned", "in_planned_time": "false"},
        "characteristics": {"lower": 0, "upper": 1},
    }
    rows = [row | new[table] | {"valid_from": since.isoformat()} for row in read(folder, table)]
    if table == "stations":
        dies = dict.fromkeys(str(row["die_id"]) for row in rows)
        rows += [{"die_id": die, "station": 40, "operation": "pierce", "valid_from": since.isoformat()} for die in dies]
    if table == "routes":
        dies = [str(row["die_id"]) for row in rows]
        rows = [row | {"die_id": die} for row, die in zip(rows, [*dies[1:], dies[0]], strict=True)]
    return rows


def without_shifts(file: Path, since: dt.date) -> str:
    """The plant's text with every shift ended from a day on."""
    text = file.read_text("utf-8")
    entry = '[[shift]]\nname = "{}"\nstart = "03:00"\nend = "04:00"\ndays = []\nvalid_from = {}\n'
    names = dict.fromkeys(shift.name for shift in Plant.from_toml(text).shifts)
    return "\n".join([text, *(entry.format(name, since) for name in names)])


def figures(ledger: Ledger, names: Iterable[str], first: dt.date, to: dt.date) -> dict[str, str]:
    """Figures of a range as CSV."""
    told = ask_all(ledger.snapshot(), names, from_=first.isoformat(), to=to.isoformat())
    return {name: as_csv(table) for name, table in told.items()}


def facts(ledger: Ledger) -> dict[str, str]:
    """All facts as CSV."""
    snapshot = ledger.snapshot()
    tables = {kind: snapshot.facts(kind) for kind in FACTS}
    return {kind: as_csv(table.sort_values(list(table.columns))) for kind, table in tables.items()}


class Played:
    """A plant that has been loaded once; each test gets a ledger of its own to load rows into."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder, self.first = whole_plant(folder / "plant", seed)
        self.stored = folder / "ledger"
        with Ledger.open(self.stored, create=True) as ledger:
            report = load([self.folder], ledger)
        assert not any(file.refused for file in report.files), report.files

    def ledger(self, folder: Path) -> Ledger:
        return Ledger.open(shutil.copytree(self.stored, folder / "ledger"))


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Played:
    return Played(tmp_path_factory.mktemp("plant"), SEED)


def test_rows_of_later_years_change_nothing(plant: Played, tmp_path: Path) -> None:
    first, later = plant.first, tmp_path / "later"
    for table in TABLES:
        write(later, table, changed(plant.folder, table, first + YEARS))
    (later / "plant.toml").write_text(without_shifts(plant.folder / "plant.toml", first + YEARS), "utf-8")
    with plant.ledger(tmp_path) as ledger:
        before, held = figures(ledger, ASKED, first, first + 3 * DAY), facts(ledger)
        # The range holds something of everything, or nothing could change.
        assert {name for name, text in before.items() if text.count("\n") < 2} <= {"suspects", "contradictions"}
        report = load([later], ledger)
        assert not any(file.set_aside or file.refused for file in report.files), [f.refused for f in report.files]
        assert figures(ledger, ASKED, first, first + 3 * DAY) == before
        assert facts(ledger) == held


@pytest.mark.parametrize("tables", [TABLES[:5], TABLES[5:]], ids=["folds", "figures"])
def test_rows_of_the_day_after_the_range_change_nothing(plant: Played, tmp_path: Path, tables: Sequence[str]) -> None:
    """The press goes on through the end of the range, and the rows hold from that moment on."""
    first, third, end = (plant.first + n * DAY for n in (0, 2, 3))
    names = [name for name in ASKED if name not in WHOLE]
    for table in tables:
        write(tmp_path / "later", table, changed(plant.folder, table, third))
    with plant.ledger(tmp_path) as ledger:
        before, after = figures(ledger, names, first, third), figures(ledger, ASKED, third, end)
        load([tmp_path / "later"], ledger)
        told = figures(ledger, names, first, third)
        for name in names:
            assert told[name] == before[name], name
        # The day they hold from differs, or the rows would bear on nothing.
        assert figures(ledger, ASKED, third, end) != after
