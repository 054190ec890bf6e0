"""Pages that are made from the product say what the product is today."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.figures import FIGURES
from monitor.manual.pages import DOCS, PAGES, write
from shared.tables import TABLES
from tests.docs.manual import read

COLUMNS = [
    *(("tables.md", table.name, table.columns) for table in TABLES.values()),
    *(("figures.md", figure.name, figure.names) for figure in FIGURES.values()),
]


@pytest.mark.parametrize("name", PAGES)
def test_page_is_current(name: str) -> None:
    assert PAGES[name](read(DOCS / name)) == read(DOCS / name), "run python -m monitor.manual"


@pytest.mark.parametrize(
    ("page", "name", "columns"), COLUMNS, ids=lambda given: given if isinstance(given, str) else ""
)
def test_every_column_is_on_the_page(page: str, name: str, columns: tuple[str, ...]) -> None:
    section = read(DOCS / page).split(f"\n### {name}\n")[1].split("\n### ")[0]
    assert [f"| `{column}`" in section for column in columns] == [True] * len(columns)


def test_pages_are_written_anew_below_what_a_person_wrote(tmp_path: Path) -> None:
    for name in PAGES:
        (tmp_path / name).write_text("By hand.\n\n" + read(DOCS / name) + "Out of date.\n", "utf-8")
    write(tmp_path)
    assert [read(tmp_path / name) for name in PAGES] == ["By hand.\n\n" + read(DOCS / name) for name in PAGES]
