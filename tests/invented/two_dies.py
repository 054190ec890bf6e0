"""Random plants of one press and of two, the strip of the first wound onto reels and fed into the second.

Every progression is an object that is moved about and knows its coil; nothing here is worked out from a formula, and
nothing is shared with the product.
"""

from __future__ import annotations

import csv
import datetime as dt
import random
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

START = dt.datetime(2026, 11, 2, 6, tzinfo=dt.UTC)
Row = dict[str, object]


def moment(second: int) -> str:
    """Time of a second of the plant."""
    return (START + dt.timedelta(seconds=second)).isoformat()


@dataclass
class Line:
    """A press with a die of some stations: strip comes in on one side, progressions leave on the other."""

    press_id: str
    die_id: str
    stations: int
    lead_in: int = 0
    second: int = 0
    counter: int = 0
    coil_id: str = ""
    supply: list[str] = field(default_factory=list)
    ahead: list[str] = field(default_factory=list)
    die: list[str] = field(default_factory=list)
    outs: tuple[int, ...] = ()
    setting: bool = False
    first_offs: bool = False
    dies: list[Row] = field(default_factory=list)
    left: list[tuple[int, int, str]] = field(default_factory=list)
    readings: list[tuple[int, int]] = field(default_factory=list)
    changes: list[Row] = field(default_factory=list)

    def note(self, event: str, coil_id: str) -> None:
        """Enter a coil change, at a second of its own."""
        self.stand(1)
        self.read()
        self.changes.append(
            {"time": moment(self.second), "press_id": self.press_id, "event": event, "coil_id": coil_id}
        )
        self.stand(1)

    def mount(self, coil_id: str, supply: list[str]) -> None:
        """Pull the old strip out and thread a new one."""
        self.note("mount", coil_id)
        self.coil_id, self.supply, self.ahead, self.die = coil_id, supply, [], []

    def splice(self, coil_id: str, supply: list[str]) -> None:
        """Join a new strip on at the decoiler: what lies between there and the die is still the old one."""
        self.note("splice", coil_id)
        between = [self.supply.pop(0) for _ in range(min(self.lead_in - len(self.ahead), len(self.supply)))]
        self.coil_id, self.supply, self.ahead = coil_id, supply, self.ahead + between

    def cut(self) -> None:
        """Cut the strip back before the die and thread it again."""
        self.note("cut", self.coil_id)
        self.die = []

    def joint(self) -> None:
        """Note a mill weld as it passes the decoiler: the strip goes on, of the same coil."""
        self.note("joint", self.coil_id)

    def change_die(self, event: str, part_no: str = "") -> None:
        """Note that the die is set, released by its first-off, or pulled with the strip in it."""
        self.stand(1)
        self.read()
        self.dies.append({"time": moment(self.second), "press_id": self.press_id, "event": event,
                          "die_id": self.die_id, "part_no": part_no})  # fmt: skip
        self.setting = event == "set" and self.first_offs
        if event == "pull":
            self.die = []
        self.stand(1)

    def remove(self) -> None:
        """Take the coil off; the strip in the die is pulled out by the next mount."""
        self.note("remove", self.coil_id)

    def stroke(self) -> None:
        """Draw a progression in; it leaves an out when it fills the station where that parts off."""
        self.second += 1
        self.counter += 1
        self.die.insert(0, self.ahead.pop(0) if self.ahead else self.supply.pop(0))
        for out, station in enumerate(self.outs or (self.stations,), 1):
            if len(self.die) >= station and not self.setting:
                self.left.append((self.second, out, self.die[station - 1]))
        del self.die[self.stations - 1 :]

    def dry(self, strokes: int) -> None:
        """Stroke with no coil on the press: nothing is fed and nothing leaves."""
        self.read()
        self.second += strokes
        self.counter += strokes
        self.read()

    def run(self, strokes: int, every: int) -> None:
        """Make strokes, one a second, read every so many."""
        for nth in range(strokes):
            if nth % every == 0:
                self.read()
            self.stroke()
        self.read()

    def stand(self, seconds: int) -> None:
        """Make no stroke for a while."""
        self.read()
        self.second += seconds

    def read(self) -> None:
        """Read the counter."""
        if not self.readings or self.readings[-1][0] < self.second:
            self.readings.append((self.second, self.counter))


