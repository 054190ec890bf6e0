"""Where holds apply: strip on a press, strip that may be next, a container here, a shipment that went out."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from monitor.enter.entry import enter
from monitor.enter.holds import new_hold_places, place
from monitor.figures.genealogy.holds_in_force import BOXED, MOUNTED, NEXT, SHIPPED, hold_places, mounted, sentence
from monitor.watch import FolderWatch
from tests.invented.tiny import Tiny, at


@pytest.fixture
def plant(tmp_path):
    """Lot L1 is on press P and in the rack; a reel of it is fed on P2."""
    one = Tiny(tmp_path)
    one.die("D2", 1)
    one.add("presses", press_id="P2", rated_spm=200)
    one.add("routes", part_no="N", step=2, die_id="D2")
    for coil, lot in (("C1", "L1"), ("RACK", "L1"), ("OTHER", "L2")):
        one.coil(coil, lot)
    one.set_die(at("06:00"))
    one.set_die(at("07:00"), "D2", "P2")
    one.change(at("06:00"), "mount", "C1")
    one.run(at("06:00"), at("06:20"))
    one.add("reels", reel_id="R", press_id="P", started_at=at("06:00"), ended_at=at("06:10"))
    one.change(at("07:00"), "mount", "R", "P2")
    one.run(at("07:00"), at("07:05"), "P2")
    one.box("OPEN", at("06:10"), "")
    one.load()
    yield one
    one.ledger.close()


def seen(plant: Tiny) -> list[tuple[str, str, str]]:
    return [(place.kind, place.name, ", ".join(place.presses)) for place in hold_places(plant.ledger.snapshot())]


def test_nothing_bites_without_a_hold(plant: Tiny) -> None:
    assert seen(plant) == mounted(plant.ledger.snapshot()) == []
    assert new_hold_places(plant.ledger, 0) == []


def test_a_lot_bites_at_its_press_through_its_reel_at_the_rack_and_in_the_open_container(plant: Tiny) -> None:
    place(plant.ledger, "lot", "L1", "cracks")
    assert seen(plant) == [
        (MOUNTED, "C1", "P"), (MOUNTED, "R", "P2"), (BOXED, "OPEN", "P"), (NEXT, "RACK", "P"),
    ]  # fmt: skip
    assert [(place.name, place.presses) for place in mounted(plant.ledger.snapshot())] == [
        ("C1", ("P",)),
        ("R", ("P2",)),
    ]
    told = [sentence(place) for place in hold_places(plant.ledger.snapshot())]
    assert told[0] == "C1 lies on press P though lot L1 is held, H-0001: cracks"
    assert told[2] == "container OPEN filling with 600 pieces under hold, lot L1 is held, H-0001: cracks"
    assert told[3].startswith("RACK in store would fit press P; do not mount it")


def test_strip_of_another_size_is_not_taken_for_the_next(plant: Tiny) -> None:
    row = {"coil_id": "WIDE", "lot": "L1", "material": "steel", "width_mm": 60, "thickness_mm": 1, "weight_kg": 900}
    plant.add("coils", **row)
    plant.load()
    place(plant.ledger, "lot", "L1", "cracks")
    assert not any(name == "WIDE" for _, name, _ in seen(plant))


def test_a_shipment_is_told_apart_by_whether_the_hold_stood(plant: Tiny) -> None:
    plant.box("B1", at("06:12"), at("06:15"))
    plant.box("B2", at("06:15"), at("06:18"))
    plant.add("shipments", shipment_id="S1", container_id="B1", shipped_at=at("07:00"), customer="K")
    plant.load()
    hold = {"hold_id": "Q", "scope": "coil", "value": "C1", "reason": "width", "placed_at": 1_793_606_400_000_000}
    enter(plant.ledger, "holds", hold)  # Placed at 08:00.
    plant.add("shipments", shipment_id="S2", container_id="B2", shipped_at=at("09:00"), customer="K")
    plant.load()
    sent = [place for place in hold_places(plant.ledger.snapshot()) if place.kind == SHIPPED]
    assert [(place.name, place.after, place.pieces) for place in sent] == [
        ("S2", True, 180), ("S1", False, 180),
    ]  # fmt: skip
    assert sentence(sent[0]).startswith("shipment S2 to K went out although held with 180 pieces")


def test_a_load_says_what_newly_bites_and_a_container_again_when_it_is_closed(plant: Tiny) -> None:
    place(plant.ledger, "lot", "L1", "cracks")
    before = plant.ledger.version
    plant.box("OPEN", at("06:10"), at("06:30"), recorded_at=at("12:00"))
    plant.change(at("06:25"), "splice", "RACK")
    plant.run(at("06:25"), at("06:26"))
    plant.load()
    told = new_hold_places(plant.ledger, before)
    assert any(line.startswith("RACK lies on press P though lot L1 is held") for line in told)
    assert any(line.startswith("container OPEN closed with") for line in told)
    assert new_hold_places(plant.ledger, plant.ledger.version) == []
    # Into an empty ledger everything is new.
    assert len(new_hold_places(plant.ledger, 0)) == len(hold_places(plant.ledger.snapshot()))


def test_the_load_command_and_the_watch_say_it(plant: Tiny, tmp_path) -> None:
    place(plant.ledger, "lot", "L1", "cracks")
    folder = tmp_path / "new"
    folder.mkdir()
    row = "shipment_id,container_id,shipped_at,customer\nS,OPEN,2026-11-02T09:00:00+00:00,K\n"
    (folder / "shipments-1.csv").write_text(row, "utf-8")
    said: list[str] = []
    watch = FolderWatch(plant.ledger, folder, said.append)
    watch.step()
    watch.step()
    assert any(line.startswith("HELD: shipment S to K") for line in said), said
    (folder / "shipments-2.csv").write_text(row.replace("S,OPEN", "S9,OPEN"), "utf-8")
    done = CliRunner().invoke(app, ["load", str(folder / "shipments-2.csv"), "--ledger", str(plant.ledger.root)])
    assert done.exit_code == 0, done.output
    assert "HELD     shipment S9 to K" in done.output
