"""The papers of the sample fortnight: orders, shipments, complaints, holds, dispositions, repacks, measurements.

Times in the frames are seconds since 1970 UTC.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from sample_runs.simulate.fortnight.book import BOOK, CHARACTERISTICS, SERVICES
from sample_runs.simulate.fortnight.checks import PlayedPress
from sample_runs.simulate.fortnight.plan import FROM_S, Fortnight, at
from sample_runs.simulate.script import DieChangeNote

DAY_S = 24 * 3600
BAD_LOT = "LOT-0417"
HOLD_FROM = "2026-10-28 10:00"


def dispositions(seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """Every sixth tub with slug marks was sorted again: a third was sound, a third could be mended."""
    rows = []
    for press_id, one in seen.items():
        pieces, kinds = one.truth.pieces, {str(row["inspection_id"]): row for row in one.desk.inspections}
        tubs = [key for key in one.desk.found if kinds[key[0]]["kind"] == "tub" and key[1] == "SLG"]
        for number, key in enumerate(tubs[::6]):
            which = one.desk.found[key]
            third = len(which) // 3
            for outcome, share in (("found_good", which[:third]), ("rework", which[third : 2 * third])):
                pieces.loc[share, "rejected"] = 0
                pieces.loc[share, "good" if outcome == "found_good" else "reworked"] = 1
                rows.append(
                    {
                        "disposition_id": f"X-{press_id[1:]}{number:03d}{outcome[0]}",
                        "inspection_id": key[0],
                        "cause": key[1],
                        "time": int(str(kinds[key[0]]["time"])) + 7200,
                        "outcome": outcome,
                        "pieces": len(share),
                    }
                )
    return pd.DataFrame(rows)


def containers(seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """All containers filled at the presses, and one box into which two of them were repacked."""
    for one in seen.values():
        one.desk.weigh_boxes(one.truth.pieces)
    frame = pd.DataFrame([row for one in seen.values() for row in one.desk.containers])
    first, second = repacked(frame)
    box = frame.loc[first].to_dict() | {
        "container_id": "R-0001",
        "opened_at": at("2026-10-24 08:00"),
        "closed_at": at("2026-10-24 08:00"),
        "quantity": int(frame.loc[[first, second], "quantity"].sum()),
    }
    return pd.concat([frame, pd.DataFrame([box])], ignore_index=True)


def repacked(frame: pd.DataFrame) -> list[int]:
    """Rows of the two washer containers that were packed into one box on the first Saturday."""
    early = frame.index[(frame["part_no"] == "W-5") & (frame["closed_at"] < at("2026-10-23 12:00"))]
    return [int(row) for row in early[:2]]


def repacks(frame: pd.DataFrame) -> pd.DataFrame:
    """The rows of `repacks`."""
    rows = frame.loc[repacked(frame), ["container_id", "quantity"]].rename(columns={"container_id": "from_container"})
    return rows.assign(to_container="R-0001", time=at("2026-10-24 08:00"))[
        ["time", "from_container", "to_container", "quantity"]
    ].reset_index(drop=True)


def shipments(boxes: pd.DataFrame, trace: pd.DataFrame) -> pd.DataFrame:
    """Every weekday at half past two goes what was closed by noon; held boxes stay from the moment of the hold on."""
    customers = {part.part_no: part.customer for part in BOOK.parts}
    held = set(trace.loc[trace["lot"] == BAD_LOT, "container_id"])
    gone = set(boxes.loc[repacked(boxes), "container_id"])
    rows = []
    for number in range(12):
        noon = FROM_S + number * DAY_S + 6 * 3600
        day = pd.Timestamp(noon, unit="s")
        ready = boxes[(boxes["closed_at"] < noon) & (boxes["quantity"] > 0)]
        for box in ready.itertuples() if day.day_of_week < 5 else ():
            name = str(box.container_id)
            if name in gone or (name in held and noon > at(HOLD_FROM)):
                continue
            gone.add(name)
            customer = customers[str(box.part_no)]
            rows.append((f"S-{day:%m%d}-{customer[-1]}", name, noon + 9000, customer))
    return pd.DataFrame(rows, columns=["shipment_id", "container_id", "shipped_at", "customer"])


def orders(fortnight: Fortnight, seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """One order a job, for what the job made, rounded up."""
    rows = []
    for script in fortnight.scripts:
        changes = [event for event in script.events if isinstance(event, DieChangeNote)]
        pieces = seen[script.press_id].truth.pieces
        for event in changes:
            if event.event == "set":
                pulled = next(e.at_s for e in changes if e.event == "pull" and e.at_s > event.at_s)
                part_no = event.part_no or BOOK.die(event.die_id).outs[0].part_no
                inside = pieces["second"].between(event.at_s, pulled) & (pieces["part_no"] == part_no)
                quantity = -(-int(pieces.loc[inside, "good"].sum()) // 1000) * 1000
                row = (event.order_id, part_no, script.press_id, quantity, event.at_s, pulled + DAY_S)
                rows.append(row)
    return pd.DataFrame(rows, columns=["order_id", "part_no", "press_id", "quantity", "start_at", "due_at"])


def complaints(shipped: pd.DataFrame, trace: pd.DataFrame) -> pd.DataFrame:
    """Three complaints: cracks of the bad lot (accepted), burrs (open), and dents that were the carrier's (no)."""
    bad = trace.loc[trace["lot"] == BAD_LOT, "container_id"]
    cracked = shipped[shipped["container_id"].isin(bad)].iloc[0]
    shim = shipped[shipped["customer"] == "Customer A"].iloc[-1]
    clip = shipped[shipped["customer"] == "Customer C"].iloc[3]
    parts = dict(zip(trace["container_id"], trace["part_no"], strict=True))
    rows = [
        ("K-001", "2026-10-28 09:10", cracked, 14, "CRK", "yes", ""),
        ("K-002", "2026-10-30 13:40", shim, 6, "BUR", "open", ""),
        ("K-003", "2026-10-29 11:05", clip, 120, "HND", "no", "2026-10-30 16:00"),
    ]
    return pd.DataFrame(
        {
            "complaint_id": name,
            "reported_at": at(reported),
            "customer": box["customer"],
            "part_no": parts[box["container_id"]],
            "container_id": box["container_id"],
            "shipment_id": box["shipment_id"],
            "pieces": pieces,
            "cause": cause,
            "accepted": accepted,
            "closed_at": at(closed) if closed else None,
        }
        for name, reported, box, pieces, cause, accepted, closed in rows
    ).astype({"closed_at": "Int64"})


