"""Kills whatever works on a ledger at random moments, and checks what is left each time.

Loads, refolds, upkeep, compaction, upgrades, backups, restores, entries, holds, releases, reports sent.

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
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

import pandas as pd
import pyarrow as pa

from monitor.check import check
from monitor.figures import figure
from monitor.keep.backup import backup
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.errors import LedgerError
from tests.faults import apart, by_hand, sending
from tests.faults.plant import PRESSES, write_plant
from tests.faults.work import COPIES, SOURCE, do, make_old, work

KINDS = ("load", "refold", "upkeep", "compaction", "upgrade", "backup", "restore", *by_hand.KINDS, "report")
FAULTS = ("lost", "doubled", "unreadable", "otherwise wrong")
_SAY_EVERY = 20

Told = dict[str, list[dict[str, object]]]


@dataclass
class Outcome:
    """How many programs were killed at work, how many had ended before, and what was found wrong."""

    killed: Counter[str] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def _shows_facts(ledger: Ledger) -> bool:
    """Tell whether figures can be asked for."""
    try:
        return len(figure(ledger, "shifts")) > 0
    except LedgerError:
        return False


class Harness:
    """A ledger before the work, what it holds after it undisturbed, and the time it takes."""

    def __init__(self, folder: Path, kinds: Sequence[str]) -> None:
        self.folder = folder
        self.base = folder / "base"
        self.drops = {"load": folder / "drop", "refold": folder / "book"}
        write_plant(folder)
        with Ledger.open(self.base, create=True) as ledger:
            load([folder / "first"], ledger)
            for part in sorted((folder / "early").iterdir()):
                load([part], ledger)
        self.expected: dict[str, Told] = {}
        self.length_s: dict[str, float] = {}
        for kind in kinds:
            self._undisturbed(kind)

    def _undisturbed(self, kind: str) -> None:
        root, folder = self.fresh(kind)
        worker, here = self._begin(kind, root, folder)
        began = time.monotonic()
        while here.recv() != "done":
            pass
        self.length_s[kind] = time.monotonic() - began
        worker.join()
        self.expected[kind] = _result(kind, root, folder)
        shutil.rmtree(folder)

    def fresh(self, kind: str) -> tuple[Path, Path]:
        """A new copy of the ledger, of the format before where it is to be upgraded, and an empty folder beside it."""
        folder = Path(tempfile.mkdtemp(dir=self.folder, prefix="run-"))
        shutil.copytree(self.base, folder / "ledger")
        if kind == "upgrade":
            make_old(folder / "ledger")
        elif kind == "restore":
            with Ledger.open(folder / "ledger") as ledger:
                backup(ledger, folder / SOURCE)
        return folder / "ledger", folder

    def _begin(self, kind: str, root: Path, folder: Path) -> tuple[BaseProcess, Connection]:
        here, there = Pipe(duplex=False)
        worker = apart.start(work, kind, root, self.drops.get(kind, folder), there)
        there.close()
        assert here.recv() == "begun"
        return worker, here

    def kill(self, kind: str, chance: random.Random, outcome: Outcome) -> None:
        """Kill the work at a random moment, check what is left, finish the work and compare."""
        root, folder = self.fresh(kind)
        worker, here = self._begin(kind, root, folder)
        time.sleep(chance.uniform(0, 0.9 * self.length_s[kind]))
        worker.kill()
        worker.join()
        said = _said(here)
        (outcome.ended if "done" in said else outcome.killed)[kind] += 1
        try:
            outcome.wrong += [f"{kind}: {text}" for text in self._left(kind, root, folder, said)]
        except Exception as error:
            outcome.wrong.append(f"{kind}: unreadable: {type(error).__name__}: {error}")
        worker.close()
        shutil.rmtree(folder)

    def _left(self, kind: str, root: Path, folder: Path, said: list[str]) -> Iterator[str]:
        """Say what is wrong after a kill, and once the rest of the work has been done."""
        with Ledger.open(root) as ledger:
            if ledger.snapshot().is_reckoned:
                yield from (f"after the kill: {finding.what}" for finding in check(ledger))
            elif _shows_facts(ledger):
                yield "facts that other rules reckoned are shown"
            yield from _whole_files(ledger)
            yield from _own_faults(kind, ledger, folder, [step for step in said if step != "done"])
            if kind == "backup":  # Nobody takes a backup for whole that they saw killed.
                shutil.rmtree(folder / COPIES[kind], ignore_errors=True)
            do(kind, ledger, self.drops.get(kind, folder))
            yield from (f"after the work was done again: {finding.what}" for finding in check(ledger))
            if ledger.keeper.inspector.idle_files():
                yield "files are left that no part lies in"
            yield from _own_faults(kind, ledger, folder, by_hand.steps(kind), done=True)
        result = _result(kind, root, folder)
        yield from (
            f"{name} differs from an undisturbed run" for name in result if result[name] != self.expected[kind][name]
        )


def _own_faults(kind: str, ledger: Ledger, folder: Path, said: list[str], done: bool = False) -> list[str]:
    """What is wrong with what this kind of work makes beside figures and rows; `done` once all of it was done."""
    if kind in by_hand.KINDS:
        return by_hand.faults(kind, ledger, said)
    if kind == "report":
        return sending.faults(ledger.root, folder / "out", done)
    left = [f"{path.name} was left" for path in folder.glob("*.unfinished") if done]
    copy = folder / COPIES.get(kind, "none")
    if not copy.exists():
        return left
    with Ledger.open(copy) as opened:
        return left + [f"in the copy: {finding.what}" for finding in check(opened)]


def _said(here: Connection) -> list[str]:
    """What a program, ended by now, had said since it began."""
    found: list[str] = []
    with here:
        try:
            while here.poll(0):
                found.append(here.recv())
        except EOFError:
            pass
    return found


def _result(kind: str, root: Path, folder: Path) -> Told:
    """What the work has led to: figures and rows, of the copy where it makes one, and the files it wrote."""
    copies = kind in COPIES
    with Ledger.open(folder / COPIES[kind] if copies else root) as ledger:
        told = _told(ledger)
    return told | ({"files": [dict(sending.digests(folder / "out"))]} if kind == "report" else {})


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


def _told(ledger: Ledger) -> Told:
    """Figures and rows, without what depends on the moment of the load."""
    tables = {name: figure(ledger, name) for name in ("shifts", "hours", "stops", "coils")}
    tables["rows"] = pd.concat(
        [ledger.snapshot().strokes(press).drop_columns(["load_id"]).to_pandas() for press in PRESSES]
    )
    tables["set aside"] = ledger.snapshot().set_aside_rows()[["file", "line", "reason"]]
    tables |= by_hand.rows(ledger)
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
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=KINDS)
    asked = parser.parse_args()
    outcome = run(asked.count, asked.seed, asked.kinds, say=lambda line: print(line, flush=True))
    print(f"seed {asked.seed}: killed at work {dict(outcome.killed)}, ended before {dict(outcome.ended)}")
    found = Counter(next((fault for fault in FAULTS if f": {fault}:" in text), FAULTS[-1]) for text in outcome.wrong)
    hit, early = sum(outcome.killed.values()), sum(outcome.ended.values())
    print(f"{hit + early} kills, {hit} hit at work; " + ", ".join(f"{found[fault]} {fault}" for fault in FAULTS))
    for text in outcome.wrong:
        print(f"  {text}")
    sys.exit(bool(outcome.wrong))


if __name__ == "__main__":
    main()
