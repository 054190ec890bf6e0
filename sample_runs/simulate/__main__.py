"""`python -m sample_runs.simulate` writes all sample runs again, byte for byte."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from sample_runs.simulate import dirty
from sample_runs.simulate.fortnight import files as fortnight_files


def main(target: Path) -> None:
    """Write every sample run below `target`."""
    for name in ("fortnight", "fortnight_truth", "dirty"):
        shutil.rmtree(target / name, ignore_errors=True)
    fortnight_files.write(target / "fortnight", target / "fortnight_truth")
    dirty.write(target / "dirty")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1])
