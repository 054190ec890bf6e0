import pandas as pd
import pytest

from monitor.figures.output.shifts import shift_rows
from monitor.figures.output.totals import SHIFT as BY_SHIFT
from monitor.figures.output.totals import totals
from monitor.plant.book import Book
from shared.facts import FACTS
from shared.plant import Plant
from shared.tables import TABLES

MINUTE_US = 60_000_000
SHIFT = {"shift_date": "2026-11-02", "shift": "early", "press_id": "P01", "die_id": "D-101", "part_no": "B-10"}


def book_with(rated_spm):
    dies = ({"die_id": "D-101", "pitch_mm": 20.0, "parts_per_stroke": 1, "rated_spm": rated_spm},)
    return Book(Plant(timezone="UTC"), dict.fromkeys(TABLES, ()) | {"dies": dies})


def facts(kind, *rows):
    """Facts of a kind; what a row does not name is nothing."""
    return pd.DataFrame([dict.fromkeys(FACTS[kind].names, 0) | SHIFT | row for row in rows], columns=FACTS[kind].names)


def minutes(planned=0, running=0, stopped=0, setup=0):
    return {
        "planned_us": planned * MINUTE_US,
        "running_us": running * MINUTE_US,
        "stopped_us": stopped * MINUTE_US,
        "setup": setup,
    }


def shift_of(rated_spm, times, pieces, rejected=0, reworked=0):
    """The one row of the `shifts` table that a shift gives."""
    table = totals(
        facts("time", *times),
        facts("strokes", {"strokes": pieces, "fed": pieces}),
        facts("pieces", {"pieces": pieces}),
        facts("rejects", {"rejected": rejected, "reworked": reworked}),
        BY_SHIFT,
    )
    shown = shift_rows(table, book_with(rated_spm))
    assert len(shown) == 1
    return shown.iloc[0]


def test_availability_speed_and_quality_of_a_shift(published):
    figure = published("KP-01")  # Nakajima (1988)
    given = figure.inputs
    planned = given["shift_min"] - given["breaks_min"]
    times = [minutes(planned, planned - given["down_min"], given["down_min"])]
    row = shift_of(1 / given["ideal_min"], times, given["parts"], given["rejects"])
    figure.agrees("loading", row["planned_s"] / 60)
    figure.agrees("availability", row["availability"])
    figure.agrees("performance", row["effectiveness"])
    figure.agrees("quality", row["quality"])
    figure.agrees("product", row["oee_index"])


def test_changeover_counts_as_standing(published):
    figure = published("KP-02")  # Willmott and McCarthy (2001), p. 127
    given = figure.inputs
    running = given["planned_min"] - given["stops_min"] - given["changeover_min"]
    times = [
        minutes(running + given["stops_min"], running, given["stops_min"]),
        minutes(given["changeover_min"], 0, given["changeover_min"], setup=1),
    ]
    row = shift_of(1 / given["cycle_min"], times, given["cycles"])
    figure.agrees("uptime", row["running_s"] / 60)
    figure.agrees("availability", row["availability"])
    figure.agrees("planned_cycles", row["pieces"] / row["effectiveness"])
    figure.agrees("performance", row["effectiveness"])
    assert row["setup_s"] == pytest.approx(given["changeover_min"] * 60)
    assert row["planned_s"] == pytest.approx(row["running_s"] + row["stopped_s"])


def test_ratios_of_the_standard(published):
    figure = published("KP-03")  # ISO 22400-2
    given = figure.inputs
    times = [minutes(given["PBT"], given["APT"], given["PBT"] - given["APT"])]
    row = shift_of(1 / given["PRI"], times, given["PQ"], given["SQ"], given["RQ"])
    figure.agrees("availability", row["availability"])
    figure.agrees("effectiveness", row["effectiveness"])
    figure.agrees("quality_ratio", row["quality"])
    figure.agrees("oee", row["oee_index"])
    figure.agrees("scrap_ratio", row["rejected"] / row["pieces"])
    figure.agrees("rework_ratio", row["reworked"] / row["pieces"])
    assert row["good"] == given["GQ"]
