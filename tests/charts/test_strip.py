from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from monitor.charts.strip import CELL, strip_svg
from shared.words import words

SVG = "{http://www.w3.org/2000/svg}"


def stations(*operations, **columns):
    n = len(operations)
    usual = {"look": [0] * n, "since": [np.nan] * n, "due_share": [np.nan] * n, "below": [""] * n}
    return pd.DataFrame(
        {"station": range(1, n + 1), "operation": [tuple(one.split(";")) for one in operations], **usual, **columns}
    )


def texts(svg):
    return [node.text for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def holes(svg):
    return [float(node.get("cx")) for node in ElementTree.fromstring(svg).iter(f"{SVG}circle") if node.get("r") == "7"]


def test_every_station_is_named_in_order_and_the_drawing_as_wide_as_the_die():
    svg = strip_svg(stations("pierce", "idle", "bend", "cutoff"))
    assert texts(svg) == ["1", "pierce", "2", "idle", "3", "bend", "4", "cutoff"]
    assert float(ElementTree.fromstring(svg).get("width")) == 4 * CELL + 28


def test_the_piece_keeps_what_earlier_stations_did():
    # Two holes from the station that pierces on, in each stretch of strip after it.
    assert len(holes(strip_svg(stations("pierce", "idle", "bend")))) == 6
    assert len(holes(strip_svg(stations("idle", "pierce", "bend")))) == 4
    assert holes(strip_svg(stations("idle", "bend"))) == []


def test_suspects_carry_their_place_in_the_order_of_opening():
    svg = strip_svg(stations("bend", "idle", "bend", look=[2, 0, 1]))
    assert [text for text in texts(svg) if text.startswith("no. ")] == ["no. 2", "no. 1"]


def test_an_edge_shows_how_much_of_its_interval_is_used():
    svg = strip_svg(stations("pierce", "notch", due_share=[0.5, np.nan], below=["100 strokes\ndue today", ""]))
    widths = [
        float(node.get("width"))
        for node in ElementTree.fromstring(svg).iter(f"{SVG}rect")
        if node.get("height") == "8.0"
    ]
    assert widths == [CELL - 24, (CELL - 24) / 2]
    assert texts(svg)[2:4] == ["100 strokes", "due today"]


@pytest.mark.parametrize("dark", [False, True])
def test_hostile_and_long_texts_stay_text(dark):
    svg = strip_svg(stations('<script>"&', "pierce;" + "x" * 90), dark)
    assert "<script>" not in svg
    assert all(len(text) <= 19 for text in texts(svg))


def test_a_die_without_stations_is_a_sound_drawing_and_words_follow_the_language():
    assert texts(strip_svg(stations())) == []
    assert "1" in texts(strip_svg(stations("pierce"), words=words("de")))