@dataclass
class Plant:
    """What happened: the tables it left, and by container the coils of its pieces in the order in which they fell."""

    tables: dict[str, list[Row]]
    boxes: dict[str, list[str]]
    wound: dict[str, list[str]]
    coils: Counter[str]


PITCH_MM = 25.0

WEEKS_S = 15 * 86_400


def two_die_plant(seed: int, folder: Path, *, coarse: bool = False) -> Plant:
    """Play a plant and write its files; `coarse` reads the counters seldom and not where anything changes."""
    dice = random.Random(seed)
    every = dice.choice([40, 90]) if coarse else dice.choice([5, 11, 30])
    first = Line("A", "D1", dice.randint(2, 9), lead_in=dice.choice([0, 0, 4]))
    first.change_die("set")
    coils = _first_die(first, dice, every)
    reels, wound = _wind(first, dice)
    second = Line("B", "D2", dice.randint(2, 12), second=first.second + 500)
    begin = second.second
    second.change_die("set")
    _second_die(second, dice, every, wound)
    boxes, contents = _boxes(second, dice, begin)
    tables = _book([first, second], coils) | {
        "reels": reels,
        "coil_changes": first.changes + second.changes,
        "containers": boxes,
        "shipments": [
            {"shipment_id": "S-1", "container_id": box["container_id"], "shipped_at": moment(second.second + 60),
             "customer": "K"}
            for box in boxes[::2]
        ],
        "strokes": _strokes(first, reels, coarse) + _strokes(second, boxes, coarse),
    }  # fmt: skip
    _write(folder, tables)
    return Plant(tables, contents, wound, Counter(coil for *_, coil in second.left))


def one_die_plant(seed: int, folder: Path) -> Plant:
    """Play a press by itself: one out, two of a part, or a family of two parts, each with its own boxes."""
    dice = random.Random(seed)
    stations = dice.randint(2, 9)
    outs = dice.choice([(), (stations, stations), (stations, dice.randint(1, stations))])
    parts = dice.choice([("N", "N"), ("N", "M")])
    line = Line("A", "D1", stations, lead_in=dice.choice([0, 0, 4]), outs=outs, first_offs=dice.random() < 0.5)
    line.change_die("set")
    coils = _first_die(line, dice, dice.choice([5, 11, 30]))
    boxes: list[Row] = []
    contents: dict[str, list[str]] = {}
    for part in sorted(set(parts[: len(outs) or 1])):
        mine = [(second, coil) for second, out, coil in line.left if parts[out - 1] == part]
        found, inside = _parted(mine, part, dice)
        boxes, contents = boxes + found, contents | inside
    tables = _book([line], coils) | {
        "outs": [
            {"die_id": "D1", "out": out, "part_no": parts[out - 1], "station": station}
            for out, station in enumerate(outs, 1)
        ],
        "coil_changes": line.changes,
        "containers": boxes,
        "strokes": _strokes(line, boxes, coarse=False),
    }
    _write(folder, {name: rows for name, rows in tables.items() if rows})
    return Plant(tables, contents, {}, Counter(coil for *_, coil in line.left))


def _parted(left: list[tuple[int, str]], part: str, dice: random.Random) -> tuple[list[Row], dict[str, list[str]]]:
    """Put the pieces of a part into boxes of some dozens, each closed as the next is opened."""
    boxes: list[Row] = []
    contents = {}
    seconds = sorted({second for second, _ in left})
    begin = seconds[0] - 1
    while begin < seconds[-1]:
        later = [second for second in seconds if second > begin]
        end = later[min(len(later), dice.randint(30, 150)) - 1]
        inside = [coil for second, coil in left if begin < second <= end]
        name = f"{part}-{len(boxes) + 1}"
        row: Row = {"container_id": name, "part_no": part, "press_id": "A"}
        boxes.append({**row, "opened_at": moment(begin), "closed_at": moment(end), "quantity": len(inside)})
        contents[name] = inside
        begin = end
    return boxes, contents


