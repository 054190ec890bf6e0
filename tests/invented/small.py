"""A small plant to load files into: one press, one die, one coil."""

from __future__ import annotations

from pathlib import Path

PLANT = """
name = "Tiny"
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
"""
BOOK = {
    "plant.toml": PLANT,
    "presses.csv": "press_id,rated_spm\nP1,60\n",
    "dies.csv": "die_id,pitch_mm,parts_per_stroke,rated_spm\nD1,30,1,60\n",
    "stations.csv": "die_id,station,operation\nD1,1,pierce\nD1,2,form\nD1,3,cutoff\n",
    "parts.csv": "part_no,net_weight_g\nN1,5\n",
    "routes.csv": "part_no,step,die_id\nN1,1,D1\n",
    "materials.csv": "material,density_kg_m3\nDC01,7850\n",
    "coils.csv": "coil_id,lot,material,width_mm,thickness_mm,weight_kg\nC1,L1,DC01,40,1,314\n",
    "die_changes.csv": "time,press_id,event,die_id\n2026-11-02T06:00:00,P1,set,D1\n",
    "coil_changes.csv": "time,press_id,event,coil_id\n2026-11-02T06:00:00,P1,mount,C1\n",
}


def write_book(folder: Path) -> Path:
    """Write the plant book into a new folder."""
    folder.mkdir(parents=True)
    for name, text in BOOK.items():
        (folder / name).write_text(text, "utf-8")
    return folder


def strokes(first: int, last: int, press_id: str = "P1", *, heading: bool = True) -> str:
    """Readings a minute apart from 06:00 on, at 60 strokes a minute, of minutes [first, last)."""
    lines = (f"2026-11-02T{6 + at // 60:02}:{at % 60:02}:00,{press_id},{60 * at}\n" for at in range(first, last))
    return ("time,press_id,counter\n" if heading else "") + "".join(lines)
