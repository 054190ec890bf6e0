"""Reasons of rows set aside quote times as the plant's clocks show them."""

from __future__ import annotations

from pathlib import Path

from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.small import write_book


def test_a_row_that_contradicts_is_quoted_in_plant_time(tmp_path: Path, ledger: Ledger) -> None:
    load([write_book(tmp_path / "book")], ledger)
    for name, end in (("a", "07:00"), ("b", "07:30")):
        (tmp_path / f"stops-{name}.csv").write_text(
            f"press_id,start_at,end_at,reason\nP1,2026-11-02T06:30:00,2026-11-02T{end}:00,BRK\n", "utf-8"
        )
        load([tmp_path / f"stops-{name}.csv"], ledger)
    (reason,) = figure(ledger, "set_aside")["reason"]
    # 07:30 of Berlin's winter is 06:30 UTC, which nobody wrote.
    assert "end_at 2026-11-02T07:30:00+01:00 instead of 2026-11-02T07:00:00+01:00" in reason