def _first_die(line: Line, dice: random.Random, every: int) -> list[str]:
    """Run coils spliced and mounted, cut back, welded, taken off half used and put on again weeks later."""
    coils = [f"C-{number}" for number in range(1, dice.randint(3, 6))]
    waiting = [(coil, [coil] * 2000) for coil in coils]
    rack: list[tuple[str, list[str]]] = []
    is_bare = True
    while waiting or rack:
        from_rack = bool(rack) and (not waiting or dice.random() < 0.4)
        coil, supply = (rack if from_rack else waiting).pop(0)
        if from_rack:
            line.stand(WEEKS_S)
        if is_bare or dice.random() < 0.4:
            line.mount(coil, supply)
        else:
            line.splice(coil, supply)
        line.run(dice.randint(40, 200), every)
        _happens(line, dice, every)
        is_bare = not from_rack and dice.random() < 0.35
        if is_bare:
            line.remove()
            # Taken off half used: what lies in the die is lost, the rest goes back to the rack.
            rack.append((coil, line.supply))
            if dice.random() < 0.5:
                line.dry(dice.randint(5, 60))
    line.stand(5)
    line.read()
    return coils


def _happens(line: Line, dice: random.Random, every: int) -> None:
    """Release the die by its first-off, then perhaps cut the strip, pass a weld, pull the die or stand for a while."""
    if line.setting:
        line.change_die("first_off")
        line.run(dice.randint(20, 80), every)
    if dice.random() < 0.3:
        line.cut()
        line.run(dice.randint(20, 80), every)
    if dice.random() < 0.3:
        line.joint()
        line.run(dice.randint(20, 80), every)
    if dice.random() < 0.2:
        line.change_die("pull")
        line.change_die("set")
        line.run(dice.randint(20, 80), every)
        if line.setting:
            line.change_die("first_off")
            line.run(dice.randint(20, 80), every)
    if dice.random() < 0.3:
        line.stand(dice.randint(100, 4000))


def _wind(line: Line, dice: random.Random) -> tuple[list[Row], dict[str, list[str]]]:
    """Cut what left the first die into reels by time; one in three is cut in two afterwards."""
    seconds = [second for second, *_ in line.left]
    edges = sorted({0, *dice.sample(seconds, min(len(seconds), dice.randint(1, 4))), line.second})
    reels: list[Row] = []
    strips: dict[str, list[str]] = {}
    for start, end in pairwise(edges):
        strip = [coil for second, _, coil in line.left if start < second <= end]
        name, turns = f"R-{len(reels) + 1}", dice.randint(0, 2)
        when: Row = {"press_id": "A", "started_at": moment(start), "ended_at": moment(end)}
        reels.append({"reel_id": name, **when, "rewinds": turns})
        if len(strip) > 40 and dice.random() < 0.4:
            at = dice.randint(15, len(strip) - 15)
            for tail, part, low, high in (("a", strip[:at], 0, at), ("b", strip[at:], at, len(strip))):
                more = dice.randint(0, 1)
                lengths = {"from_reel": name, "from_m": low * PITCH_MM / 1000, "to_m": high * PITCH_MM / 1000}
                reels.append({"reel_id": name + tail, **when, "rewinds": more, **lengths})
                strips[name + tail] = _fed(part, turns + more)
        elif strip:
            strips[name] = _fed(strip, turns)
    return reels, strips


def _fed(wound: list[str], turns: int) -> list[str]:
    """Turn a strip round: it comes off its reel the other way than it went on, and so each time again."""
    strip = list(wound)
    for _ in range(turns + 1):
        strip = strip[::-1]
    return strip


