"""Every figure is possible, whatever the rows say: no count below 0, no share outside 0 to 1; and no row is accused
of what it did not do.

Random plants (`tests.invented.plants`) are played stroke by stroke.  Into some, rows are planted that cannot be true.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.check import check
from monitor.figures import AVAILABLE, FIGURES, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.fields import Kind
from tests.invented.plants import random_plant
from tests.seeds import some

SHARES = {"availability", "quality", "rate", "rate_low", "rate_high", "coil_yield", "false_alarm", "chance"}
PLANTED = (
    "more_rejected_than_made", "sample_larger_than_made", "more_decided_than_rejected", "box_sent_twice",
    "event_of_other_die",
)  # fmt: skip


def assert_possible(name: str, table: pd.DataFrame) -> None:
    """Counts and shares of a figure are within their range, or empty."""
    for field in FIGURES[name].columns:
        known = table[field.name].dropna()
        if name == "trace" and field.name == "pieces":
            # What a container lacks or has beyond its count stands under no coil, with its sign.
            known = table.loc[table["coil_id"] != "", "pieces"].dropna()
        if field.kind is Kind.COUNT:
            assert (known >= 0).all(), (name, field.name, known[known < 0].tolist())
        if field.name in SHARES:
            assert known.between(0, 1).all(), (name, field.name, known[~known.between(0, 1)].tolist())


def played(tmp_path: Path, seed: int) -> tuple[Path, Ledger]:
    folder = tmp_path / "files"
    folder.mkdir()
    random_plant(seed, folder)
    return folder, Ledger.open(tmp_path / "ledger", create=True)


def write(folder: Path, table: str, *rows: dict[str, object]) -> None:
    columns = list(dict.fromkeys(name for row in rows for name in row))
    with (folder / f"{table}-planted.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)


def plant(folder: Path, ledger: Ledger, seed: int) -> None:
    """Load rows that cannot be true: about the shift with the most pieces, and the die and part that made them."""
    rng = np.random.default_rng(seed)
    pieces = ledger.snapshot().facts("pieces")
    sums = pieces.groupby(["press_id", "die_id", "part_no"])["pieces"].sum()
    press, die, part = sums.idxmax()
    mine = pieces[(pieces["press_id"] == press) & (pieces["die_id"] == die)]
    made, us = int(pieces.loc[pieces["press_id"] == press, "pieces"].sum()), int(mine["to_us"].max())
    at, later = (pd.Timestamp(us + more * 1_000_000, unit="us", tz="UTC").isoformat() for more in (-60, 60))
    excess = int(rng.integers(2 * made + 1_000, 5 * made + 10_000))
    folder.mkdir()
    look = {"press_id": press, "time": at, "cause": "BUR", "inspection_id": "Z-TUB", "kind": "tub", "rejected": excess}
    sample = {"press_id": press, "time": at, "inspection_id": "Z-SAMPLE", "kind": "sample", "inspected": excess}
    write(folder, "inspections", look, {**sample, "rejected": 3, "cause": "BUR"})
    write(folder, "dispositions", {"disposition_id": "Z", "inspection_id": "Z-SAMPLE", "cause": "BUR", "time": at,
                                   "outcome": "found_good", "pieces": 4})  # fmt: skip
    write(folder, "containers", {"container_id": "Z-BOX", "part_no": part, "press_id": press, "opened_at": at,
                                 "quantity": 10})  # fmt: skip
    sent = {"container_id": "Z-BOX", "shipped_at": later, "customer": "K"}
    write(folder, "shipments", {"shipment_id": "Z-1", **sent}, {"shipment_id": "Z-2", **sent})
    other = next(name for name in sorted(set(ledger.snapshot().rows("dies")["die_id"].to_pylist())) if name != die)
    write(folder, "die_changes", {"time": at, "press_id": press, "event": "change", "die_id": other})
    load([folder], ledger)


@pytest.mark.parametrize("seed", some(range(40, 48), 3))
def test_rows_that_are_true_are_not_accused(tmp_path: Path, seed: int) -> None:
    folder, ledger = played(tmp_path, seed)
    load([folder], ledger)
    assert figure(ledger, "contradictions").to_dict("records") == []
    ledger.close()


@pytest.mark.parametrize("seed", some((60, 65, 64, 61, 62, 63), 3))
def test_every_figure_is_possible_whatever_the_rows_say(tmp_path: Path, seed: int) -> None:
    folder, ledger = played(tmp_path, seed)
    load([folder], ledger)
    assert figure(ledger, "contradictions").to_dict("records") == []
    plant(tmp_path / "planted", ledger, seed)
    for name in AVAILABLE:
        assert_possible(name, figure(ledger, name))
    found = figure(ledger, "contradictions")
    assert set(PLANTED) <= set(found["code"]), set(PLANTED) - set(found["code"])
    assert found["rows"].str.contains("-planted.csv:").all(), found.to_dict("records")
    shifts = figure(ledger, "shifts")
    assert shifts["good"].isna().any()
    assert check(ledger) == []
    # Where all is known, the sum closes; where good is not, the others alone go beyond the whole.
    known = shifts[shifts["good"].notna() & shifts["setup_pieces"].notna()]
    assert (known["pieces"] == known[["good", "reworked", "rejected", "setup_pieces"]].sum(axis=1)).all()
    others = shifts[shifts["good"].isna() & shifts["setup_pieces"].notna()]
    assert (others["pieces"] < others[["reworked", "rejected", "setup_pieces"]].sum(axis=1)).all()
    ledger.close()
