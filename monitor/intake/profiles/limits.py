"""Limits that stand in a file, compared with those of the plant book; the plant book holds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TypeAlias

from monitor.intake.profiles.numbers import plain_number
from monitor.intake.profiles.parts import Layout

#: Lower and upper limit by part and characteristic, None where there is none.
Limits: TypeAlias = Mapping[tuple[str, str], tuple[float | None, float | None]]


def differences(
    rows: Iterable[tuple[str | None, str | None]], written: Mapping[str, str], book: Limits, layout: Layout
) -> list[str]:
    """A remark for each characteristic of which the file gives other limits than the plant book, or ones it lacks."""
    notes = []
    for part_no, characteristic in rows:
        text = written.get(characteristic or "", "")
        found = _pair(text, layout)
        if not text or not part_no or not characteristic:
            continue
        if found is None:
            notes.append(f"{characteristic}: limits {text[:40]!r} are not two numbers with a / between")
            continue
        stored = book.get((part_no, characteristic))
        if stored is None:
            notes.append(f"{characteristic} of {part_no}: limits {_told(found)} in the file, none in characteristics")
        elif found != stored:
            notes.append(
                f"{characteristic} of {part_no}: limits {_told(found)} in the file, {_told(stored)} in characteristics"
            )
    return notes


def _pair(text: str, layout: Layout) -> tuple[float, float] | None:
    """Lower and upper limit, whichever of the two is written first."""
    read = plain_number(layout)
    try:
        numbers = sorted(float(read(part.strip())) for part in re.split(r"\s*/\s*", text))
    except ValueError:
        return None
    return (numbers[0], numbers[1]) if len(numbers) == 2 else None


def _told(pair: tuple[float | None, float | None]) -> str:
    return " to ".join("none" if limit is None else f"{limit:g}" for limit in pair)
