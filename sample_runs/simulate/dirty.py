"""Two small drops of damaged files, and what must become of every row of them.

The first drop holds a row of every kind of damage, the second what mends some of it: a press that was unknown, the
same strokes exported once more with two more rows, corrections with and without `recorded_at`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from sample_runs.simulate.files import write_csv, write_parquet

PLANT = """name = "Dirty drop"
timezone = "Europe/Berlin"
week_start = "mon"
stop_after_s = 60

[[shift]]
name = "Early"
start = "06:00"
end = "14:00"
days = ["mon", "tue", "wed", "thu", "fri"]
"""
NEW, REPEATED, CORRECTED = "new", "repeated", "corrected"


@dataclass(frozen=True)
class DirtyLine:
    """One line of a file and its fate: new, repeated, corrected, or set aside with a word its reason must hold."""

    text: str
    fate: str = NEW

    @property
    def aside(self) -> bool:
        """Whether the row must be set aside."""
        return self.fate not in (NEW, REPEATED, CORRECTED)


def lines(header: str, *rows: str | tuple[str, str]) -> tuple[str, list[DirtyLine]]:
    """A file: its header and its lines, a fate beside those that are not simply new."""
    return header, [DirtyLine(row) if isinstance(row, str) else DirtyLine(*row) for row in rows]


FIRST = {
    "presses.csv": lines(
        "press_id,name,rated_spm,counter_modulus",
        "P1,<b>Press 1</b>,80,",
        "P2,Press 2,80,1000000",
        (",nameless,80,", "press_id"),
        ("P3,too fast,eighty,", "rated_spm"),
    ),
    "dies.csv": lines(
        "die_id,pitch_mm,parts_per_stroke,rated_spm",
        "D-1,30,1,80",
        ("D-2,-30,1,80", "pitch_mm"),
        ("D-3,30,1.5,80", "parts_per_stroke"),
        ("D-4,,1,80", "pitch_mm"),
    ),
    "stations.csv": lines(
        "die_id,station,operation",
        "D-1,1,pierce",
        "D-1,2,idle",
        "D-1,3,bend;coin",
        "D-1,4,cutoff",
        ("D-1,5,hammer", "operation"),
    ),
    "parts.csv": lines("part_no,material,thickness_mm,net_weight_g", "B-1,DC01,1,12"),
    "materials.csv": lines("material,density_kg_m3", "DC01,7850"),
    "reasons.csv": lines(
        "reason,name,kind",
        "MIS,misfeed,tooling",
        '"=SUM(A1:A9)",a formula for a name is only a name,other',
        ("XXX,no such kind,fancy", "kind"),
    ),
    "causes.csv": lines("cause,name,operations,origin", "BUR,burr,pierce;cutoff,tooling", "HND,dents,,handling"),
    "coils.csv": lines(
        "coil_id,lot,heat,supplier,material,width_mm,thickness_mm,weight_kg",
        "C-1,L-1,H-1,Supplier A,DC01,40,1,300",
        "C-2,L-1,<script>alert(1)</script>,=1+1,DC01,40,1,300",
        "C-3,../../etc/passwd,H-1,@SUM(1),DC01,40,1,300",
        ("C-4,L-1,H-1,Supplier A,DC01,40,1,-300", "weight_kg"),
        ("C-5,L-1,H-1,Supplier A,DC01,40,1,", "weight_kg"),
        ('C-6,L-1,H-1,Supplier A,DC01,40,1,"300,5"', "weight_kg"),
        ("C-7,L-1,H-1,Supplier A,DC01,40,1,inf", "weight_kg"),
        ("C-8,,H-1,Supplier A,DC01,40,1,300", "lot"),
        ("4.21E+11,L-1,H-1,Supplier A,DC01,40,1,300", "coil_id"),
    ),
    "die_changes.csv": lines(
        "time,press_id,event,die_id,part_no",
        "2026-10-26T06:00:00,P1,set,D-1,B-1",
        "2026-10-26T06:10:00,P1,first_off,D-1,",
        ("2026-10-26T06:00:00,P1,set,D-9,B-1", "D-9"),
        ("2026-10-26T07:00:00,P1,dropped,D-1,", "event"),
    ),
    "coil_changes.csv": lines(
        "time,press_id,event,coil_id,weight_kg",
        "2026-10-26T06:05:00,P1,mount,C-1,",
        ("2026-10-26T09:05:00,P1,mount,C-404,", "C-404"),
        ("2026-10-26T09:06:00,P1,swapped,C-2,", "event"),
        ("2026-10-26T09:07:00,P1,remove,C-1,heavy", "weight_kg"),
        ("2026-10-25T02:30:00,P1,remove,C-1,", "twice"),
        ("2026-03-29T02:30:00,P1,remove,C-1,", "never"),
    ),
    "stops.csv": lines(
        "press_id,start_at,end_at,reason",
        "P1,2026-10-26T08:00:00,2026-10-26T08:20:00,MIS",
        "P1,2026-10-26T10:00:00,,MIS",
        ("P1,2026-10-26T09:00:00,2026-10-26T08:50:00,MIS", "end_at"),
        "P1,2026-10-26T11:00:00,2026-10-26T11:20:00,ZZZ",
    ),
    "inspections.csv": lines(
        "inspection_id,time,press_id,kind,inspected,cause,rejected,part_no",
        "I-1,2026-10-26T07:00:00,P1,sample,5,,0,B-1",
        "I-2,2026-10-26T08:00:00,P1,full,100,BUR,3,B-1",
        "I-2,2026-10-26T08:00:00,P1,full,100,HND,1,B-1",
        ("I-3,2026-10-26T09:00:00,P1,sample,5,BUR,4,B-1", "inspected"),
        ("I-3,2026-10-26T09:00:00,P1,sample,5,HND,2,B-1", "inspected"),
        ("I-4,2026-10-26T09:10:00,P1,glance,5,BUR,1,B-1", "kind"),
        ("I-5,2026-10-26T09:20:00,P1,sample,5,BUR,-1,B-1", "rejected"),
        "I-6,2026-10-26T14:00:00,P1,tub,,BUR,7,B-1",
    ),
    "strokes-P1.csv": lines(
        "time,press_id,counter",
        "2026-10-26T06:00:00,P1,100000",
        "2026-10-26T06:05:00,P1,100200",
        ("2026-10-26T06:06:00,P1,", "counter"),
        ("2026-10-26T06:07:00,P1,12a4", "counter"),
        ("2026-10-26T06:08:00,P1,104.5", "counter"),
        ("2026-10-26T06:09:00,P1,-5", "counter"),
        ("2026-10-26T25:61:00,P1,100400", "time"),
        ("26/10/2026 06:11,P1,100400", "time"),
        ("2026-03-29T02:30:00,P1,100400", "never"),
        ("2026-10-26T06:12:00,P7,500", "P7"),
        ('2026-10-26T06:13:00,"=HYPERLINK(""http://example.invalid"")",100400', "press_id"),
        ("2026-10-26T06:05:00,P1,100200", REPEATED),
        ("2026-10-26T06:05:00,P1,155000", "100200"),
        ("2026-10-26T06:14:00,P1,100400,and,more", "cells"),
        ("2026-10-26T06:15:00,P1", "cells"),
        "2026-10-26T06:20:00,P1,100900",
        "2026-10-26T06:20:00,P1,100901",
        ("2026-10-26T06:2", "cut"),
    ),
    "strokes-P2.csv": lines(
        "time,press_id,counter",
        ("2026-10-25T02:30:00,P2,400", "twice"),
    ),
}
SECOND = {
    "presses-late.csv": lines("press_id,name,rated_spm", "P7,came later,80"),
    "coils-corrected.csv": lines(
        "coil_id,lot,heat,supplier,material,width_mm,thickness_mm,weight_kg,recorded_at",
        ("C-1,L-1,H-1,Supplier A,DC01,40,1,310,2026-10-27T08:00:00+01:00", CORRECTED),
        ("C-1,L-1,H-1,Supplier A,DC01,40,1,320,2026-10-20T08:00:00+02:00", CORRECTED),
        ("C-2,L-1,<script>alert(1)</script>,=1+1,DC01,40,1,333,", "weight_kg"),
    ),
    "coils-repeated.csv": lines(
        "coil_id,lot,heat,supplier,material,width_mm,thickness_mm,weight_kg",
        ("C-3,../../etc/passwd,H-1,@SUM(1),DC01,40,1,300", REPEATED),
    ),
    "strokes-P1-again.csv": lines(
        "time,press_id,counter",
        ("2026-10-26T06:00:00,P1,100000", REPEATED),
        ("2026-10-26T06:05:00,P1,100200", REPEATED),
        ("2026-10-26T06:20:00,P1,100900", REPEATED),
        "2026-10-26T06:25:00,P1,101100",
        "2026-10-26T06:30:00,P1,101300",
    ),
}
# File, what is wrong with it as a whole.
REFUSED = (
    ("strokes-no-counter.csv", "counter"),
    ("strokes-latin.csv", "UTF-8"),
    ("stops-empty.csv", "empty"),
    ("containers-broken.parquet", "Parquet"),
    ("scrap-2026.csv", "scrap"),
    ("notes.txt", "notes"),
)


def write(folder: Path) -> None:
    """Write both drops, and what must become of them as `expected.toml`."""
    for name, drop in (("first", FIRST), ("second", SECOND)):
        (folder / name).mkdir(parents=True, exist_ok=True)
        for file, (header, rows) in drop.items():
            whole = "\n".join([header, *(row.text for row in rows)])
            ending = "" if rows[-1].fate == "cut" else "\n"
            (folder / name / file).write_text(whole + ending, encoding="utf-8")
    (folder / "first" / "plant.toml").write_text(PLANT, encoding="utf-8")
    _write_refused(folder / "first")
    (folder / "expected.toml").write_text(expected(), encoding="utf-8")


def _write_refused(folder: Path) -> None:
    write_csv(folder / "strokes-no-counter.csv", pd.DataFrame({"time": ["2026-10-26T06:00:00Z"], "press_id": "P1"}))
    latin = "time,press_id,counter\n2026-10-26T06:00:00Z,Prägepresse,1\n"
    (folder / "strokes-latin.csv").write_bytes(latin.encode("latin-1"))
    (folder / "stops-empty.csv").write_bytes(b"")
    whole = folder / "containers-broken.parquet"
    boxes = {"container_id": ["B-1", "B-2"], "part_no": "B-1", "press_id": "P1", "opened_at": 1793000000}
    write_parquet(whole, pd.DataFrame(boxes), ["opened_at"])
    whole.write_bytes(whole.read_bytes()[:-40])
    (folder / "scrap-2026.csv").write_text("time,scrap\n2026-10-26T06:00:00Z,4\n", encoding="utf-8")
    (folder / "notes.txt").write_text("counter of press 2 was read by hand\n", encoding="utf-8")


def expected() -> str:
    """The counts of each file, the rows set aside, the files refused, as TOML."""
    text = ["# What must become of the two drops, the first loaded before the second.  `line` counts the header as"]
    text += ["# line 1; `about` is the column, value or kind of damage that the reason has to speak of.  The row about"]
    text += ["# press P7 is set aside in the first drop and taken by itself once the second has brought the press."]
    for name, drop in (("first", FIRST), ("second", SECOND)):
        for file, (_, rows) in drop.items():
            fates = [row.fate for row in rows]
            counts = {fate: fates.count(fate) for fate in (NEW, REPEATED, CORRECTED)}
            aside = sum(row.aside for row in rows)
            text += ["", "[[file]]", f'drop = "{name}"', f'file = "{file}"', f"read = {len(rows)}"]
            text += [f"{fate} = {count}" for fate, count in counts.items()] + [f"set_aside = {aside}"]
            for number, row in enumerate(rows, start=2):
                if row.aside:
                    text += ["", "[[file.aside]]", f"line = {number}", f'about = "{row.fate}"']
    for file, about in REFUSED:
        text += ["", "[[refused]]", 'drop = "first"', f'file = "{file}"', f'about = "{about}"']
    text += ["", "[[released]]", 'drop = "second"', 'file = "strokes-P1.csv"', "line = 11"]
    return "\n".join(text) + "\n"
