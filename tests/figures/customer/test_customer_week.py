"""The `customer_week` table: deliveries, complaints by the week of delivery, and what is not known."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from monitor.figures.customer.customer_week import (
    ACCEPTED,
    DISPUTED,
    WITHDRAWN,
    delivered,
    finished,
    made,
    parts_on,
    week_rows,
)
from tests.figures.given import START_US, book, facts

WEEK_US = 7 * 86_400 * 1_000_000
BOOK = book(parts=[{"part_no": "N1", "customer": "A"}, {"part_no": "N2", "customer": "B"}])


def sent(*rows: tuple[str, str, int, int | None]) -> pd.DataFrame:
    """Deliveries: customer, part, week after the first, pieces."""
    table = [(f"S{n}", f"C{n}", START_US + week * WEEK_US, who, part, "P1", pieces)
             for n, (who, part, week, pieces) in enumerate(rows)]  # fmt: skip
    names = ["shipment_id", "container_id", "shipped_us", "customer", "part_no", "press_id", "pieces"]
    return pd.DataFrame(table, columns=names).astype({"pieces": "Int64", "shipped_us": "int64"})


def told(*rows: tuple[str, str, int, int, str]) -> pd.DataFrame:
    """Complaints: customer, part, week of delivery after the first, pieces, standing."""
    table = [(f"K{n}", START_US, START_US + week * WEEK_US, who, part, "", "", pieces, "", standing, None)
             for n, (who, part, week, pieces, standing) in enumerate(rows)]  # fmt: skip
    names = ["complaint_id", "reported_us", "delivered_us", "customer", "part_no", "container_id", "shipment_id"]
    frame = pd.DataFrame(table, columns=[*names, "pieces", "cause", "standing", "closed_us"])
    return frame.astype({"delivered_us": "int64", "pieces": "int64"})


def row(table: pd.DataFrame, *key: str) -> dict[str, object]:
    return dict(table.loc[key])


def test_ppm_counts_what_was_not_withdrawn_by_week_of_delivery() -> None:
    table = delivered(
        sent(("A", "N1", 0, 100_000), ("A", "N1", 0, 150_000), ("A", "N1", 1, 500_000)),
        told(
            ("A", "N1", 0, 5, ACCEPTED),
            ("A", "N1", 0, 7, DISPUTED),
            ("A", "N1", 0, 1000, WITHDRAWN),
            ("A", "N1", 1, 1, ACCEPTED),
        ),
        BOOK,
    )
    first = row(table, "A", "N1", "2026-W45")
    assert (first["shipped"], first["complaints"], first["complaint_pieces"], first["disputed"]) == (250_000, 3, 12, 7)
    assert first["ppm_theirs"] == pytest.approx(48)  # 12 / 250 000
    assert first["ppm_ours"] == pytest.approx(20)  # 5 / 250 000
    assert row(table, "A", "N1", "2026-W46")["ppm_theirs"] == pytest.approx(2)


def test_what_was_not_counted_is_not_known() -> None:
    table = delivered(sent(("A", "N1", 0, 100), ("A", "N1", 0, None)), told(("A", "N1", 0, 1, ACCEPTED)), BOOK)
    found = row(table, "A", "N1", "2026-W45")
    assert pd.isna(found["shipped"])
    assert pd.isna(found["ppm_theirs"])
    assert found["complaint_pieces"] == 1


def test_a_complaint_without_a_delivery_has_no_ppm() -> None:
    found = row(delivered(sent(), told(("A", "N1", 0, 3, DISPUTED)), BOOK), "A", "N1", "2026-W45")
    assert (found["shipped"], found["complaint_pieces"]) == (0, 3)
    assert pd.isna(found["ppm_theirs"])


def test_made_closes_and_goes_to_the_customer_of_the_part_only() -> None:
    pieces = facts("pieces", {"pieces": 1000}, {"pieces": 30, "setup": 1})
    rejects = facts("rejects", {"rejected": 12, "reworked": 5, "inspected": 900}, {"rejected": 4, "setup": 1})
    table = made(pieces, rejects, BOOK)
    found = row(table, "A", "N1", "2026-W45")
    assert found == {"made": 1030, "setup_pieces": 30, "rejected": 12, "reworked": 5, "good": 983}
    both = week_rows(table, delivered(sent(("B", "N1", 0, 40)), told(), BOOK), BOOK).set_index("customer")
    assert both.loc["A", "made"] == 1030
    assert both.loc["A", "shipped"] == 0
    assert pd.isna(both.loc["B", "made"])
    assert both.loc["B", "shipped"] == 40


def test_without_deliveries_asked_for_they_are_not_known() -> None:
    table = week_rows(made(facts("pieces", {"pieces": 5}), facts("rejects"), BOOK), None, BOOK)
    assert "shipped" not in table
    assert list(table["made"]) == [5]


def test_pieces_of_a_first_die_are_not_finished() -> None:
    two = book(
        parts=[{"part_no": "N1", "customer": "A"}],
        routes=[
            {"part_no": "N1", "step": 1, "die_id": "D1"},
            {"part_no": "N1", "step": 2, "die_id": "D2"},
        ],
    )
    kept = finished(facts("pieces", {"pieces": 7}, {"pieces": 5, "die_id": "D2"}, {"part_no": "N9"}), two)
    assert list(zip(kept["part_no"], kept["die_id"], strict=True)) == [("N1", "D2"), ("N9", "D1")]


def test_a_part_changes_its_customer_on_its_date() -> None:
    changing = book(
        parts=[
            {"part_no": "N1", "customer": "B", "valid_from": dt.date(2026, 11, 9)},
            {"part_no": "N1", "customer": "A"},
        ]
    )
    assert parts_on(changing, dt.date(2026, 11, 8))["N1"]["customer"] == "A"
    assert parts_on(changing, dt.date(2026, 11, 9))["N1"]["customer"] == "B"
