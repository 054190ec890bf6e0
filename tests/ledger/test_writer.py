"""Loads, rows set aside, plant, folds and forgetting."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pandas as pd
import pytest
import sqlalchemy as sa

from monitor.ledger import Fold, Ledger
from shared.errors import LedgerError
from shared.facts import FACTS, Fact, FactKind, FoldFacts
from tests.ledger.given import CALENDAR, DAY, PLANT, START_US, load, readings, rows, strokes


@dataclass(frozen=True)
class Row:
    line: int
    reason: str
    row: str
    waits_for: tuple[tuple[str, str], ...] = ()


def fact(kind: str, **known: object) -> Fact:
    """A fact of a kind; what is not named is empty."""
    empty = {FactKind.TEXT: "", FactKind.INTEGER: 0, FactKind.REAL: None}
    return FACTS[kind].record(**{name: empty[stored] for name, stored in FACTS[kind].columns[2:]} | known)


def test_load_keeps_its_counts(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("strokes-1.csv", "strokes", "abc", 123)
        merged = writer.merge("strokes", strokes((0, 100), (10, 101), (10, 101)), load_id)
        writer.finish_load(load_id, rows=4, outside=1, read=3, new=merged.new, repeated=merged.repeated)
    loads = ledger.snapshot().loads()
    assert loads.drop(columns="loaded_at").to_dict("records") == [
        {
            **{"load_id": 1, "file": "strokes-1.csv", "table": "strokes", "rows": 4, "outside": 1, "read": 3},
            **{"new": 2, "repeated": 1, "corrected": 0, "set_aside": 0, "refused": ""},
            **{"profile": "", "code": "", "values": ""},
        }
    ]
    assert loads["loaded_at"][0] > START_US - 10**14


def test_file_loaded_before_is_known_by_its_digest(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("a.csv", "strokes", "abc", 1)
        writer.finish_load(load_id)
        assert writer.load_id_of("abc") == load_id
    with ledger.writer(CALENDAR) as writer:
        assert (writer.load_id_of("abc"), writer.load_id_of("xyz")) == (load_id, None)
    assert ledger.version == 1


def test_refused_file_leaves_its_reason_and_nothing_else(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        kept = writer.begin_load("a.csv", "strokes", "a", 1)
        writer.merge("strokes", strokes((0, 100)), kept)
        writer.finish_load(kept, read=1, new=1)
        load_id = writer.begin_load("b.csv", "strokes", "b", 1, correct=True)
        writer.merge("strokes", strokes((0, 900), (10, 901)), load_id)
        writer.merge("stops", rows("stops", [{"press_id": "P01", "start_at": START_US, "reason": "JAM"}]), load_id)
        writer.set_aside(load_id, "strokes", "b.csv", [Row(3, "no time", "{}")])
        writer.finish_load(load_id, rows=2, refused="cut short in line 4")
        assert writer.load_id_of("b") is None
        assert readings(writer) == [(0, 100)]
    snapshot = ledger.snapshot()
    assert readings(snapshot) == [(0, 100)]
    assert snapshot.rows("stops").num_rows == 0
    assert len(snapshot.set_aside_rows()) == 0
    assert snapshot.loads()["refused"].tolist() == ["", "cut short in line 4"]
    assert len(list((ledger.root / "parts").iterdir())) == 1


def test_refused_file_may_be_tried_again(ledger: Ledger) -> None:
    for reason in ("no profile", "no profile", ""):
        with ledger.writer(CALENDAR) as writer:
            load_id = writer.begin_load("b.csv", "strokes", "b", 1)
            writer.merge("strokes", strokes((0, 100)), load_id)
            writer.finish_load(load_id, refused=reason)
    assert ledger.snapshot().loads()["refused"].tolist() == [""]
    assert readings(ledger.snapshot()) == [(0, 100)]


def test_load_left_open_is_a_mistake_of_the_caller(ledger: Ledger) -> None:
    with pytest.raises(RuntimeError, match="load 1 is not finished"), ledger.writer(CALENDAR) as writer:
        writer.begin_load("a.csv", "strokes", "a", 1)
    assert ledger.version == 0


def test_rows_set_aside_wait_for_what_they_lack(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        load_id = writer.begin_load("stops.csv", "stops", "a", 1)
        lacking = [
            Row(2, "unknown press P07", '{"press_id": "P07"}', (("presses", "P07"),)),
            Row(3, "end before start", '{"press_id": "P01"}'),
            Row(4, "unknown press P08, reason JAM", '{"press_id": "P08"}', (("presses", "P08;"), ("reasons", "JAM"))),
        ]
        writer.set_aside(load_id, "stops", "stops.csv", lacking)
        writer.finish_load(load_id, rows=3, read=3, set_aside=3)
    with ledger.writer(CALENDAR) as writer:
        assert [row.line for row in writer.waiting({("presses", "P07"), ("dies", "D1")})] == [2]
        assert [row.line for row in writer.waiting({("reasons", "JAM")})] == [4]
        assert [row.line for row in writer.waiting({("presses", "P08;")})] == [4]
        assert writer.waiting({("presses", "P08")}) == writer.waiting({("dies", "P07")}) == []
        assert writer.waiting({("presses", "P0")}) == []
        row = writer.waiting({("presses", "P07")})[0]
        assert (row.table, row.file, row.load_id, row.row) == ("stops", "stops.csv", 1, '{"press_id": "P07"}')
        writer.release([row.id])
        writer.recount({(row.load_id, "set_aside", "new"): 1})
        assert writer.waiting({("presses", "P07")}) == []
    assert ledger.snapshot(1).set_aside_rows()["line"].tolist() == [2, 3, 4]
    held = ledger.snapshot(2).set_aside_rows()
    assert held["line"].tolist() == [3, 4]
    assert ledger.snapshot().loads()[["read", "new", "set_aside"]].values.tolist() == [[3, 1, 2]]
    assert held["reason"].tolist()[0] == "end before start"


def test_plant_is_read_as_it_was(ledger: Ledger) -> None:
    for text in (PLANT, PLANT, PLANT + "stop_after_s = 90"):
        with ledger.writer(CALENDAR) as writer:
            writer.put_plant(text)
            assert writer.plant_text() == text
    assert ledger.version == 2
    assert ledger.snapshot(1).plant_text() == PLANT
    assert ledger.snapshot().plant_text() == PLANT + "stop_after_s = 90"


def test_days_with_readings_follow_the_plant(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((10, 100), (86_400 - 10, 200)))
    with ledger.writer(CALENDAR) as writer:
        writer.put_plant(PLANT)
        assert writer.stroke_days("P01") == [DAY]
        writer.put_plant('timezone = "Europe/Berlin"')
        assert writer.stroke_days("P01") == [DAY, DAY + dt.timedelta(days=1)]
    assert ledger.snapshot().stroke_days("P02") == []


def test_fold_takes_the_place_of_the_earlier_one(ledger: Ledger) -> None:
    early = fact("time", shift_date="2026-11-02", shift="early", die_id="D1", running_us=5)
    late = fact("time", shift_date="2026-11-02", shift="late", die_id="D2", running_us=7)
    stop = fact("stops", stop_id="S1", shift_date="2026-11-02")
    with ledger.writer(CALENDAR) as writer:
        writer.replace_folds(
            "P01", [Fold("2026-11-02", FoldFacts(time=[early, late], stops=[stop]), '{"n": 1}', False)]
        )
        writer.replace_folds("P02", [Fold("2026-11-02", FoldFacts(time=[early]), "{}", True)])
    with ledger.writer(CALENDAR) as writer:
        for _ in range(2):
            writer.replace_folds("P01", [Fold("2026-11-02", FoldFacts(time=[late]), '{"n": 2}', True)])
        assert writer.folds("P01") == [("2026-11-02", '{"n": 2}', True)]
        assert writer.facts("time", press_id="P01")["running_us"].tolist() == [7]
    old, new = ledger.snapshot(1), ledger.snapshot(2)
    assert old.folds("P01") == [("2026-11-02", '{"n": 1}', False)]
    assert old.facts("time")["running_us"].tolist() == [5, 7, 5]
    assert old.facts("stops")["stop_id"].tolist() == ["S1"]
    assert sorted(new.facts("time")["running_us"].tolist()) == [5, 7]
    assert new.facts("stops").empty


def test_facts_have_the_columns_and_kinds_of_their_table(ledger: Ledger) -> None:
    mount = fact("mounts", mounting_id="M1", removed_us=None, mounted_us=START_US, start_weighed_kg=None, pitch_mm=4.0)
    with ledger.writer(CALENDAR) as writer:
        writer.replace_folds("P01", [Fold("2026-11-02", FoldFacts(mounts=[mount]), "{}", True)])
    mounts = ledger.snapshot().facts("mounts")
    assert list(mounts) == list(FACTS["mounts"].names)
    assert mounts["press_id"].tolist() == ["P01"]
    assert mounts["mounted_us"].dtype == "int64"
    assert (mounts["removed_us"].dtype, mounts["removed_us"].isna().tolist()) == (pd.Int64Dtype(), [True])
    assert mounts["start_weighed_kg"].isna().tolist() == [True]
    for kind, table in FACTS.items():
        none = ledger.snapshot().facts(kind, press_id="P99")
        assert (list(none), len(none)) == (list(table.names), 0)


def test_facts_are_narrowed_by_date_press_and_die(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        for day in (1, 2, 3):
            date = f"2026-11-0{day}"
            times = [fact("time", shift_date=date, die_id=die, running_us=day) for die in ("D1", "D2")]
            glitch = fact("glitches", counter=day)
            writer.replace_folds("P01", [Fold(date, FoldFacts(time=times, glitches=[glitch]), "{}", True)])
    snapshot = ledger.snapshot()
    chosen = snapshot.facts("time", dt.date(2026, 11, 2), dt.date(2026, 11, 3), "P01", "D1")
    assert chosen["running_us"].tolist() == [2]
    assert snapshot.facts("glitches", dt.date(2026, 11, 2))["counter"].tolist() == [2, 3]
    assert snapshot.facts("time", press_id="P02").empty


def test_wrong_number_of_fact_columns_is_an_error(ledger: Ledger) -> None:
    with pytest.raises(sa.exc.ProgrammingError, match="number of bindings"), ledger.writer(CALENDAR) as writer:
        writer.replace_folds("P01", [Fold("2026-11-02", FoldFacts(time=[("2026-11-02", "early")]), "{}", True)])
    assert ledger.version == 0


def test_carry_is_that_of_the_last_fold_before(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        for day in ("2026-10-30", "2026-11-02", "open"):
            writer.replace_folds("P01", [Fold(day, FoldFacts(), f'"{day}"', True)])
        assert writer.fold_carry_before("P01", "2026-11-02") == '"2026-10-30"'
        assert writer.fold_carry_before("P01", "2026-11-03") == '"2026-11-02"'
        assert writer.fold_carry_before("P01", "2026-10-30") is None
        assert writer.folds("P01", "open") == [("open", '"open"', True)]
        assert [day for day, _, _ in writer.folds("P01")] == ["2026-10-30", "2026-11-02", "open"]
        writer.replace_folds("P02", [Fold("2026-11-01", FoldFacts(), "2", True)])
        assert writer.last_carries() == {"P01": '"open"', "P02": "2"}


def test_rejects_are_replaced_apart_from_the_fold(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        rejects = [fact("rejects", shift_date=date, rejected=n) for n, date in enumerate(("2026-11-02", "2026-11-03"))]
        writer.replace_rejects("P01", {"2026-11-04": rejects})
        writer.replace_folds("P01", [Fold("2026-11-04", FoldFacts(), "{}", True)])
        assert writer.reject_days("P01", DAY, DAY) == ["2026-11-04"]
        writer.replace_rejects("P01", {"2026-11-04": rejects[1:]})
        assert writer.reject_days("P01", DAY, DAY) == []
        assert writer.facts("rejects")["rejected"].tolist() == [1]


def test_inspections_are_found_by_day_kind_and_column(ledger: Ledger) -> None:
    common = {"press_id": "P01", "rejected": 0}
    inspections = [
        common | {"inspection_id": "I1", "time": START_US, "kind": "tub"},
        common | {"inspection_id": "I2", "time": START_US + 1, "kind": "full", "rechecks": "I1"},
        common | {"inspection_id": "I3", "time": START_US - 1, "kind": "tub"},
    ]
    load(ledger, "inspections", rows("inspections", inspections))
    with ledger.writer(CALENDAR) as writer:
        assert writer.inspection_days("P01", DAY - dt.timedelta(days=9)) == [DAY - dt.timedelta(days=1), DAY]
        assert writer.tub_times("P01", START_US) == [START_US - 1, START_US]
        assert writer.tub_times("P01", START_US - 1) == [START_US - 1]
        found = writer.lookup("inspections", "rechecks", ["I1", "I9"])
        assert [(row["inspection_id"], row["time"]) for row in found] == [("I2", START_US + 1)]
        assert writer.lookup("inspections", "inspection_id", []) == []


def test_fingerprint_of_the_book_is_kept(ledger: Ledger) -> None:
    with ledger.writer(CALENDAR) as writer:
        assert writer.book_fingerprint() == ""
        writer.put_book_fingerprint("f1")
    with ledger.writer(CALENDAR) as writer:
        assert writer.book_fingerprint() == "f1"
        writer.put_book_fingerprint("f1")
    assert ledger.version == 1


def test_known_ids_by_table(ledger: Ledger) -> None:
    load(ledger, "presses", rows("presses", [{"press_id": "P01"}, {"press_id": "P02", "valid_from": DAY}]))
    known = ledger.snapshot().known()
    assert known["presses"] == frozenset({"P01", "P02"})
    assert known["coils"] == frozenset()
    assert {"dies", "reels", "parts", "containers", "inspections"} <= set(known)


def test_forgotten_versions_cannot_be_read_and_give_their_space_back(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100), (10, 101)))
    load(ledger, "strokes", strokes((10, 500)), correct=True)
    load(ledger, "strokes", strokes((20, 502)))
    ledger.keeper.expire([1, 2])
    assert ledger.keeper.purge(100) == 1
    assert ledger.keeper.purge(100) == 0
    assert readings(ledger.snapshot(3)) == readings(ledger.snapshot()) == [(0, 100), (10, 500), (20, 502)]
    with pytest.raises(LedgerError, match="no version 2; expected a version from 3 to 3"):
        ledger.snapshot(2)
    assert len(list((ledger.root / "parts").iterdir())) == 3
    assert ledger.keeper.remove_files() == 1
    assert len(list((ledger.root / "parts").iterdir())) == 2
