"""The plant book of the sample fortnight: five presses, six dies, and what was planted in them.  All of it invented."""

from __future__ import annotations

from sample_runs.simulate.book import (
    Coil,
    DieDesign,
    OutDesign,
    PartDesign,
    PlannedBreak,
    PlannedShift,
    PlantPlan,
    PressSetup,
)
from sample_runs.simulate.quality import Fault

ZONE = "Europe/Berlin"
WEEK = ("mon", "tue", "wed", "thu", "fri")

BOOK = PlantPlan(
    name="Sample plant",
    timezone=ZONE,
    stop_after_s=60.0,
    shifts=(
        PlannedShift("Early", "06:00", "14:00", WEEK),
        PlannedShift("Late", "14:00", "22:00", WEEK),
        PlannedShift("Night", "22:00", "06:00", WEEK, ("P1", "P2", "P3")),
        PlannedShift("Weekend night", "22:00", "06:00", ("sat",), ("P3",)),
    ),
    breaks=(
        PlannedBreak("Early", "09:30", "10:00"),
        PlannedBreak("Late", "17:30", "18:00"),
        PlannedBreak("Night", "01:00", "01:30"),
        PlannedBreak("Weekend night", "01:15", "01:45"),
    ),
    presses=(
        PressSetup("P1", 75.0, "Press 1, 1600 kN", "Hall A", 1600.0, counter_modulus=1_000_000, lead_in_mm=3600.0),
        PressSetup("P2", 100.0, "Press 2, 1250 kN", "Hall A", 1250.0, lead_in_mm=2400.0),
        PressSetup("P3", 120.0, "Press 3, 630 kN", "Hall B", 630.0, lead_in_mm=1800.0, stop_after_s=45.0),
        PressSetup("P4", 90.0, "Press 4, 630 kN", "Hall B", 630.0, lead_in_mm=1500.0, feeds=True),
        PressSetup("P5", 80.0, "Press 5, 400 kN", "Hall B", 400.0),
    ),
    dies=(
        DieDesign(
            "D-101",
            40.0,
            strip_width_mm=90.0,
            rated_spm=70.0,
            operations=(
                "pierce",
                "pierce",
                "notch",
                "pilot",
                "idle",
                "notch",
                "bend",
                "idle",
                "coin",
                "form",
                "cutoff",
                "cutoff",
            ),
            outs=(OutDesign("H-20-L", 12), OutDesign("H-20-R", 11)),
            name="Hinge leaf, left and right",
            sharpen_every_strokes=180_000,
        ),
        DieDesign(
            "D-114",
            32.0,
            strip_width_mm=60.0,
            rated_spm=80.0,
            operations=("pierce", "pilot", "notch", "notch", "idle", "form", "bend", "idle", "bend", "cutoff"),
            outs=(OutDesign("B-7", 10),),
            name="Bracket",
            sharpen_every_strokes=150_000,
        ),
        DieDesign(
            "D-120",
            18.0,
            strip_width_mm=50.0,
            rated_spm=110.0,
            operations=("pierce", "pilot", "pierce", "idle", "coin", "blank"),
            outs=(OutDesign("S-3", 6), OutDesign("S-3", 6)),
            name="Shim, two out",
            sharpen_every_strokes=250_000,
        ),
        DieDesign(
            "D-131",
            16.0,
            strip_width_mm=70.0,
            rated_spm=100.0,
            operations=("pierce", "pilot", "shave", "idle", "blank"),
            outs=(OutDesign("W-5", 5), OutDesign("W-5", 5), OutDesign("W-5", 5)),
            outs_listed=False,
            name="Washer, three out",
            sharpen_every_strokes=250_000,
        ),
        DieDesign(
            "D-140",
            24.0,
            strip_width_mm=40.0,
            rated_spm=90.0,
            operations=("pierce", "notch", "pilot", "idle"),
            outs=(OutDesign("C-9", 4),),
            name="Clip, step 1: pierced strip onto a reel",
        ),
        DieDesign(
            "D-141",
            24.0,
            strip_width_mm=40.0,
            rated_spm=80.0,
            operations=("pilot", "bend", "idle", "bend", "idle", "form", "idle", "cutoff"),
            outs=(OutDesign("C-9", 8),),
            name="Clip, step 2: bent and cut off",
        ),
    ),
    parts=(
        PartDesign(
            "H-20-L",
            "DC01",
            thickness_mm=1.2,
            net_weight_g=10.9,
            name="Hinge leaf, left",
            customer="Customer A",
            revision="B",
        ),
        PartDesign(
            "H-20-R",
            "DC01",
            thickness_mm=1.2,
            net_weight_g=10.9,
            name="Hinge leaf, right",
            customer="Customer A",
            revision="B",
        ),
        PartDesign(
            "B-7", "DC01", thickness_mm=1.5, net_weight_g=14.2, name="Bracket", customer="Customer B", revision="A"
        ),
        PartDesign(
            "S-3", "1.4301", thickness_mm=0.5, net_weight_g=1.1, name="Shim", customer="Customer A", revision="C"
        ),
        PartDesign(
            "W-5", "DC01", thickness_mm=1.0, net_weight_g=1.75, name="Washer", customer="Customer C", revision="A"
        ),
        PartDesign("C-9", "DC01", thickness_mm=0.8, net_weight_g=3.6, name="Clip", customer="Customer C", revision="A"),
    ),
    densities_kg_m3={"DC01": 7850.0, "1.4301": 7900.0},
    closed=("2026-10-31",),
)

