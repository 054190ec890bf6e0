"""The top of a file: what stands above the header, the header itself, units and limits in it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path

from monitor.intake.headings import check_headings
from monitor.intake.places import shown_name
from monitor.intake.profiles.lines import Record, TextLine, records, text_lines
from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.parts import Constant, Layout
from shared.errors import RefusedFile

_FARTHEST = 1000
_SPACES = re.compile(r"\s+")


@dataclass(frozen=True)
class Head:
    """Names of the columns ("" = none), units and limits beside them, constants, and rows left out on the way."""

    names: tuple[str, ...]
    constants: dict[str, str]
    units: dict[str, str] = field(default_factory=dict)
    limits: dict[str, str] = field(default_factory=dict)
    outside: int = 0


def open_file(path: Path, profile: Profile) -> tuple[Head, Iterator[Record]]:
    """The head of a file and the rows below it; raises RefusedFile where the file does not fit the profile."""
    lines = text_lines(path, profile.file.encoding)
    farthest = max((constant.line for constant in profile.constants.values()), default=0)
    top = list(islice(lines, max(farthest, profile.file.skip_lines)))
    constants = {name: _constant(name, one, top, shown_name(path)) for name, one in profile.constants.items()}
    skipped = top[: profile.file.skip_lines]
    rows = records(chain(top[profile.file.skip_lines :], lines), profile.file)
    head = _head(rows, profile.file, constants, shown_name(path))
    _check(head, profile, shown_name(path))
    outside = head.outside + sum(bool(line.text.strip()) for line in skipped)
    return Head(head.names, constants, head.units, head.limits, outside), rows


def clean(cell: str, strip: str) -> str:
    """A cell or heading without blanks and the signs given at both ends."""
    return _SPACES.sub(" ", cell.strip().strip(strip + " ").strip()) if strip else cell.strip()


def _head(rows: Iterator[Record], layout: Layout, constants: dict[str, str], name: str) -> Head:
    if not layout.header_rows:
        return Head(layout.headings, constants)
    above, first = _first_row(rows, layout, name)
    header = [first, *islice(rows, layout.header_rows - 1)]
    if len(header) < layout.header_rows:
        raise RefusedFile(name, f"{len(header)} rows", f"a header of {layout.header_rows} rows", "Check the file")
    names = tuple(clean(cell, layout.strip) for cell in header[0].cells)
    check_headings(names, f"{name}, line {header[0].line}")
    units = _beside(header, layout.units_row, names, layout)
    limits = _beside(header, layout.limits_row, names, layout)
    return Head(names, constants, units, limits, above + layout.header_rows - 1)


def _first_row(rows: Iterator[Record], layout: Layout, name: str) -> tuple[int, Record]:
    """Number of rows skipped and the first row of the header."""
    for above, row in enumerate(rows):
        if not layout.skip_to or (row.cells and clean(row.cells[0], layout.strip) == layout.skip_to):
            return above, row
        if above >= _FARTHEST:
            break
    seen = f"no line that begins with {layout.skip_to!r}" if layout.skip_to else "no rows at all"
    raise RefusedFile(name, seen, "a header row", "Check the file, or skip_to in the profile")


def _beside(header: list[Record], row: int, names: tuple[str, ...], layout: Layout) -> dict[str, str]:
    cells = header[row - 1].cells if row else []
    return {name: clean(cell, layout.strip) for name, cell in zip(names, cells, strict=False) if name}


def _check(head: Head, profile: Profile, name: str) -> None:
    missing = [wanted for wanted in profile.headings if wanted not in head.names]
    if missing:
        raise RefusedFile(
            name,
            f"no heading {', '.join(map(repr, missing))} among {', '.join(filter(None, head.names))[:200]!r}",
            f"the headings of profile {profile.name}",
            "Mend the profile if the logger has changed, or check the file",
        )


def _constant(name: str, told: Constant, top: list[TextLine], file: str) -> str:
    if told.value:
        return told.value
    pattern = told.file_name or told.pattern
    text = file if told.file_name else top[told.line - 1].text if told.line <= len(top) else ""
    found = re.search(pattern, text)
    if not found:
        where = "the name of the file" if told.file_name else f"line {told.line}"
        raise RefusedFile(
            file, f"{where} is {text[:80]!r}", f"{pattern!r} in it, for {name}", "Check the file, or the profile"
        )
    groups = [found[0], *found.groups("")]
    if told.write:
        return re.sub(r"\{(\d)\}", lambda m: groups[int(m[1])] if int(m[1]) < len(groups) else "", told.write)
    return groups[1] if len(groups) > 1 else groups[0]
