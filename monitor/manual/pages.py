"""Which pages of the manual are made from the product, and how."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from monitor.manual.columns import figures_page, tables_page
from monitor.manual.commands import commands_page

DOCS = Path(__file__).parents[2] / "docs"

#: File -> its text written anew, from its text; what a person wrote on it is kept.
PAGES: Mapping[str, Callable[[str], str]] = MappingProxyType(
    {"commands.md": commands_page, "figures.md": figures_page, "tables.md": tables_page}
)


def write(folder: Path = DOCS) -> None:
    """Write the pages of a folder anew."""
    for name, made in PAGES.items():
        page = folder / name
        page.write_text(made(page.read_text("utf-8")), encoding="utf-8", newline="\n")