def _second_die(line: Line, dice: random.Random, every: int, wound: dict[str, list[str]]) -> None:
    waiting = [(name, list(strip)) for name, strip in wound.items() if len(strip) > 2]
    dice.shuffle(waiting)
    while waiting:
        name, strip = waiting.pop(0)
        if line.coil_id and not line.supply and dice.random() < 0.5:
            line.splice(name, strip)
        else:
            line.mount(name, strip)
        back = len(strip) > 60 and dice.random() < 0.4
        line.run(dice.randint(20, len(strip) - 20) if back else len(strip), every)
        if back:
            line.remove()
            # The end that was fed in stays behind in the die; the rest goes back to the rack.
            waiting.insert(dice.randint(0, len(waiting)), (name, line.supply))
            line.supply = ["never fed"]
    line.stand(5)
    line.read()


def _boxes(line: Line, dice: random.Random, begin: int) -> tuple[list[Row], dict[str, list[str]]]:
    boxes: list[Row] = []
    contents = {}
    while begin < line.second:
        end = min(line.second, begin + dice.randint(30, 150))
        inside = [coil for second, _, coil in line.left if begin < second <= end]
        name = f"B-{len(boxes) + 1}"
        row: Row = {"container_id": name, "part_no": "N", "press_id": "B"}
        boxes.append({**row, "opened_at": moment(begin), "closed_at": moment(end), "quantity": len(inside)})
        contents[name] = inside
        begin = end
    return boxes, contents


def _strokes(line: Line, marked: list[Row], coarse: bool) -> list[Row]:
    """Readings; unless they are coarse also one at every moment that was noted."""
    readings = dict(line.readings)
    if coarse:
        kept = sorted(readings)
        return [_reading(line, s, readings[s]) for s in (*kept[:1], *kept[1:-1:3], *kept[-1:])]
    noted = [row.get(name) for row in marked for name in ("started_at", "ended_at", "opened_at", "closed_at")]
    for at in noted:
        if at is not None:
            second = int((dt.datetime.fromisoformat(str(at)) - START).total_seconds())
            readings[second] = _counted(line, second)
    return [_reading(line, second, readings[second]) for second in sorted(readings)]


def _counted(line: Line, second: int) -> int:
    """The counter at a second: one stroke a second between readings, but for standing before the next one."""
    known = [(s, c) for s, c in line.readings if s <= second]
    later = [c for s, c in line.readings if s > second]
    if not known:
        return 0
    at, counter = known[-1]
    return min(counter + second - at, later[0]) if later else counter


def _reading(line: Line, second: int, counter: int) -> Row:
    return {"time": moment(second), "press_id": line.press_id, "counter": 1000 + counter}


def _book(lines: list[Line], coils: list[str]) -> dict[str, list[Row]]:
    presses: list[Row] = [
        {"press_id": line.press_id, "rated_spm": 60, "lead_in_mm": line.lead_in * PITCH_MM} for line in lines
    ]
    dies: list[Row] = [
        {"die_id": line.die_id, "pitch_mm": PITCH_MM, "parts_per_stroke": len(line.outs) or 1, "rated_spm": 60}
        for line in lines
    ]
    stations: list[Row] = [
        {"die_id": line.die_id, "station": number, "operation": "pierce"}
        for line in lines
        for number in range(1, line.stations + 1)
    ]
    return {
        "presses": presses,
        "dies": dies,
        "stations": stations,
        "parts": [{"part_no": part, "net_weight_g": 1.0} for part in ("N", "M")],
        "routes": [{"part_no": "N", "step": step, "die_id": line.die_id} for step, line in enumerate(lines, 1)],
        "materials": [{"material": "steel", "density_kg_m3": 7850}],
        "coils": [
            {"coil_id": coil, "lot": f"L-{number // 2}", "heat": f"H-{number // 3}", "material": "steel",
             "width_mm": 30, "thickness_mm": 1.0, "weight_kg": 500}
            for number, coil in enumerate(coils)
        ],
        "die_changes": [row for line in lines for row in line.dies],
    }  # fmt: skip


def _write(folder: Path, tables: dict[str, list[Row]]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plant.toml").write_text('name = "Two dies"\ntimezone = "UTC"\n', "utf-8")
    for name, rows in tables.items():
        names = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, names)
            writer.writeheader()
            writer.writerows(rows)
