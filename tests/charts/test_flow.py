import pandas as pd

from monitor.charts.flow import flow_chart
from monitor.charts.style import LIGHT

NAMES = ["source_kind", "source", "target_kind", "target", "pieces", "sure", "is_known"]


def flow(*rows):
    return flow_chart(pd.DataFrame([(*row, True)[:7] for row in rows], columns=NAMES))


def test_a_band_for_what_is_certain_and_one_for_the_rest():
    sankey = flow(("coil", "C1", "container", "B1", 100, 90), ("container", "B1", "place", "S", 100, 100)).data[0]
    assert list(sankey.node.label) == ["C1", "B1", "S"]
    bands = list(zip(sankey.link.source, sankey.link.target, sankey.link.value, strict=True))
    assert bands == [(0, 1, 90), (0, 1, 10), (1, 2, 100)]
    assert sankey.link.color[0] != sankey.link.color[1]
    assert sankey.link.customdata[1].startswith("may be")


def test_a_name_may_stand_at_two_stages():
    sankey = flow(("coil", "X", "reel", "X", 5, 5), ("reel", "X", "container", "X", 5, 5)).data[0]
    assert list(sankey.node.label) == ["X", "X", "X"]
    assert list(sankey.link.source) == [0, 1]


def test_strip_of_no_known_coil_stands_out():
    rows = [("coil not known", False), ("A;B", False), ("C;D", True)]
    sankey = flow(*(("coil", name, "container", "B", 5, 0, is_known) for name, is_known in rows)).data[0]
    shown = dict(zip(sankey.node.label, sankey.node.color, strict=True))
    assert shown["coil not known"] == shown["A;B"] == LIGHT.loud
    assert shown["C;D"] == LIGHT.steel


def test_markup_in_a_name_is_text():
    sankey = flow(("coil", "<b>x</b>", "container", "B", 5, 5)).data[0]
    assert sankey.node.label[0] == "&lt;b&gt;x&lt;/b&gt;"
    assert "<b>" not in sankey.node.customdata[0]


def test_more_containers_need_more_height():
    few = flow(("coil", "C", "container", "B", 5, 5))
    many = flow(*(("coil", "C", "container", f"B{n}", 5, 5) for n in range(30)))
    assert many.layout.height > few.layout.height


def test_nothing_to_draw_says_so():
    assert "No pieces" in flow().layout.annotations[0].text
