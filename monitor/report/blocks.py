"""The blocks a report is laid out in, the same for paper and screen."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 begins a section, level 2 a part of one."""

    level: int
    text: str


@dataclass(frozen=True)
class Text:
    """Paragraphs; `listed` ones are numbered, `small` ones are notes."""

    lines: tuple[str, ...]
    listed: bool = False
    small: bool = False


@dataclass(frozen=True)
class GridColumn:
    """A column of a table: its heading, whether it holds numbers, and its share of the width (0 = as it needs)."""

    label: str
    number: bool = False
    width: float = 0


@dataclass(frozen=True)
class Grid:
    """A table of finished text; with `total` the last row is a sum, with `leads` it stays with what follows it."""

    columns: tuple[GridColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    total: bool = False
    leads: bool = False

    def __post_init__(self) -> None:
        """Raise ValueError for a row that has not a cell for every column."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"rows of {sorted({len(r) for r in self.rows})} cells in {len(self.columns)} columns")


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG, what it shows in words, and its caption."""

    svg: str
    alt: str
    caption: str


@dataclass(frozen=True)
class Pictures:
    """Drawings beside one another."""

    items: tuple[Picture, ...]
    across: int = 1


@dataclass(frozen=True)
class Sign:
    """Lines to be signed: a row for each, named in the first column, with room for the others."""

    rows: tuple[str, ...]
    columns: tuple[str, ...]


Block = Heading | Text | Grid | Pictures | Sign


@dataclass(frozen=True)
class Paper:
    """A whole report: its style and its blocks.  Texts are plain text, never markup."""

    language: str
    page: str
    colour: str
    title: str
    subtitle: str
    week: str
    range: str
    version: str
    sender: str
    address: tuple[str, ...]
    page_of: str
    contents: str
    rows: str
    logo: bytes
    logo_kind: str
    logo_alt: str
    blocks: tuple[Block, ...]
