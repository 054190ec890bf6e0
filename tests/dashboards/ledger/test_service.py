import datetime as dt

import pytest

from dashboards.app import build_app
from dashboards.ledger.service import LedgerService
from dashboards.pages.board.model import load_board
from dashboards.request.url import View
from monitor.ledger import Ledger
from monitor.load.files import load
from shared.errors import LedgerError

PLANT = 'name = "Invented"\ntimezone = "Europe/Berlin"\n[[shift]]\nname = "early"\nstart = "06:00"\nend = "14:00"\n'
BOOK = {
    "presses": "press_id,name,rated_spm\nP1,Bracket line,60\n",
    "dies": "die_id,name,pitch_mm,parts_per_stroke,rated_spm\nD1,Angle,30,2,50\n",
    "stations": "die_id,station,operation\nD1,1,pierce\nD1,2,cutoff\n",
    "parts": "part_no,name,net_weight_g\nA,Angle 40,11\n",
    "routes": "part_no,step,die_id\nA,1,D1\n",
    "materials": "material,density_kg_m3\nDC01,7850\n",
    "coils": "coil_id,lot,material,width_mm,thickness_mm,weight_kg\nC1,L1,DC01,60,1.5,400\n",
    "die_changes": "time,press_id,event,die_id\n2026-11-02T06:00:00,P1,set,D1\n2026-11-02T06:00:30,P1,first_off,D1\n",
    "coil_changes": "time,press_id,event,coil_id\n2026-11-02T06:00:00,P1,mount,C1\n",
}


def strokes(first_minute, last_minute, counter):
    times = [
        f"2026-11-02T{6 + m // 60:02d}:{m % 60:02d}:00,P1,{counter(m)}" for m in range(first_minute, last_minute + 1)
    ]
    return "\n".join(["time,press_id,counter", *times]) + "\n"


@pytest.fixture
def folder(tmp_path):
    """A plant with one press that strokes 50 times a minute from six to seven and then stands."""
    folder = tmp_path / "files"
    folder.mkdir()
    (folder / "plant.toml").write_text(PLANT)
    for name, text in BOOK.items():
        (folder / f"{name}.csv").write_text(text)
    (folder / "strokes-1.csv").write_text(strokes(0, 80, lambda m: 50 * min(m, 60)))
    return folder


@pytest.fixture
def ledger_path(folder, tmp_path):
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([folder], ledger)
    assert [file.refused for file in report.files if file.refused] == []
    return tmp_path / "ledger"


def test_the_board_shows_what_was_loaded(ledger_path):
    board = load_board(LedgerService(ledger_path).read(), View())
    row = board.rows[0]
    assert board.title == "early shift, Mon 2 Nov 2026"
    assert board.newest.at == "2026-11-02T07:20:00+01:00"
    assert (row.press_id, row.die_id, row.part_no) == ("P1", "D1", "A")
    assert (row.state.look, row.state.words, row.state.detail) == ("stand", "Standing 20\u202fmin", "no reason yet")
    assert [(hour.label, hour.pieces) for hour in row.hours][:3] == [("06", 5998), ("07", 0), ("08", None)]
    # 400 kg are 566 m; 90 m are used, and 476 m last 317 min at 50 strokes of 30 mm a minute.
    assert [span.word for span in row.strip] == ["C1 · lot L1", "to 12:37"]
    plan = next(number for number in row.numbers if number.label == "Pieces")
    assert plan.below[0] == "75\u202f% of 8\u202f000 planned"


def test_names_rates_and_calendar_come_from_the_plant_book(ledger_path):
    reading = LedgerService(ledger_path).read()
    assert reading.names("dies") == {"D1": "Angle"}
    assert reading.names("reasons") == {}
    assert reading.rated_per_hour("P1", "D1", dt.date(2026, 11, 2)) == 60 * 50 * 2
    assert reading.rated_per_hour("P1", "D9", dt.date(2026, 11, 2)) is None
    assert reading.calendar().plant.name == "Invented"


def test_everybody_shares_a_reading_until_the_ledger_changes(folder, ledger_path):
    service = LedgerService(ledger_path)
    first = service.read()
    assert service.read() is first
    (folder / "strokes-2.csv").write_text(strokes(81, 90, lambda m: 3000 + 50 * (m - 80)))
    with Ledger.open(ledger_path) as ledger:
        load([folder / "strokes-2.csv"], ledger)
    second = service.read()
    assert second.version == first.version + 1
    assert second.figure("shifts")["strokes"].sum() - first.figure("shifts")["strokes"].sum() == 500


def test_a_page_that_changes_its_frame_changes_nobody_elses(ledger_path):
    reading = LedgerService(ledger_path).read()
    for ask in (lambda: reading.figure("shifts"), reading.press_states):
        mine = ask()
        mine["press_id"] = "spoilt"
        assert ask()["press_id"].tolist() == ["P1"]
    reading.names("dies").clear()
    assert reading.names("dies")


def test_a_ledger_without_anything_opens_and_says_what_to_load(tmp_path):
    Ledger.open(tmp_path / "ledger", create=True).close()
    assert "strokeledger load" in load_board(LedgerService(tmp_path / "ledger").read(), View()).lack
    client = build_app(tmp_path / "ledger").server.test_client()
    assert client.get("/health").status_code == 200


def test_no_ledger_is_told(tmp_path):
    with pytest.raises(LedgerError):
        build_app(tmp_path / "nowhere")
