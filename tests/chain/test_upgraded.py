"""A ledger that an older release reckoned gives, once it has been opened, what a fresh load of its files gives.

`tests/ledger/data/reckoning-1` holds the files of a small plant and the ledger that they left, loaded folder by folder
by the release of November 2026: its catalogue as SQL, and its parts.
"""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboards.ledger.service import LedgerService
from monitor.cli.main import app
from monitor.figures import AVAILABLE, figure
from monitor.keep.backup import backup
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.upgrade import upgrade_facts
from shared.errors import LedgerError
from shared.facts import FACTS

STORED = Path(__file__).parents[1] / "ledger" / "data" / "reckoning-1"
FOLDERS = sorted((STORED / "files").iterdir())
#: When something was done, and under which number a row was set aside, is not what a plant hands over.
OF_THE_LOAD = ["loaded_at", "set_aside_at", "id"]


@pytest.fixture
def old(tmp_path: Path) -> Path:
    folder = tmp_path / "old"
    shutil.copytree(STORED / "parts", folder / "parts")
    catalogue = sqlite3.connect(folder / "catalogue.sqlite")
    catalogue.executescript((STORED / "catalogue.sql").read_text("utf-8"))
    catalogue.close()
    return folder


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    with Ledger.open(tmp_path / "fresh", create=True) as ledger:
        for folder in FOLDERS:
            load([folder], ledger)
    return tmp_path / "fresh"


def told(ledger: Ledger, name: str) -> pd.DataFrame:
    return figure(ledger, name).drop(columns=OF_THE_LOAD, errors="ignore")


def test_every_figure_is_that_of_a_fresh_load(old: Path, fresh: Path) -> None:
    with Ledger.open(old) as ledger, Ledger.open(fresh) as other:
        upgrade_facts(ledger)
        for name in AVAILABLE:
            pd.testing.assert_frame_equal(told(ledger, name), told(other, name), obj=name)
        for kind in FACTS:
            both = (one.snapshot().facts(kind) for one in (ledger, other))
            first, second = (facts.sort_values(list(facts.columns), ignore_index=True) for facts in both)
            pd.testing.assert_frame_equal(first, second, obj=kind)
        # What the rules of today take came in: a late order, a fit, and a change of the coil "C;2".
        assert set(ledger.snapshot().rows("orders")["order_id"].to_pylist()) == {"O1", "O2"}
        assert ledger.snapshot().rows("characteristics").num_rows == 1
        assert "C;2" in ledger.snapshot().rows("coil_changes")["coil_id"].to_pylist()
        # 20,000 strokes in a gap of 16 hours are no stroke a second: nobody saw when they were made.
        shift = figure(ledger, "shifts").set_index(["press_id", "shift_date"]).loc[("P2", "2026-11-03")]
        assert (shift["strokes"], shift["running_s"], shift["unresolved_s"]) == (20_000, 0, 28_800)


def test_nothing_reads_the_facts_before(old: Path) -> None:
    with Ledger.open(old) as ledger:
        assert not ledger.snapshot().is_reckoned
        for name in ("shifts", "coils", "service", "customer_week"):
            with pytest.raises(LedgerError, match="rules of an older release"):
                figure(ledger, name)


def test_versions_reckoned_by_the_older_rules_are_not_shown_after(old: Path) -> None:
    with Ledger.open(old) as ledger:
        before = ledger.version
        assert upgrade_facts(ledger).version == before + 1
        with pytest.raises(LedgerError, match=f"from {before + 1} on"):
            figure(ledger, "shifts", version=before)
        assert len(figure(ledger, "shifts", version=before + 1))


def test_it_is_done_once(old: Path) -> None:
    with Ledger.open(old) as ledger:
        upgrade_facts(ledger)
        done = ledger.version
        assert upgrade_facts(ledger).version == done


def test_a_command_does_it_and_says_so(old: Path) -> None:
    first = CliRunner().invoke(app, ["figures", "shifts", "--ledger", str(old), "--format", "csv"])
    assert first.exit_code == 0, first.output
    assert "reckoned anew once" in first.stderr
    assert "strokeledger backup" in first.stderr
    again = CliRunner().invoke(app, ["figures", "shifts", "--ledger", str(old), "--format", "csv"])
    assert again.stderr == ""
    assert again.stdout == first.stdout


def test_the_screens_do_it_where_no_command_did(old: Path, fresh: Path) -> None:
    screens = LedgerService(old).read().figure("shifts")
    with Ledger.open(fresh) as ledger:
        pd.testing.assert_frame_equal(screens, figure(ledger, "shifts"))


def test_a_load_or_a_backup_does_not_mix_old_facts_with_new(old: Path, fresh: Path, tmp_path: Path) -> None:
    with Ledger.open(old) as ledger:
        backup(ledger, tmp_path / "copy")
        # Whoever loads without a command gets the same: all of it is reckoned anew with the load.
        load([FOLDERS[0]], ledger)
        with Ledger.open(fresh) as other:
            pd.testing.assert_frame_equal(figure(ledger, "shifts"), figure(other, "shifts"))
    with Ledger.open(tmp_path / "copy") as copy:
        assert not copy.snapshot().is_reckoned
