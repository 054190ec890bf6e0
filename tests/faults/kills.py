"""Kills loads, refolds, upkeep, compaction, upgrades and backups at random moments, and checks what is left each time.

Run with `python -m tests.faults.kills --count 300`; prints how many were killed at work, and what was lost, doubled
or unreadable, all of which must be none.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from pathlib import Path

import pandas as pd
import pyarrow as pa

from monitor.checking import check
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.loading import load
from tests.faults import apart
from tests.faults.work import do, make_old, work
from tests.small import BOOK, strokes, write_book

KINDS = ("load", "refold", "upkeep", "compaction", "upgrade", "backup")
FAULTS = ("lost", "doubled", "unreadable", "otherwise wrong")
_PRESSES = 4
_FILES = 6
_SAY_EVERY = 20
#: Minutes of readings in a file.
_LENGTH = 80


@dataclass
class Outcome:
    """How many programs were killed at work, how many had ended before, and what was found wrong."""

    killed: Counter[str] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


class Harness:
    """A ledger before the work, the figures after it undisturbed, and the time it takes."""

    def __init__(self, folder: Path, kinds: Sequence[str]) -> None:
        self.folder = folder
        self.base = folder / "base"
        self.drops = {"load": folder / "drop", "refold": folder / "book"}
        self._write(folder)
        with Ledger.open(self.base, create=True) as ledger:
            load([folder / "first"], ledger)
            for part in sorted((folder / "early").iterdir()):
                load([part], ledger)
        self.expected: dict[str, dict[str, list[dict[str, object]]]] = {}
        self.length_s: dict[str, float] = {}
        for kind in kinds:
            self._undisturbed(kind)

    def _write(self, folder: Path) -> None:
        first = write_book(folder / "first")
        names = [f"P{number}" for number in range(1, _PRESSES + 1)]
        (first / "presses.csv").write_text("press_id,rated_spm\n" + "".join(f"{name},60\n" for name in names))
        for where, numbers in (("early", range(2)), ("drop", range(2, _FILES))):
            (folder / where).mkdir()
            for number in numbers:
                for name in names:
                    text = strokes(number * _LENGTH, (number + 1) * _LENGTH, name)
                    (folder / where / f"strokes-{name}-{number}.csv").write_text(
                        text + f"2026-11-02T23:00:00,{name},x\n"
                    )
        (folder / "book").mkdir()
        (folder / "book" / "dies-2.csv").write_text(BOOK["dies.csv"].replace("D1,30", "D2,40"))

    def _undisturbed(self, kind: str) -> None:
        root, folder = self.fresh(kind)
        began = time.monotonic()
        with Ledger.open(root) as ledger:
            do(kind, ledger, self._folder(kind, folder))
            self.length_s[kind] = time.monotonic() - began
            self.expected[kind] = _told(ledger)

    def fresh(self, kind: str) -> tuple[Path, Path]:
        """A new copy of the ledger, of the format before where it is to be upgraded, and an empty folder beside it."""
        folder = Path(tempfile.mkdtemp(dir=self.folder, prefix="run-"))
        shutil.copytree(self.base, folder / "ledger")
        if kind == "upgrade":
            make_old(folder / "ledger")
        return folder / "ledger", folder

    def _folder(self, kind: str, folder: Path) -> Path:
        return self.drops.get(kind, folder)

    def kill(self, kind: str, chance: random.Random, outcome: Outcome) -> None:
        """Kill the work at a random moment, check what is left, finish the work and compare."""
        root, folder = self.fresh(kind)
        here, there = Pipe(duplex=False)
        worker = apart.start(work, kind, root, self._folder(kind, folder), there)
        there.close()
        assert here.recv() == "begun"
        time.sleep(chance.uniform(0, 0.9 * self.length_s[kind]))
        worker.kill()
        worker.join()
        (outcome.ended if _is_done(here) else outcome.killed)[kind] += 1
        try:
            outcome.wrong += [f"{kind}: {text}" for text in self._left(kind, root, folder)]
        except Exception as error:
            outcome.wrong.append(f"{kind}: unreadable: {type(error).__name__}: {error}")
        worker.close()
        shutil.rmtree(folder)

    def _left(self, kind: str, root: Path, folder: Path) -> list[str]:
        wrong: list[str] = []
        with Ledger.open(root) as ledger:
            wrong += [f"after the kill: {finding.what}" for finding in check(ledger)]
            wrong += _whole_files(ledger)
            shutil.rmtree(folder / "backup", ignore_errors=True)
            do(kind, ledger, self._folder(kind, folder))
            wrong += [f"after the work was done again: {finding.what}" for finding in check(ledger)]
            told = _told(ledger)
            wrong += [
                f"{name} differs from an undisturbed run" for name in told if told[name] != self.expected[kind][name]
            ]
            if ledger.keeper.inspector.idle_files():
                wrong.append("files are left that no part lies in")
        if kind == "backup":
            with Ledger.open(folder / "backup") as copy:
                wrong += [f"in the backup: {finding.what}" for finding in check(copy)]
                wrong += ["the backup differs"] * (_told(copy) != self.expected[kind])
        return wrong


def _is_done(told: Connection) -> bool:
    """Whether a program, ended by now, had said that its work is done."""
    with told:
        try:
            return bool(told.poll(0)) and told.recv() == "done"
        except EOFError:
            return False


def _whole_files(ledger: Ledger) -> list[str]:
    """Files of which some rows are in and others are not, or are in twice."""
    loads, snapshot = ledger.snapshot().loads(), ledger.snapshot()
    stored: Counter[int] = Counter()
    for press_id in snapshot.presses_with_strokes():
        stored.update(snapshot.strokes(press_id).column("load_id").cast(pa.int64()).to_pylist())
    of_strokes = loads[loads["table"] == "strokes"]
    counted = dict(zip(of_strokes["load_id"].tolist(), of_strokes["new"].tolist(), strict=True))
    told = f"loads say {counted}, {dict(stored)} rows are stored"
    lost = [f"lost: {told}"] if any(stored[load] < rows for load, rows in counted.items()) else []
    more = [f"doubled: {told}"] if any(rows > counted.get(load, 0) for load, rows in stored.items()) else []
    return lost + more


def _told(ledger: Ledger) -> dict[str, list[dict[str, object]]]:
    """Figures and rows, without what depends on the moment of the load."""
    tables = {name: figure(ledger, name) for name in ("shifts", "hours", "stops", "coils")}
    tables["rows"] = pd.concat(
        [ledger.snapshot().strokes(press).drop_columns(["load_id"]).to_pandas() for press in ("P1", "P2", "P3", "P4")]
    )
    tables["set aside"] = ledger.snapshot().set_aside_rows()[["file", "line", "reason"]]
    return {name: table.astype("str").to_dict("records") for name, table in tables.items()}  # type: ignore[misc]


def run(count: int, seed: int, kinds: Sequence[str] = KINDS, say: Callable[[str], None] = lambda line: None) -> Outcome:
    """Kill so many times, each kind of work in turn; says now and then how far it is."""
    outcome, chance = Outcome(), random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        harness = Harness(Path(folder), kinds)
        for number in range(count):
            harness.kill(kinds[number % len(kinds)], chance, outcome)
            if (number + 1) % _SAY_EVERY == 0:
                say(f"{number + 1:,} of {count:,}: {len(outcome.wrong)} found wrong")
    return outcome


def main() -> None:
    """Kill as often as asked and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 1_000_000)
    asked = parser.parse_args()
    outcome = run(asked.count, asked.seed, say=lambda line: print(line, flush=True))
    print(f"seed {asked.seed}: killed at work {dict(outcome.killed)}, ended before {dict(outcome.ended)}")
    found = Counter(next((fault for fault in FAULTS if f": {fault}:" in text), FAULTS[-1]) for text in outcome.wrong)
    hit, early = sum(outcome.killed.values()), sum(outcome.ended.values())
    print(f"{hit + early} kills, {hit} hit at work; " + ", ".join(f"{found[fault]} {fault}" for fault in FAULTS))
    for text in outcome.wrong:
        print(f"  {text}")
    sys.exit(bool(outcome.wrong))


if __name__ == "__main__":
    main()
