import pandas as pd
import pytest

from dashboards.ledger.records import records
from dashboards.parts.totals import (
    coil_losses,
    coil_yield,
    running_time,
    scrap_by_cause,
    scrap_total,
    scrap_totals,
    stop_minutes,
)
from monitor.reckoning.statistics.intervals import wilson
from tests.dashboards.rows import table


def scrap(*rows):
    """Rows as (kind, coil, cause, inspected, rejected)."""
    names = ("kind", "coil_id", "cause", "inspected", "rejected")
    same = {"shift_date": "2026-11-02", "shift": "early", "press_id": "P1", "die_id": "D1", "part_no": "A", "lot": "L"}
    return table("scrap", [same | dict(zip(names, row, strict=True)) | {"spread": False} for row in rows])


def test_causes_of_one_cell_share_its_pieces():
    total = scrap_total(
        records(scrap(("full", "C1", "BUR", 1000, 4), ("full", "C1", "SLG", 1000, 6), ("full", "C2", "", 500, 0)))
    )
    low, high = wilson(10, 1500)
    assert (total.rejected, total.inspected, total.estimate) == (10, 1500, False)
    assert (total.rate, total.rate_low, total.rate_high) == (10 / 1500, low, high)


def test_a_tub_count_and_a_sort_of_the_same_pieces_count_them_once():
    total = scrap_total(records(scrap(("full", "C1", "BUR", 400, 2), ("tub", "C1", "BUR", 1000, 5))))
    assert (total.rejected, total.inspected) == (7, 1000)


def test_samples_speak_only_where_nothing_was_counted():
    sample, counted = ("sample", "C1", "BUR", 20, 1), ("tub", "C1", "SLG", 900, 9)
    assert scrap_total(records(scrap(sample, counted))).rejected == 9
    alone = scrap_total(records(scrap(sample)))
    assert (alone.rejected, alone.inspected, alone.estimate) == (1, 20, True)


def test_nothing_inspected_is_not_known():
    total = scrap_total(records(scrap()))
    assert (total.inspected, total.rate, total.rate_low) == (0, None, None)


def test_more_rejects_than_pieces_known_have_no_interval():
    total = scrap_total(records(scrap(("full", "C1", "BUR", 2, 5))))
    assert (total.rejected, total.rate_low, total.rate_high) == (5, None, None)


def test_each_cause_stands_over_every_inspection_also_those_that_did_not_find_it():
    rows = scrap(("full", "C1", "BUR", 1000, 4), ("full", "C2", "", 3000, 0), ("sample", "C1", "BUR", 20, 1))
    causes = scrap_by_cause(rows, {"BUR": "burr too high"})
    assert causes["label"].tolist() == ["BUR burr too high"] * 2
    assert causes["estimate"].tolist() == [False, True]
    assert causes["inspected"].tolist() == [4000, 20]
    assert causes["rate"].tolist() == [0.001, 0.05]
    assert (causes["rate_low"] < causes["rate"]).all()


def test_no_cause_gives_an_empty_table_with_its_columns():
    assert list(scrap_by_cause(scrap(("full", "C1", "", 10, 0)), {})) == [
        *("label", "estimate", "rejected", "inspected", "rate", "rate_low", "rate_high")
    ]


def test_standing_time_adds_up_and_counts_a_stop_over_a_shift_change_once():
    def stop(stop_id, reason, kind, seconds):
        return {"stop_id": stop_id, "reason": reason, "kind": kind, "seconds": seconds, "planned": False}

    rows = [stop("1", "CCH", "setup", 600.0), stop("1", "CCH", "setup", 300.0), stop("2", "", "", 120.0)]
    reasons = stop_minutes(table("stops", [*rows, stop("3", "break", "planned", 1800.0)]), {"CCH": "coil change"})
    assert reasons.to_dict("records") == [
        {"reason": "coil change", "kind": "setup", "count": 1, "minutes": 15.0},
        {"reason": "no reason yet", "kind": "", "count": 1, "minutes": 2.0},
    ]


