"""What a load remarks on names that are looked up: judged once, when all its files are in."""

from __future__ import annotations

from pathlib import Path

from monitor.ledger import Ledger
from monitor.load.files import load
from tests.chain.test_sample_runs import SAMPLES
from tests.invented.tiny import Tiny, at


def notes_of(plant: Tiny) -> dict[str, list[str]]:
    """The remarks of a load, by file."""
    return {report.file.split("/")[-1]: report.notes for report in plant.load().files if report.notes}


def test_sound_load_of_the_sample_has_no_remark(tmp_path: Path) -> None:
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([SAMPLES / "fortnight"], ledger)
    # parts come before materials; what is measured is named by part and characteristic together.
    assert [note for file in report.files for note in file.notes] == []


def test_material_that_no_file_holds_is_remarked_on_and_one_that_comes_later_is_not(tmp_path: Path) -> None:
    plant = Tiny(tmp_path)
    plant.add("parts", part_no="M", net_weight_g=5, material="steel")
    plant.add("parts", part_no="O", net_weight_g=5, material="brass")
    assert notes_of(plant) == {"parts.csv": ["material 'brass' is not in materials"]}


def test_characteristic_is_one_of_its_part(tmp_path: Path) -> None:
    plant = Tiny(tmp_path)
    plant.add("parts", part_no="M", net_weight_g=5)
    plant.add("characteristics", part_no="N", characteristic="width", nominal=5)
    for part, name in (("N", "width"), ("N", "height"), ("M", "width")):
        plant.add("measurements", part_no=part, characteristic=name, time=at("06:10"), press_id="P", piece=1, value=5)
    assert notes_of(plant) == {
        "measurements.csv": [
            "characteristic 'height' is not in characteristics",
            "characteristic 'width' is not in characteristics",
        ]
    }


def test_name_defined_in_the_same_file_or_held_already_is_known(tmp_path: Path) -> None:
    plant = Tiny(tmp_path)
    times = {"press_id": "P", "started_at": at("06:00"), "ended_at": at("07:00")}
    for name, other in (("R-8", None), ("R-9", "R-8"), ("R-10", "R-7")):
        plant.add("reels", reel_id=name, from_reel=other, **times)
    assert notes_of(plant) == {"reels.csv": ["from_reel 'R-7' is not in reels"]}
    plant.add("reels", reel_id="R-11", from_reel="R-10", **times)
    assert notes_of(plant) == {}


def test_a_recheck_in_the_same_file_as_the_first_look_is_known(tmp_path: Path) -> None:
    plant = Tiny(tmp_path)
    plant.look("G", at("09:00"), "full", 4, 1, rechecks="F", scope="rejected")
    plant.look("F", at("08:00"), "full", 50, 5)
    plant.look("H", at("09:30"), "full", 4, 1, rechecks="nobody")
    assert notes_of(plant) == {"inspections.csv": ["rechecks 'nobody' is not in inspections"]}
