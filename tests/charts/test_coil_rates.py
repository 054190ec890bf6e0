from itertools import pairwise

import numpy as np
import pandas as pd

from monitor.charts.coil_rates import MOST_NAMES, coil_rates_chart, lot_blocks
from shared.words import words

NO_MARKS = pd.DataFrame({"place": [], "kind": [], "told": []})
NO_ALARMS = pd.DataFrame({"place": [], "told": []})
NO_CHANGES = pd.DataFrame({"place": [], "place_low": [], "place_high": [], "told": []})


def coils(lots, rates, wear=np.nan):
    n = len(lots)
    return pd.DataFrame(
        {
            "coil_id": [f"C{number}" for number in range(n)],
            "lot": lots,
            "press_id": "P1",
            "inspected": 1000,
            "rejected": [1000 * rate for rate in rates],
            "rate": rates,
            "rate_low": [rate / 2 for rate in rates],
            "rate_high": [rate * 2 for rate in rates],
            "wear_rate": wear,
            "usual": 0.01,
            "limit_low": 0.0,
            "limit_high": 0.03,
            "outside": [rate > 0.03 for rate in rates],
        }
    )


def drawn(rows, marks=NO_MARKS, alarms=NO_ALARMS, changes=NO_CHANGES, **other):
    return coil_rates_chart(rows, marks, alarms, changes, **other)


def trace(figure, name):
    return next(one for one in figure.data if one.name == name)


def test_every_coil_stands_in_the_order_run_with_its_interval():
    figure = drawn(coils(["A", "A", "B"], [0.01, 0.05, 0.02]))
    usual = trace(figure, "coil with its 95 % interval")
    assert list(usual.x) == [0, 2]
    assert list(usual.error_y.array) == [0.01, 0.02]
    beyond = trace(figure, "coil beyond the limits")
    assert list(beyond.y) == [0.05]
    assert "C1, lot A, press P1: 5.00" in beyond.customdata[0]
    assert list(figure.layout.xaxis.ticktext) == ["C0", "C1", "C2"]


def test_lots_differ_by_shape_pattern_and_name():
    figure = drawn(coils(["A", "A", "B", "A"], [0.01] * 4))
    blocks = figure.data[-1]
    assert list(blocks.text) == ["A", "B", "A"]
    assert list(blocks.width) == [2, 1, 1]
    shapes = list(blocks.marker.pattern.shape)
    assert all(one != other for one, other in pairwise(shapes))
    symbols = trace(figure, "coil with its 95 % interval").marker.symbol
    assert symbols[0] == symbols[1] != symbols[2]


def test_a_lot_that_comes_back_is_a_block_of_its_own():
    table = lot_blocks(coils(["A", "B", "A"], [0.01] * 3))
    assert table[["lot", "first", "last"]].to_numpy().tolist() == [["A", 0, 0], ["B", 1, 1], ["A", 2, 2]]


def test_wear_alone_is_a_line_with_gaps_and_none_where_no_edge_has_a_history():
    figure = drawn(coils(["A"] * 3, [0.01] * 3, wear=[np.nan, 0.02, 0.03]))
    line = trace(figure, "what wear alone would give")
    assert list(line.x) == [-0.5, 0.5, 0.5, 1.5, 1.5, 2.5]
    assert np.isnan(line.y[:2]).all()
    assert list(line.y[2:]) == [0.02, 0.02, 0.03, 0.03]
    assert "what wear alone would give" not in [one.name for one in drawn(coils(["A"], [0.01])).data]


def test_sharpenings_settings_alarms_and_changes_are_marked_by_a_shape_each():
    marks = pd.DataFrame({"place": [0.5, 1.5], "kind": ["sharpened", "set"], "told": ["sharpened <b>", "set on P1"]})
    alarms = pd.DataFrame({"place": [1.8], "told": ["watch"]})
    changes = pd.DataFrame({"place": [1.5], "place_low": [1.2], "place_high": [1.9], "told": ["0.1 to 0.5 %"]})
    figure = drawn(coils(["A"] * 3, [0.01] * 3), marks, alarms, changes)
    names = ("sharpened", "die set", "the watch calls", "level changed, with its interval")
    symbols = [trace(figure, name).marker.symbol for name in names]
    assert len(set(symbols)) == 4
    assert trace(figure, "sharpened").customdata[0] == "sharpened &lt;b&gt;"
    rect, line = figure.layout.shapes
    assert (rect.x0, rect.x1, line.x0, line.x1) == (1.2, 1.9, 1.5, 1.5)


def test_four_hundred_lots_name_few_coils_and_hide_names_that_do_not_fit():
    rows = coils([f"L{number // 4}" for number in range(1600)], [0.01] * 1600)
    figure = drawn(rows)
    assert len(figure.layout.xaxis.tickvals) <= MOST_NAMES
    assert figure.layout.uniformtext.mode == "hide"
    assert len(figure.data[-1].text) == 400
    few, many = (drawn(coils(["A"] * n, [0.01] * n)).data for n in (3, 400))
    mark = {len(one.x): one for one in (*few, *many) if one.name == "coil with its 95 % interval"}
    assert mark[400].marker.size < mark[3].marker.size
    assert mark[400].error_y.color != mark[3].error_y.color


def test_text_from_files_is_no_markup_and_nothing_looked_at_is_said():
    figure = drawn(coils(["<b>lot</b>"], [0.01]))
    assert list(figure.data[-1].text) == ["&lt;b&gt;lot&lt;/b&gt;"]
    empty = drawn(coils([], []))
    assert "Nobody has looked" in empty.layout.annotations[0].text


def test_a_rate_of_nought_everywhere_has_a_scale_and_words_follow_the_language():
    figure = drawn(coils(["A"], [0.0]), words=words("de"))
    assert figure.layout.yaxis.range[1] > 0
    marks = next(one for one in figure.data if one.type == "scatter" and one.mode == "markers")
    assert "0,00\u202f%" in marks.customdata[0]