PARTS = ("good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "remaining_kg", "difference_kg")


def coil(weights, used_kg=90.0):
    return dict(zip(PARTS, weights, strict=True)) | {"start_kg": sum(weights), "used_kg": used_kg}


def test_losses_close_on_what_was_received_whatever_the_sign_of_the_difference():
    losses, left_out = coil_losses(table("coils", [coil((60, 30, 1, 2, 1, 8, -2)), coil((50, 25, 1, 0, 1, 20, 3))]))
    assert losses["kg"].iloc[0] == pytest.approx(losses["kg"].iloc[1:].sum())
    assert losses.set_index("part")["kg"]["difference"] == 1
    assert losses["share"].iloc[1:].sum() == pytest.approx(1)
    assert left_out == 0


def test_a_coil_of_unknown_weight_is_left_out_and_counted():
    unknown = coil((60, 30, 1, 2, 1, 8, -2)) | {"start_kg": float("nan"), "difference_kg": float("nan")}
    losses, left_out = coil_losses(table("coils", [unknown, coil((50, 25, 1, 0, 1, 20, 3))]))
    assert (losses["kg"].iloc[0], left_out) == (100, 1)


def test_yield_is_weight_over_weight_and_unknown_without_strip():
    coils = [coil((60, 30, 0, 0, 0, 0, 0)), coil((30, 0, 0, 0, 0, 0, 0), 60.0)]
    known = [row | {"coil_yield": row["good_kg"] / row["used_kg"]} for row in coils]
    # 60 of 90 kg and 30 of 60 kg; strip that waits for another die has no yield, and does not lower that of the rest.
    assert coil_yield(table("coils", [*known, coil((0, 30, 60, 0, 0, 0, 0))])) == 0.6
    assert coil_yield(table("coils", [coil((0, 0, 0, 0, 0, 9, 0), used_kg=0.0)])) is None


def test_groups_are_totalled_apart_each_by_its_best_evidence():
    early, late = ("sample", "C1", "BUR", 20, 1), ("full", "C1", "BUR", 900, 3)
    rows = pd.concat([scrap(early), scrap(late).assign(shift="late"), scrap(early).assign(shift="late")])
    totals = scrap_totals(rows, ["shift"]).set_index("shift")
    assert totals["inspected"].to_dict() == {"early": 20, "late": 900}
    assert totals["estimate"].to_dict() == {"early": True, "late": False}


def test_standing_time_by_group_keeps_the_groups_apart():
    stops = [
        {"stop_id": "1", "shift": shift, "reason": "CCH", "kind": "setup", "seconds": 60.0 * n, "planned": False}
        for n, shift in enumerate(("early", "late", "late"), 1)
    ]
    rows = stop_minutes(table("stops", stops), {}, by=["shift"])
    assert rows[["shift", "minutes"]].to_numpy().tolist() == [["late", 5.0], ["early", 1.0]]


def times(*rows):
    """Rows as (planned, running, stopped, unresolved, parts per running hour)."""
    names = ("planned_s", "running_s", "stopped_s", "unresolved_s", "parts_per_running_hour")
    return records(table("shifts", [dict(zip(names, row, strict=True)) for row in rows]))


def test_uptime_is_known_where_no_more_than_1_percent_of_planned_time_was_not_seen():
    found = running_time(times((3600, 3000, 564, 36, 100), (3600, 3600, 0, 0, 100)))
    assert (found.planned_s, found.running_s, found.stopped_s, found.unresolved_s) == (7200, 6600, 564, 36)
    assert (found.seen, found.timed) == (True, True)
    assert not running_time(times((3600, 3000, 563, 37, 100))).seen


def test_a_rate_is_not_known_where_strokes_have_no_time():
    # 10 s of an hour were not seen, but the strokes counted there took longer: the figure leaves the rate empty.
    found = running_time(times((3600, 3590, 0, 10, float("nan"))))
    assert (found.seen, found.timed) == (True, False)
