"""The files of the plant that work is done on before it is killed: four presses, half an hour's stop in each file."""

from __future__ import annotations

from pathlib import Path

from tests.invented.small import BOOK, PLANT, write_book

PRESSES = ("P1", "P2", "P3", "P4")
#: Files of readings that the ledger holds at first, and all there are.
EARLY, FILES = 2, 6
#: Minutes of readings in a file, and those of them in which the press stands.
LENGTH, STANDS = 80, (30, 50)
CUSTOMERS = ("Gate Works", "Hinge & Leaf", "Porch Supply")
WEEK = "2026-W45"
# The plant may lie ahead of the clock of this computer.
_ANY_CLOCK = "[times]\ndays_ahead = 36500\n"
_DUE = "[report]\n" + "".join(f'[[report.customer]]\ncustomer = "{name}"\nday = "mon"\n' for name in CUSTOMERS)


def write_plant(folder: Path) -> None:
    """Write the folders first (the book), early (readings), drop (more of them) and book (a die that changed)."""
    first = write_book(folder / "first")
    (first / "plant.toml").write_text(PLANT + _ANY_CLOCK + _DUE)
    (first / "presses.csv").write_text("press_id,rated_spm\n" + "".join(f"{name},60\n" for name in PRESSES))
    parts = "".join(f"N{number},5,{name}\n" for number, name in enumerate(CUSTOMERS, 1))
    (first / "parts.csv").write_text("part_no,net_weight_g,customer\n" + parts)
    (first / "reasons.csv").write_text("reason,name,kind\nPUN,broken punch,tooling\n")
    for where, numbers in (("early", range(EARLY)), ("drop", range(EARLY, FILES))):
        (folder / where).mkdir()
        for number in numbers:
            for name in PRESSES:
                (folder / where / f"strokes-{name}-{number}.csv").write_text(_readings(number, name))
    (folder / "book").mkdir()
    (folder / "book" / "dies-2.csv").write_text(BOOK["dies.csv"].replace("D1,30", "D2,40"))


def clock(minute: int) -> str:
    """Plant time so many minutes after the first reading, as files have it."""
    return f"2026-11-02T{6 + minute // 60:02}:{minute % 60:02}:00"


def counter(minute: int) -> int:
    """What a counter shows so many minutes after the first reading."""
    whole, rest = divmod(minute, LENGTH)
    stood = whole * (STANDS[1] - STANDS[0]) + min(max(rest - STANDS[0], 0), STANDS[1] - STANDS[0])
    return 60 * (minute - stood)


def _readings(number: int, press_id: str) -> str:
    """Readings a minute apart, and one that cannot be read."""
    minutes = range(number * LENGTH, (number + 1) * LENGTH)
    lines = (f"{clock(minute)},{press_id},{counter(minute)}\n" for minute in minutes)
    return "time,press_id,counter\n" + "".join(lines) + f"2026-11-02T23:00:00,{press_id},x\n"
