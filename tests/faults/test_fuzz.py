from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.damage import SOUND, Damaged
from tests.faults.fuzz import check_reading, run


@pytest.mark.parametrize("name", sorted(SOUND))
def test_the_files_are_sound_before_they_are_damaged(tmp_path: Path, name: str) -> None:
    fate = check_reading(tmp_path, Damaged(name, SOUND[name]))
    assert fate in ("taken", "set aside")


def test_damaged_files_are_taken_with_rows_that_add_up_or_refused(tmp_path: Path) -> None:
    fates = run(120, tmp_path, load_every=10)
    assert fates["refused"] > 0
    assert fates["set aside"] + fates["taken"] > 0
    assert fates["loaded"] > 0
    assert fates["refused without a reason"] == 0
