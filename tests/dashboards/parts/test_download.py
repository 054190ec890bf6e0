import csv
import io
import re

import pandas as pd
import pytest
from flask import Flask

from dashboards.assembly import assemble
from dashboards.pages.board.model import load_board
from dashboards.pages.board.view import board_html
from dashboards.parts.download import download_links, hand_out, offer, rows_of
from dashboards.request.url import View


@pytest.fixture(scope="module")
def client(five_service):
    return assemble(five_service).server.test_client()


def test_csv_and_parquet_hold_the_rows_of_the_view(service, client):
    view = View(die="D102", shift="early")
    shown = rows_of(service.read(), "shifts", view)
    written = client.get(f"/take-away/shifts.csv{view.search}")
    rows = list(csv.DictReader(io.StringIO(written.data.decode("utf-8-sig"))))
    assert len(rows) == len(shown) > 0
    assert {row["shift"] for row in rows} == {"early"}
    assert sum(int(row["pieces"]) for row in rows) == shown["pieces"].sum()
    parquet = pd.read_parquet(io.BytesIO(client.get(f"/take-away/shifts.parquet{view.search}").data))
    pd.testing.assert_frame_equal(parquet, shown.reset_index(drop=True), check_dtype=False)


def test_the_board_gives_away_the_figures_of_its_shift_and_the_wall_nothing(service, client):
    view = View()
    board = load_board(service.read(), view)
    links = re.findall(r"/take-away/[a-z]+\.csv[^'\"]*", str(board_html(board, view)))
    assert [link.split("/")[2].split(".")[0] for link in links] == ["shifts", "hours", "stops", "coils", "scrap"]
    rows = list(csv.DictReader(io.StringIO(client.get(links[0]).data.decode("utf-8-sig"))))
    assert {(row["shift_date"], row["shift"]) for row in rows} == {("2026-11-02", "late")}
    assert "/take-away/" not in str(board_html(board, View(wall=True)))


def test_a_file_is_named_after_its_view_and_nothing_in_it_is_a_path(client):
    answer = client.get("/take-away/shifts.csv?die=../../etc&shift=a%22%0d%0ab")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="shifts-.._.._etc-a_b.csv"'


def test_text_that_a_spreadsheet_would_run_is_text(client, service, monkeypatch):
    reading = service.read()
    rows = reading.figure("shifts").head(1).assign(part_no="=1+1")
    monkeypatch.setattr(type(reading), "figure", lambda *_, **__: rows)
    assert b",'=1+1," in client.get("/take-away/shifts.csv").data


def test_a_page_offers_tables_of_its_own_before_the_figure_of_that_name(service):
    server = Flask("own")
    hand_out(server, service)
    offer(server, service, {"shifts": lambda _, view: pd.DataFrame({"press_id": [view.press]})})
    client = server.test_client()
    answer = client.get("/take-away/shifts.csv?press=P9&week=2026-W45")
    assert answer.data.decode("utf-8-sig") == "press_id\r\nP9\r\n"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="shifts-P9-2026-W45.csv"'
    assert client.get("/take-away/shifts.exe").status_code == 404
    assert client.get("/take-away/hours.csv").status_code == 200


@pytest.mark.parametrize("path", ["/take-away/nothing.csv", "/take-away/shifts.exe", "/take-away/shifts"])
def test_what_is_not_a_figure_is_not_found(client, path):
    page = client.get(path)
    assert page.status_code == 404 or b"<!DOCTYPE html>" in page.data


def test_links_carry_the_view():
    links = download_links("stops", View(die="D 1"), "die-stops").children
    assert [getattr(link, "href", "") for link in links] == [
        "/take-away/stops.csv?die=D+1",
        "/take-away/stops.parquet?die=D+1",
        "",
    ]
