"""How long it takes to trace one box, and to recall a lot, in a year of forty presses; run by `make bench`.

The ledger is written without folding: facts of presses that stroke once a second, every other one feeding the reels
that its neighbour wound the shift before.  Three days have counter readings a second, for what is certain.
"""

from __future__ import annotations

import argparse
import datetime as dt
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pandas as pd
import pyarrow as pa

from monitor.figures.genealogy.search import trace_of
from monitor.ledger import Fold, Ledger, Writer
from shared.calendar import Calendar
from shared.facts import FoldFacts, MountFact, PieceFact, RejectFact
from shared.fields import Kind
from shared.plant import Plant
from shared.tables import TABLES

US = 1_000_000
DAY_S, SHIFT_S, BOX_S = 86_400, 28_800, 4_320
START_S = 1_767_225_600  # 2026-01-01 00:00 UTC
PRESSES, DAYS = 40, 300
READ_DAYS = range(200, 203)
_ARROW = {Kind.TIME: pa.timestamp("us", "UTC"), Kind.COUNT: pa.int64(), Kind.NUMBER: pa.float64()}


def main() -> None:
    """Write the ledger, then time the questions, the best of five each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--ledger", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        root = options.ledger or Path(scratch) / "ledger"
        new = not root.exists()
        with Ledger.open(root, create=True) as ledger:
            if new:
                started = time.perf_counter()
                write_year(ledger, options.days)
                print(f"a year of {PRESSES} presses written in {time.perf_counter() - started:.0f} s")
            day = min(READ_DAYS[1], options.days - 1)
            for name, asked in questions(day).items():
                rows = len(asked(ledger))
                took = [_timed(asked, ledger) for _ in range(5)]
                wall, cpu = (1000 * min(times) for times in zip(*took, strict=True))
                print(f"{name}: {wall:.0f} ms ({cpu:.0f} ms of it computing), {rows} rows")


def questions(day: int) -> dict[str, Callable[[Ledger], pd.DataFrame]]:
    """The questions asked, by name."""
    return {
        "a box of one press": lambda ledger: trace_of(ledger, container=f"B-01-{day}-5").table,
        "a box through a reel": lambda ledger: trace_of(ledger, container=f"B-02-{day}-5").table,
        "a shipment of 20 boxes": lambda ledger: trace_of(ledger, shipment=f"S-02-{day}").table,
        "a coil, forward": lambda ledger: trace_of(ledger, coil=f"C-01-{day}-1").table,
        "a lot of 10 coils, forward": lambda ledger: trace_of(ledger, lot=f"L-01-{day * 3 // 10}").table,
        "a heat of 30 coils, forward": lambda ledger: trace_of(ledger, heat=f"H-01-{day // 10}").table,
    }


def _timed(asked: Callable[[Ledger], pd.DataFrame], ledger: Ledger) -> tuple[float, float]:
    started, begun = time.perf_counter(), time.process_time()
    asked(ledger)
    return time.perf_counter() - started, time.process_time() - begun


def write_year(ledger: Ledger, days: int) -> None:
    """Write rows and facts of all presses."""
    with ledger.writer(Calendar(Plant(timezone="UTC"))) as writer:
        load_id = writer.begin_load("year", "containers", "0" * 64, 0)
        names = [f"{press:02d}" for press in range(1, PRESSES + 1)]
        _merge(writer, load_id, "presses", [{"press_id": f"P{n}", "rated_spm": 200.0} for n in names])
        _merge(writer, load_id, "dies", [_die(n) for n in names])
        _merge(writer, load_id, "parts", [{"part_no": f"N{n}", "net_weight_g": 5.0, "customer": "K"} for n in names])
        _merge(writer, load_id, "materials", [{"material": "steel", "density_kg_m3": 7850.0}])
        for press in range(1, PRESSES + 1):
            _press(writer, load_id, press, days)
        writer.finish_load(load_id)


def _die(name: str) -> dict[str, object]:
    return {"die_id": f"D{name}", "pitch_mm": 20.0, "parts_per_stroke": 1, "rated_spm": 200.0}


def _press(writer: Writer, load_id: int, press: int, days: int) -> None:
    name = f"{press:02d}"
    shifts = [(day, shift) for day in range(days) for shift in range(3)]
    if press % 2:
        coils = [_coil(name, day, shift) for day, shift in shifts]
        _merge(writer, load_id, "coils", coils)
        _merge(writer, load_id, "reels", [_reel(name, day, shift) for day, shift in shifts])
    boxes = [_box(name, day, nth) for day in range(days) for nth in range(DAY_S // BOX_S)]
    _merge(writer, load_id, "containers", boxes)
    sent = [{"shipment_id": f"S-{box['container_id'].rsplit('-', 1)[0][2:]}", "container_id": box["container_id"],
             "shipped_at": int(str(box["closed_at"])) + US} for box in boxes]  # fmt: skip
    _merge(writer, load_id, "shipments", sent)
    folds = [Fold(_date(day), _facts(press, day), "{}", True) for day in range(days)]
    writer.replace_folds(f"P{name}", folds)
    writer.replace_rejects(f"P{name}", {_date(day): _rejects(press, day) for day in range(days)})
    if press <= 2:
        for day in READ_DAYS:
            readings = [{"time": (START_S + day * DAY_S + s) * US, "press_id": f"P{name}", "counter": day * DAY_S + s}
                        for s in range(DAY_S)]  # fmt: skip
            _merge(writer, load_id, "strokes", readings)


def _date(day: int) -> str:
    return (dt.date(2026, 1, 1) + dt.timedelta(days=day)).isoformat()


def _us(day: int, second: int) -> int:
    return (START_S + day * DAY_S + second) * US


def _coil(name: str, day: int, shift: int) -> dict[str, object]:
    nth = day * 3 + shift
    return {"coil_id": f"C-{name}-{day}-{shift}", "lot": f"L-{name}-{nth // 10}", "heat": f"H-{name}-{nth // 30}",
            "material": "steel", "width_mm": 30.0, "thickness_mm": 1.0, "weight_kg": 5000.0}  # fmt: skip


def _reel(name: str, day: int, shift: int) -> dict[str, object]:
    begin = _us(day, shift * SHIFT_S)
    return {"reel_id": f"R-{name}-{day}-{shift}", "press_id": f"P{name}", "started_at": begin,
            "ended_at": begin + SHIFT_S * US}  # fmt: skip


def _box(name: str, day: int, nth: int) -> dict[str, object]:
    begin = _us(day, nth * BOX_S)
    return {"container_id": f"B-{name}-{day}-{nth}", "part_no": f"N{name}", "press_id": f"P{name}",
            "opened_at": begin, "closed_at": begin + BOX_S * US, "quantity": BOX_S - 2}  # fmt: skip


def _strip(press: int, day: int, shift: int) -> tuple[str, str]:
    """The coil or reel fed in a shift and the name of its mounting; a reel is fed the shift after it was wound."""
    fed = f"C-{press:02d}-{day}-{shift}" if press % 2 else f"R-{press - 1:02d}-{_before(day, shift)}"
    return fed, f"{fed}@P{press:02d}@{_us(day, shift * SHIFT_S)}"


def _before(day: int, shift: int) -> str:
    nth = max(0, day * 3 + shift - 1)
    return f"{nth // 3}-{nth % 3}"


def _edges() -> list[int]:
    return sorted({*range(0, DAY_S + 1, 3600), *range(0, DAY_S + 1, BOX_S)})


def _facts(press: int, day: int) -> FoldFacts:
    die = f"D{press:02d}"
    facts = FoldFacts()
    for shift in range(3):
        fed, mounting = _strip(press, day, shift)
        begin, end = shift * SHIFT_S, (shift + 1) * SHIFT_S
        mount = MountFact(mounting_id=mounting, coil_id=fed, die_id=die)
        facts.mounts.append(mount._replace(mounted_us=_us(day, begin)))
        facts.mounts.append(mount._replace(pitch_mm=20.0, fed=SHIFT_S, finished=SHIFT_S))
        inside = [edge for edge in _edges() if begin <= edge <= end]
        facts.pieces.extend(_pieces(press, day, mounting, low, high) for low, high in pairwise(inside))
    return facts


def _pieces(press: int, day: int, mounting: str, low: int, high: int) -> PieceFact:
    stroke = day * DAY_S + low
    return PieceFact(
        shift_date=_date(day),
        shift="all",
        hour_us=_us(day, low // 3600 * 3600),
        die_id=f"D{press:02d}",
        part_no=f"N{press:02d}",
        order_id="",
        setup=0,
        out=1,
        mounting_id=mounting,
        pieces=high - low,
        stroke_from=stroke,
        stroke_to=stroke + high - low,
        entry_from=low % SHIFT_S,
        from_us=_us(day, low),
        to_us=_us(day, high),
    )


def _rejects(press: int, day: int) -> list[RejectFact]:
    """Two pieces rejected in each box, of the stretch in which it was opened."""
    rows = []
    for nth in range(DAY_S // BOX_S):
        low = nth * BOX_S
        high = next(edge for edge in _edges() if edge > low)
        found = RejectFact(
            inspection_id=f"I-{press}-{day}-{nth}",
            kind="full",
            cause="BUR",
            shift_date=_date(day),
            shift="all",
            hour_us=_us(day, low // 3600 * 3600),
            die_id=f"D{press:02d}",
            part_no=f"N{press:02d}",
            out=1,
            mounting_id=_strip(press, day, low // SHIFT_S)[1],
            setup=0,
            inspected=0,
            rejected=2,
            reworked=0,
            released=0,
            spread=0,
            stroke_from=day * DAY_S + low,
            from_us=_us(day, low),
            to_us=_us(day, high),
        )
        rows.append(found)
    return rows


def _merge(writer: Writer, load_id: int, table: str, rows: list[dict[str, object]]) -> None:
    contract = TABLES[table]
    columns = {}
    for name in contract.columns:
        kind = _ARROW.get(contract.field(name).kind, pa.string())
        values = [row.get(name) for row in rows]
        columns[name] = pa.array(values, pa.int64()).cast(kind) if kind == _ARROW[Kind.TIME] else pa.array(values, kind)
    columns["line"] = pa.array(range(1, len(rows) + 1), pa.int64())
    writer.merge(table, pa.table(columns), load_id)


if __name__ == "__main__":
    main()
