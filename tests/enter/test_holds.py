"""Holds: what they bear on, who placed and lifted them, and tags that no text can turn into something else."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest
from typer.testing import CliRunner

from monitor.cli.main import app
from monitor.enter.entry import enter
from monitor.enter.holds import held_pieces_of, lift, place, tags_of
from monitor.enter.tags import Tag, tags_pdf
from monitor.figures import figure
from monitor.figures.genealogy.holds import held_pieces, history, holds
from monitor.figures.genealogy.holds_in_force import BOXED, NEXT, SHIPPED, hold_places
from monitor.ledger import Ledger
from shared.errors import RequestError
from shared.units import INCH
from shared.words import words
from tests.invented.tiny import Tiny, at


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Tiny]:
    """Two heats on one press: B1 was washed into W and sent, B2 holds both, one coil is in the rack."""
    one = Tiny(tmp_path)
    for coil, lot, heat in (("C1", "L1", "H1"), ("C2", "L2", "H2"), ("RACK", "L1", "H1")):
        one.coil(coil, lot, heat)
    one.set_die(at("06:00"))
    one.change(at("06:00"), "mount", "C1")
    one.change(at("06:10"), "splice", "C2")
    one.change(at("06:10:20"), "remove", "C1", weight_kg=0)
    one.run(at("06:00"), at("06:20"))
    one.box("B1", at("06:00"), at("06:05"), 300)
    one.box("B2", at("06:05"), at("06:15"), 600)
    one.box("B3", at("06:15"), at("06:20"), 300)
    one.box("W", at("07:00"), at("07:00"), 300)
    one.add("repacks", time=at("07:00"), from_container="B1", to_container="W", quantity=300)
    one.add("shipments", shipment_id="S", container_id="W", shipped_at=at("09:00"), customer="K")
    one.load()
    yield one
    one.ledger.close()


NEVER = (None, None)


def states(plant: Tiny, scope: str, value: str, span: tuple[int | None, int | None] = NEVER) -> dict[str, str]:
    boxes = held_pieces(plant.ledger, scope, value, span).boxes
    return dict(zip(boxes["container_id"], boxes["state"], strict=True))


def test_a_heat_is_found_in_boxes_shipments_and_the_rack(plant: Tiny) -> None:
    found = held_pieces(plant.ledger, "heat", "H1", NEVER)
    boxes = found.boxes.set_index("container_id")
    assert boxes["state"].to_dict() == {"B1": "emptied", "B2": "on the floor", "W": "sent"}
    assert boxes["here"].to_dict() == {"B1": 0, "B2": 300, "W": 300}
    assert boxes.loc["W", ["shipment_id", "customer"]].tolist() == ["S", "K"]
    assert dict(zip(found.coils["coil_id"], found.coils["state"], strict=True)) == {"C1": "used up", "RACK": "in store"}


def test_the_other_scopes(plant: Tiny) -> None:
    assert states(plant, "coil", "C2") == {"B2": "on the floor", "B3": "on the floor"}
    assert states(plant, "container", "B1") == {"B1": "emptied", "W": "sent"}
    assert states(plant, "die", "D") == {"B1": "emptied", "B2": "on the floor", "B3": "on the floor", "W": "sent"}
    assert states(plant, "die", "none") == {}
    last_us = plant.ledger.snapshot().strokes("P").column("time")[-1].value
    assert states(plant, "range", "P", (last_us - 60_000_000, None)) == {"B3": "on the floor"}
    assert held_pieces(plant.ledger, "coil", "C2", NEVER).coils[["state", "press_id"]].to_numpy().tolist() == [
        ["on press", "P"]
    ]


def test_a_hold_is_placed_and_lifted_by_somebody_and_all_of_it_is_kept(plant: Tiny) -> None:
    name = place(plant.ledger, "lot", "L1", "cracks", by="Quality")
    placed = plant.ledger.version
    assert holds(plant.ledger.snapshot())["hold_id"].tolist() == [name]
    assert place(plant.ledger, "coil", "C2", "width") != name
    lift(plant.ledger, name, "sorted, nothing found", by="Shift leader")
    assert name not in holds(plant.ledger.snapshot())["hold_id"].tolist()
    kept = holds(plant.ledger.snapshot(), everything=True).set_index("hold_id")
    assert kept.loc[name, ["reason", "outcome"]].tolist() == ["cracks", "sorted, nothing found"]
    assert holds(plant.ledger.snapshot(placed))["hold_id"].tolist() == [name]
    loads = figure(plant.ledger, "loads")
    assert loads.loc[loads["table"] == "holds", "file"].tolist()[::2] == [
        "entered by Quality",
        "entered by Shift leader",
    ]
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()
    with pytest.raises(RequestError, match="lifted already"):
        lift(plant.ledger, name, "again")


def test_holds_placed_at_once_have_numbers_of_their_own(plant: Tiny) -> None:
    people = [f"person {number}" for number in range(6)]
    ready = Barrier(len(people))

    def hold(by: str) -> str:
        with Ledger.open(plant.ledger.root) as own:
            ready.wait()
            return place(own, "lot", "L1", f"seen by {by}", by=by)

    with ThreadPoolExecutor(len(people)) as pool:
        names = list(pool.map(hold, people))
    assert sorted(names) == [f"H-{number:04d}" for number in range(1, 7)]
    stands = history(plant.ledger.snapshot()).set_index("hold_id")
    assert stands.loc[names, "placed_by"].tolist() == people
    assert stands.loc[names, "reason"].tolist() == [f"seen by {by}" for by in people]


def test_a_hold_is_lifted_once_by_whoever_comes_first(plant: Tiny) -> None:
    name = place(plant.ledger, "lot", "L1", "cracks")
    ready = Barrier(2)

    def end(by: str) -> bool:
        with Ledger.open(plant.ledger.root) as own:
            ready.wait()
            try:
                lift(own, name, f"outcome of {by}", by=by)
            except RequestError:
                return False
            return True

    with ThreadPoolExecutor(2) as pool:
        done = dict(zip("AB", pool.map(end, "AB"), strict=True))
    assert sorted(done.values()) == [False, True]
    kept = history(plant.ledger.snapshot()).set_index("hold_id").loc[name]
    assert kept["outcome"] == f"outcome of {kept['lifted_by']}"
    assert done[kept["lifted_by"]]


def test_what_does_not_hold_is_not_entered(plant: Tiny) -> None:
    row = {"hold_id": "H", "placed_at": 5, "scope": "lot", "value": "L1", "reason": "why"}
    version = plant.ledger.version
    for table, wrong, told in (
        ("strokes", {}, "load the row as a file"),
        ("holds", {"scope": "all"}, "one of coil"),
        ("holds", {"value": ""}, "empty"),
        ("holds", {"colour": "red"}, "does not have"),
        ("holds", {"reason": "x" * 501}, "501 characters"),
        ("holds", {"lifted_at": 1}, "placed_at first"),
    ):
        with pytest.raises(RequestError, match=told):
            enter(plant.ledger, table, {**row, **wrong})
    assert plant.ledger.version == version


def test_tags_for_what_is_still_here(plant: Tiny) -> None:
    name = place(plant.ledger, "heat", "H1", '#image("x") *bold* $ <a>')
    tags = tags_of(plant.ledger, name)
    assert [tag.name for tag in tags] == ["B2", "RACK"]
    assert ("Pieces held", "300") in tags[0].lines
    german = tags_of(plant.ledger, name, words("de", INCH))
    assert ("Gesperrt", "Schmelze H1") in german[0].lines
    assert ("Rest", "11\u202f023\u202flb") in german[1].lines
    assert tags_pdf(german, words("de")) != tags_pdf(german)
    assert tags_pdf(tags).startswith(b"%PDF")
    assert len(tags_pdf([Tag("H", "]#panic()[", (("a", "#b"),))])) > 1000
    assert set(held_pieces_of(plant.ledger, name).coils["coil_id"]) == {"C1", "RACK"}


def test_the_commands(plant: Tiny, tmp_path: Path) -> None:
    run = CliRunner().invoke
    ledger = ["--ledger", str(plant.ledger.root)]
    placed = run(app, ["hold", "place", "heat", "H1", *ledger, "--reason", "cracks", "--by", "Quality"])
    assert placed.exit_code == 0, placed.output
    assert "hold H-0001 placed on heat H1" in placed.output
    assert "shipment S to K: 300 pieces" in placed.output
    assert "coil RACK in store" in placed.output
    assert "B2,N,on the floor,600" not in placed.output
    listed = run(app, ["hold", "list", "H-0001", *ledger, "--format", "csv"])
    assert "B2,N,on the floor,300,300" in listed.output
    assert "H-0001" in run(app, ["hold", "list", *ledger, "--format", "csv"]).output
    assert run(app, ["hold", "tags", "H-0001", *ledger, "--out", str(tmp_path / "tags.pdf")]).exit_code == 0
    assert (tmp_path / "tags.pdf").read_bytes().startswith(b"%PDF")
    assert run(app, ["hold", "release", "H-0001", *ledger, "--outcome", "sorted"]).exit_code == 0
    assert "H-0001" not in run(app, ["hold", "list", *ledger, "--format", "csv"]).output
    assert "H-0001" in run(app, ["hold", "list", *ledger, "--all", "--format", "csv"]).output


def test_a_hold_on_a_coil_of_which_no_piece_is_in_a_container_yet(tmp_path: Path) -> None:
    one = Tiny(tmp_path)
    one.coil("C")
    one.load()
    found = held_pieces(one.ledger, "coil", "C", NEVER)
    assert found.boxes.empty
    assert found.coils["state"].tolist() == ["in store"]
    one.ledger.close()


def test_who_placed_and_who_lifted_each_hold_is_told(plant: Tiny) -> None:
    first = place(plant.ledger, "lot", "L1", "cracks", by="Quality")
    second = place(
        plant.ledger, "die", "D", "chipped punch", (1_793_600_000_000_000, 1_793_601_000_000_000), by="Toolroom"
    )
    lift(plant.ledger, first, "sorted", by="Shift leader")
    plant.add("holds", hold_id="Q-9", placed_at=at("08:00"), scope="coil", value="C2", reason="width")
    plant.load()
    told = history(plant.ledger.snapshot()).set_index("hold_id")
    assert told.loc[first, ["placed_by", "lifted_by", "outcome"]].tolist() == ["Quality", "Shift leader", "sorted"]
    assert told.loc[second, ["placed_by", "lifted_by"]].tolist() == ["Toolroom", ""]
    assert told.loc["Q-9", "placed_by"] == "holds.csv"


def test_a_stretch_is_held_whole_though_its_coil_is_not_known(tmp_path: Path) -> None:
    one = Tiny(tmp_path)
    one.coil("C", weight_kg=2.4)
    one.set_die(at("06:00"))
    one.change(at("06:00"), "mount", "C")
    one.run(at("06:00"), at("06:20"))
    # The coil is over after 333 strokes.
    one.box("KNOWN", at("06:00"), at("06:05"), 300)
    one.box("UNKNOWN", at("06:10"), at("06:20"), 600)
    one.load()
    boxes = held_pieces(one.ledger, "die", "D", NEVER).boxes.set_index("container_id")
    assert boxes["pieces"].to_dict() == {"KNOWN": 300, "UNKNOWN": 600}
    assert boxes["coil_id"].to_dict() == {"KNOWN": "C", "UNKNOWN": ""}
    assert held_pieces(one.ledger, "coil", "C", NEVER).boxes["container_id"].tolist() == ["KNOWN"]
    one.ledger.close()


def test_a_name_with_semicolons_is_one_name(tmp_path: Path) -> None:
    """M got 300 of the 300 pieces of one coil and 300 of another that lay mixed in B: it may be either, or both."""
    one = Tiny(tmp_path)
    one.coil('C;1 "x"', "L;1", "H; 1")
    one.coil("C 2", "1", "1")  # What a list cut at its semicolons would take the names above for.
    one.set_die(at("06:00"))
    one.change(at("06:00"), "mount", 'C;1 "x"')
    one.change(at("06:05"), "splice", "C 2")
    one.run(at("06:00"), at("06:10"))
    one.box("B;2", at("06:00"), at("06:10"), 600)
    one.box("M;", at("07:00"), at("07:00"), 300)
    one.add("repacks", time=at("07:00"), from_container="B;2", to_container="M;", quantity=300)
    one.add("shipments", shipment_id="S;1", container_id="M;", shipped_at=at("09:00"), customer="K")
    one.load()
    for scope, value in (("coil", 'C;1 "x"'), ("lot", "L;1"), ("heat", "H; 1"), ("lot", "1"), ("heat", "1")):
        found = held_pieces(one.ledger, scope, value, NEVER).boxes.set_index("container_id")
        assert found["state"].to_dict() == {"B;2": "on the floor", "M;": "sent"}, value
        assert found.loc["M;", "pieces"] == 300
        assert found.loc["M;", "shipments"] == ("S;1",)
        assert found.loc["M;", "coil_id"] == 'C 2;C;1 "x"'
    for part in ("1", "C", "L", '1 "x"'):
        assert states(one, "coil", part) == {}
    place(one.ledger, "lot", "L;1", "cracks")
    assert [(place.kind, place.name) for place in hold_places(one.ledger.snapshot())] == [
        (SHIPPED, "S;1"), (BOXED, "B;2"), (NEXT, 'C;1 "x"'),
    ]  # fmt: skip
    one.ledger.close()
