import sys
from pathlib import Path

import pytest

from monitor import table_pages as docs
from monitor.figures import FIGURES
from shared.tables import TABLES


def test_the_page_in_the_manual_is_current() -> None:
    assert docs.PAGE.read_text(encoding="utf-8") == docs.tables_page(), "run: python -m monitor.table_pages"


def test_every_table_figure_and_column_is_on_the_page() -> None:
    page = docs.tables_page()
    for name, columns in [(t.name, t.columns) for t in TABLES.values()] + [(f.name, f.names) for f in FIGURES.values()]:
        assert f"### {name}\n" in page
        assert all(f"`{column}`" in page for column in columns)


def test_the_page_is_written_where_it_is_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "tables.md"
    monkeypatch.setattr(sys, "argv", ["docs", str(target)])
    docs.main()
    assert target.read_text(encoding="utf-8") == docs.tables_page()
