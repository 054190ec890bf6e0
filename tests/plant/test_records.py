"""Rows of input tables as records: lists that the contract writes with `;` become tuples, once."""

from __future__ import annotations

import pytest

from monitor.plant.records import DieStation, die_change, die_stations, items


@pytest.mark.parametrize(
    ("cell", "found"),
    [("pierce", ("pierce",)), ("form; bend;", ("form", "bend")), ("", ()), (None, ()), (" ; ", ())],
)
def test_items_of_a_list(cell: str | None, found: tuple[str, ...]) -> None:
    assert items(cell) == found


def test_stations_of_one_die_in_their_order() -> None:
    rows = [
        {"die_id": "D;1", "station": 2, "operation": "form;bend"},
        {"die_id": "D", "station": 1, "operation": "pierce"},
        {"die_id": "D;1", "station": 1, "operation": None},
    ]
    assert die_stations(rows, "D;1") == [DieStation(2, ("form", "bend")), DieStation(1, ())]


def test_outs_that_run_are_numbers_and_none_means_all() -> None:
    row = {"time": 7, "event": "set", "die_id": "D", "part_no": None, "order_id": None, "outs_running": "1; 3"}
    assert die_change(row).outs_running == (1, 3)
    assert die_change({**row, "outs_running": None}).outs_running == ()
