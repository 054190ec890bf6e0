"""Damages files in thousands of ways: each is taken with rows that add up, or refused with a reason, and nothing else.

`python -m tests.faults.fuzz --count 20000` looks at as many files as are asked for; a few dozen are part of the tests.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import tempfile
import time
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from monitor.intake import find_files, read, read_profile, read_toml, with_profiles
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.report import FileReport
from shared.errors import PlantError, RefusedFile
from shared.plant import Plant
from tests.faults.damage import DIALECTS, FILES, SOUND, Damaged

KNOWN = {
    "presses": frozenset({"P07", "P08"}),
    "parts": frozenset({"bracket", "clip"}),
    "coils": frozenset({"C-20931"}),
    "causes": frozenset({"BUR", "SLG"}),
}
PROFILES = [read_profile(path)[0] for path in DIALECTS.glob("profile-*.toml")]


def check_reading(folder: Path, file: Damaged) -> str:
    """Read a file; returns what became of it, raises AssertionError where its rows do not add up."""
    path = folder / file.name
    path.write_bytes(file.data)
    [source] = with_profiles(find_files([path]), PROFILES)
    rows = rejected = 0
    try:
        if source.table == "plant":
            return "taken" if Plant.from_toml(read_toml(source.path)) else "empty"
        for batch in read(source, zone="Europe/Berlin", known=KNOWN):
            assert batch.read == batch.rows.num_rows + len(batch.rejected)
            assert all(one.reason and one.line > 0 for one in batch.rejected)
            rows, rejected = rows + batch.rows.num_rows, rejected + len(batch.rejected)
    except (RefusedFile, PlantError) as refused:
        return "refused" if refused.seen and refused.expected else "refused without a reason"
    return "set aside" if rejected else "taken" if rows else "empty"


def check_load(ledger: Ledger, folder: Path, file: Damaged) -> FileReport:
    """Load a file; raises AssertionError where its rows do not add up."""
    (folder / file.name).write_bytes(file.data)
    [report] = load([folder / file.name], ledger).files
    assert report.read == report.new + report.repeated + report.corrected + report.set_aside
    assert not report.refused or report.read == 0
    assert not report.defect, report.defect
    stored = ledger.snapshot().loads().iloc[-1] if report.already_in is None else None
    assert stored is None or stored["rows"] == report.read + report.outside
    return report


def run(count: int, folder: Path, load_every: int) -> Counter[str]:
    """Look at `count` damaged files, and take every so many of them into a ledger."""
    fates: Counter[str] = Counter()
    files, plant = folder / "files", folder / "plant"
    for one in (files, plant):
        one.mkdir()
    for name in ("presses-1.csv", "parts-1.csv"):
        (plant / name).write_bytes(SOUND[name])
    for path in DIALECTS.glob("profile-*.toml"):
        shutil.copy(path, plant / path.name)
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load([plant], ledger)

        @settings(max_examples=count, deadline=None, database=None, suppress_health_check=list(HealthCheck))
        @given(FILES)
        def look(file: Damaged) -> None:
            fates[check_reading(files, file)] += 1
            if sum(fates.values()) % load_every == 0:
                check_load(ledger, files, file)
                fates["loaded"] += 1

        look()
    return fates


def main() -> None:
    """Look at as many files as asked for and print what became of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    count = parser.parse_args().count
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory() as held:
        fates = run(count, Path(held), load_every=20)
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = ", ".join(f"{number:,} {fate}" for fate, number in fates.most_common())
    print(f"{count:,} damaged files in {time.perf_counter() - begun:.0f} s: {told}; peak memory {peak_mib:.0f} MiB")


if __name__ == "__main__":
    main()