def holds(boxes: pd.DataFrame) -> pd.DataFrame:
    """The bad lot stays on hold; one container was held and let go again."""
    box = boxes.loc[boxes["part_no"] == "H-20-L", "container_id"].iloc[20]
    rows = [
        ("Q-001", at(HOLD_FROM), None, "lot", BAD_LOT, "cracks at the second bend", ""),
        ("Q-002", at("2026-10-22 08:00"), at("2026-10-22 12:30"), "container", box, "label missing", "released"),
    ]
    names = ["hold_id", "placed_at", "lifted_at", "scope", "value", "reason", "outcome"]
    return pd.DataFrame(rows, columns=names).astype({"lifted_at": "Int64"})


def measurements(seen: dict[str, PlayedPress], rng: np.random.Generator) -> pd.DataFrame:
    """Every hour at twenty to, five pieces of what runs then; of shims three of each out."""
    rows = []
    for press_id, one in seen.items():
        pieces = one.truth.pieces[~one.truth.pieces["setting"]]
        for part_no, name, *_, mean, spread in CHARACTERISTICS:
            second = pieces.loc[pieces["part_no"] == part_no, "second"].to_numpy()
            moments = np.arange(FROM_S + 2400, FROM_S + 14 * DAY_S, 3600)
            fresh = np.searchsorted(second, moments, "right") - np.searchsorted(second, moments - 120, "right")
            for moment in moments[fresh > 10].tolist():
                count = 6 if part_no == "S-3" else 5
                values = np.round(mean + rng.normal(0, spread / 4) + rng.normal(0, spread, count), 3)
                for piece, value in enumerate(values.tolist(), start=1):
                    out = (piece + 2) // 3 if part_no == "S-3" else None
                    rows.append((moment, press_id, part_no, name, piece, value, out))
    names = ["time", "press_id", "part_no", "characteristic", "piece", "value", "out"]
    frame = pd.DataFrame(rows, columns=names).astype({"out": "Int64"})
    return frame.sort_values(["time", "press_id", "part_no", "characteristic", "piece"], ignore_index=True)


def services() -> pd.DataFrame:
    """The rows of `die_service`."""
    rows = [(at(when), die, work, station, removed) for die, when, work, station, removed in SERVICES]
    names = ["time", "die_id", "work", "station", "removed_mm"]
    return pd.DataFrame(rows, columns=names).astype({"station": "Int64"})


def coil_tests(fortnight: Fortnight, rng: np.random.Generator) -> pd.DataFrame:
    """Own thickness tests at the head of the bracket coils, beside the certificate's yield."""
    rows: list[tuple[object, ...]] = []
    for coil in fortnight.coils.values():
        if coil.coil_id.startswith("C-202"):
            rows.append((coil.coil_id, "thickness", round(float(rng.normal(1.5, 0.008)), 3), "mm", "own", 0.5))
            rows.append((coil.coil_id, "yield", coil.details["yield_mpa"], "MPa", "certificate", None))
    return pd.DataFrame(rows, columns=["coil_id", "property", "value", "unit", "source", "position_m"])