FAULTS = {
    "D-101": (
        Fault("FLT", 0.0012, head_m=20.0, head_factor=8.0),
        Fault("MSF", 0.0007),
        Fault("SCR", 0.0005),
    ),
    "D-114": (Fault("CRK", 0.0016, bad_lot="LOT-0417", lot_factor=4.0), Fault("BUR", 0.0012), Fault("SCR", 0.0006)),
    "D-120": (Fault("BUR", 0.0009, worn_strokes=250_000, worn_factor=5.0), Fault("SLG", 0.0008)),
    "D-131": (Fault("HSZ", 0.0012), Fault("SLG", 0.001)),
    "D-140": (Fault("BUR", 0.001),),
    "D-141": (Fault("ANG", 0.0022), Fault("CUT", 0.0009)),
}

CAUSES = (
    ("BUR", "burr too high", "pierce;notch;blank;cutoff", "tooling"),
    ("FLT", "out of flat", "blank;cutoff;form", "material;setup"),
    ("MSF", "misfeed", "pilot;pierce;notch;form", "setup;press;material"),
    ("SCR", "scratch", "idle;form;bend;pilot", "handling;setup"),
    ("CRK", "crack at the bend", "bend;form", "material"),
    ("SLG", "slug mark", "pierce;notch", "tooling"),
    ("HSZ", "hole size out", "pierce;shave", "tooling"),
    ("ANG", "bend angle out", "bend;form", "material;press"),
    ("CUT", "cut-off tab left", "cutoff", "tooling;setup"),
    ("HND", "handling damage", "", "handling"),
)
REASONS = (
    ("DCH", "die change", "setup"),
    ("CCH", "coil change by threading", "setup"),
    ("SPL", "splice", "setup"),
    ("FOF", "waiting for first-off", "quality"),
    ("ADJ", "adjustment", "setup"),
    ("CLN", "cleaning and hand-over", "labour"),
    ("MIS", "misfeed", "tooling"),
    ("SLU", "slug jam", "tooling"),
    ("EMA", "tub or label missing", "material"),
    ("WMA", "waiting for coil", "material"),
    ("LUB", "lubricant empty", "press"),
    ("PUN", "broken punch", "tooling"),
    ("NOS", "no setter free", "labour"),
    ("FEE", "feed fault", "press"),
)
CHARACTERISTICS = (
    # part, characteristic, nominal, lower, upper, unit, key; then mean and spread of what is made
    ("H-20-L", "hole", 5.00, 4.95, 5.05, "mm", True, 5.006, 0.010),
    ("H-20-R", "hole", 5.00, 4.95, 5.05, "mm", True, 4.998, 0.010),
    ("B-7", "height", 12.30, 12.15, 12.45, "mm", True, 12.315, 0.032),
    ("S-3", "thickness", 0.50, 0.48, 0.52, "mm", False, 0.501, 0.004),
)

SERVICES = (
    # die, plant time, work, station (None = all cutting stations), mm taken off
    ("D-120", "2026-10-22 13:00", "sharpen", None, 0.08),
    ("D-120", "2026-10-28 15:30", "sharpen", None, 0.10),
    ("D-101", "2026-10-22 09:00", "sharpen", 3, 0.06),
    ("D-101", "2026-10-23 08:30", "replace", 7, None),
    ("D-131", "2026-10-27 10:00", "sharpen", None, 0.05),
)

# Strip by die: first coil number, lots (lot, heat, supplier, coils), usual weight of a coil.
STRIPS = {
    "D-101": (20100, (("LOT-0391", "H-2198", "Supplier A", 9), ("LOT-0396", "H-2203", "Supplier A", 9)), 820.0),
    "D-114": (
        20200,
        (
            ("LOT-0411", "H-2201", "Supplier A", 4),
            ("LOT-0412", "H-2201", "Supplier A", 5),
            ("LOT-0417", "H-2207", "Supplier B", 6),
            ("LOT-0418", "H-2209", "Supplier B", 6),
            ("LOT-0420", "H-2211", "Supplier A", 6),
        ),
        560.0,
    ),
    "D-120": (20300, tuple((f"LOT-05{n:02d}", f"H-3{n // 2:03d}", "Supplier C", 5) for n in range(1, 8)), 210.0),
    "D-131": (20400, (("LOT-0441", "H-2214", "Supplier A", 8), ("LOT-0443", "H-2215", "Supplier B", 8)), 450.0),
    "D-140": (20500, (("LOT-0451", "H-2220", "Supplier B", 9), ("LOT-0453", "H-2221", "Supplier B", 9)), 150.0),
}


def strip_of(die_id: str) -> list[Coil]:
    """The coils bought for a die, in the order in which they came."""
    number, lots, weight_kg = STRIPS[die_id]
    die = BOOK.die(die_id)
    part = next(part for part in BOOK.parts if part.part_no == die.outs[0].part_no)
    coils = []
    for lot_number, (lot, heat, supplier, count) in enumerate(lots):
        for _ in range(count):
            number += 1
            # A spread that repeats and needs no chance: weights differ by a few per cent from coil to coil.
            weight = round(weight_kg * (1 + 0.03 * (number * 7 % 11 - 5) / 5), 1)
            details: dict[str, object] = {
                "received_at": f"2026-10-{5 + lot_number * 2:02d}T10:00:00+02:00",
                "yield_mpa": 195 + 12 * lot_number,
                "tensile_mpa": 330 + 9 * lot_number,
                "elongation_pct": 36 - lot_number,
                "hardness_hv": 103 + 3 * lot_number,
                "cert_no": f"CERT-{lot[-4:]}",
                "cert_type": "3.1",
            }
            coils.append(
                Coil(
                    f"C-{number}",
                    lot,
                    material=part.material,
                    width_mm=die.strip_width_mm,
                    thickness_mm=part.thickness_mm,
                    weight_kg=weight,
                    heat=heat,
                    supplier=supplier,
                    details=details,
                )
            )
    return coils
