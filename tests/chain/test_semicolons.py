"""Names that hold a `;` pass whole through the verdict, its evidence, trace, holds and the accounts of coils."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import pytest

from monitor.enter.holds import place
from monitor.export import as_csv
from monitor.figures import figure
from monitor.figures.genealogy.holds import held_pieces
from monitor.figures.judgement.bench import GIVEN
from monitor.figures.judgement.look import look, station_service
from monitor.ledger import Ledger
from monitor.report.evidence.sheet import EvidenceQuery, evidence, lines_csv, rows_csv
from monitor.verdict.names import named
from monitor.verdict.table import table_level
from shared.identifiers import listed
from shared.words import words
from tests.invented.tiny import Tiny, at

PRESS, OTHER, DIE, NEXT_DIE = "P;1", "P; 2", "D;1;", "D;1"
COILS = [f"C;{n}" for n in range(30)]
LOTS = {coil: f"L; {n // 2}" for n, coil in enumerate(COILS)}
BAD = "L; 5"


def minute(number: int) -> str:
    return at(f"{6 + number // 60:02}:{number % 60:02}")


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """Thirty coils of 15 lots on one press, 20 minutes each; one lot has far more burrs, one coil comes back."""
    plant = Tiny(tmp_path_factory.mktemp("semicolons"))
    for press in (PRESS, OTHER):
        plant.add("presses", press_id=press, rated_spm=200)
    for die, part in ((DIE, "N;1"), (NEXT_DIE, "N;2")):
        plant.die(die, 1)
        plant.add("parts", part_no=part, net_weight_g=10, customer="K;")
        plant.add("routes", part_no=part, step=1, die_id=die)
    plant.set_die(at("05:00"), DIE, press=PRESS)
    for n, coil in enumerate(COILS):
        begin, end = minute(20 * n), minute(20 * n + 20)
        plant.coil(coil, lot=LOTS[coil], heat=f"H;{LOTS[coil]}")
        plant.change(begin, "mount", coil, press=PRESS)
        plant.run(begin, end, press=PRESS)
        plant.box(f"B;{n}", begin, end, part_no="N;1", press_id=PRESS)
        for part in range(4):
            bad = 40 if LOTS[coil] == BAD else part % 2
            span = {"made_from": minute(20 * n + 5 * part), "made_to": minute(20 * n + 5 * part + 4)}
            plant.look(f"I;{n};{part}", end, "full", 240, bad, press_id=PRESS, **span)
        plant.change(end, "remove", coil, press=PRESS)
    plant.set_die(at("17:00"), NEXT_DIE, press=OTHER)
    plant.change(at("17:00"), "mount", COILS[0], press=OTHER)
    plant.run(at("17:00"), at("18:00"), press=OTHER)
    plant.change(at("18:00"), "remove", COILS[0], press=OTHER)
    plant.load()
    yield plant.ledger
    plant.ledger.close()


def cells(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def test_the_bad_lot_and_its_heat_are_named_whole(ledger: Ledger) -> None:
    table = figure(ledger, "suspects")
    (line,) = table[table["verdict"].isin(GIVEN)].to_dict("records")
    assert (line["die_id"], line["factor"], line["level"]) == (DIE, "lot", BAD)
    assert line["tied_with"] == f"heat: H;{BAD}"
    assert f"then {BAD} again" in line["next_test"]


def test_every_line_has_its_evidence_and_is_found_by_what_the_table_calls_it(ledger: Ledger) -> None:
    snapshot = ledger.snapshot()
    seen = look(snapshot)
    assert seen.lines
    for line in seen.lines:
        asked = EvidenceQuery(DIE, line.cause, line.explanation.factor, table_level(line.explanation))
        found = evidence(seen, station_service(snapshot, seen, DIE), asked, 0)
        assert found.line == line
        assert (found.bad["inspected"].sum(), found.bad["rejected"].sum()) == (line.inspected, line.rejected)
        assert {row["press_id"] for row in cells(rows_csv(found).decode())} == {PRESS}
        assert len(cells(lines_csv(found).decode())) == len(found.case.lines)
    bad = next(line for line in seen.lines if line.verdict in GIVEN)
    assert named(bad.explanation, words("de")) == f"Los {BAD}"


def test_a_lot_is_traced_to_its_containers_and_a_hold_bears_on_the_same(ledger: Ledger) -> None:
    trace = figure(ledger, "trace")
    wanted = {f"B;{n}" for n, coil in enumerate(COILS) if LOTS[coil] == BAD}
    assert set(trace.loc[trace["lot"] == BAD, "container_id"]) == wanted
    place(ledger, "lot", BAD, "cracks", by="Quality")
    for scope, value in (("lot", BAD), ("heat", f"H;{BAD}")):
        assert set(held_pieces(ledger, scope, value, (None, None)).boxes["container_id"]) == wanted


def test_presses_and_dies_of_a_coil_are_tuples_and_their_export_can_be_read_back(ledger: Ledger) -> None:
    table = figure(ledger, "coil_ledger").set_index("coil_id")
    assert (table.loc[COILS[0], "press_id"], table.loc[COILS[0], "die_id"]) == ((PRESS, OTHER), (DIE, NEXT_DIE))
    told = {row["coil_id"]: row for row in cells(as_csv(table.reset_index()))}
    presses, dies = {"P", PRESS, OTHER}, {"D", DIE, NEXT_DIE}
    for coil, row in table.iterrows():
        assert tuple(listed(told[str(coil)]["press_id"], presses)) == row["press_id"]
        assert tuple(listed(told[str(coil)]["die_id"], dies)) == row["die_id"]


def test_a_press_or_a_die_asked_for_is_that_one(ledger: Ledger) -> None:
    assert figure(ledger, "coils", press=OTHER)["coil_id"].tolist() == [COILS[0]]
    assert set(figure(ledger, "coils", die=DIE)["coil_id"]) == set(COILS)
    assert figure(ledger, "exposure", die=DIE)["press_id"].unique().tolist() == [PRESS]
    boxes = figure(ledger, "exposure", die=DIE)["containers"].iloc[0]
    assert boxes
    assert set(boxes) <= {f"B;{n}" for n in range(len(COILS))}
