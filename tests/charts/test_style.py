from itertools import combinations

import numpy as np
import plotly.graph_objects as go
import pytest

from monitor.charts.style import (
    DARK,
    LIGHT,
    NO_REASON,
    PATTERNS,
    blank,
    dressed,
    kind_of,
    plain,
    shorten,
    tint,
)
from shared.tables.book.reasons import TABLE as REASONS
from shared.words import words

# Linear RGB as colour-blind eyes see it: Machado, Oliveira and Fernandes (2009), severity 1; from memory.
SEEN_AS = {
    "red-blind": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "green-blind": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "blue-blind": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def linear(colour):
    channels = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """Contrast ratio of WCAG 2."""
    bright, dim = sorted((float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (one, other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


@pytest.mark.parametrize("colours", [LIGHT, DARK])
def test_words_can_be_read_on_every_ground(colours):
    for ground in (colours.paper, colours.surface):
        assert contrast(colours.ink, ground) >= 12
        assert contrast(colours.soft, ground) >= 4.5
        assert contrast(colours.reject, ground) >= 4.5
    assert contrast(colours.ink, colours.steel) >= 4.5
    assert contrast(colours.on_run, colours.run) >= 4.5
    assert contrast(colours.on_loud, colours.loud) >= 7


@pytest.mark.parametrize("colours", [LIGHT, DARK])
@pytest.mark.parametrize("eyes", SEEN_AS)
def test_kinds_of_one_pattern_are_told_apart_by_colour_blind_eyes(colours, eyes):
    seen = {kind: np.array(SEEN_AS[eyes]) @ linear(colour) for kind, colour in colours.kinds.items()}
    same = [pair for pair in combinations(PATTERNS, 2) if PATTERNS[pair[0]] == PATTERNS[pair[1]]]
    assert same == [("planned", NO_REASON)]
    for one, other in same:
        assert np.linalg.norm(seen[one] - seen[other]) > 0.2


@pytest.mark.parametrize("colours", [LIGHT, DARK])
@pytest.mark.parametrize("eyes", SEEN_AS)
def test_running_is_told_from_standing_and_rejects_by_colour_blind_eyes(colours, eyes):
    matrix = np.array(SEEN_AS[eyes])
    run = matrix @ linear(colours.run)
    for other in (colours.reject, colours.loud, colours.steel):
        assert np.linalg.norm(run - matrix @ linear(other)) > 0.1


def test_every_kind_of_reason_has_a_pattern_and_a_colour_in_both_themes():
    kinds = REASONS.field("kind").choices
    assert set(kinds) | {NO_REASON} == set(PATTERNS) == set(LIGHT.kinds) == set(DARK.kinds)


def test_kind_without_reason_and_unheard_of_kind():
    assert [kind_of(kind) for kind in ("", "tooling", "weather")] == [NO_REASON, "tooling", "other"]


def test_text_from_a_file_is_never_markup():
    assert plain('<a href="x">b</a>\n& c') == '&lt;a href="x"&gt;b&lt;/a&gt; &amp; c'


def test_long_text_ends_in_an_ellipsis():
    assert shorten("hinge leaf", 10) == "hinge leaf"
    assert shorten("hinge leaf left", 11) == "hinge leaf…"


def test_numbers_on_axes_have_the_signs_of_the_language():
    assert dressed(go.Figure(), False, 100).layout.separators == ".\u202f"
    assert dressed(go.Figure(), False, 100, words("de")).layout.separators == ",\u202f"


def test_tint_lies_between_its_colour_and_its_ground():
    assert tint("#ff0000", "#0000ff", 0.5) == "#800080"
    assert tint("#123456", "#ffffff", 1.0) == "#123456"


def test_a_blank_figure_says_its_sentence():
    figure = blank("No <coil> here.")
    assert figure.layout.annotations[0].text == "No &lt;coil&gt; here."
    assert figure.layout.xaxis.visible is False


def test_a_dressed_figure_can_be_scrolled_past_on_a_phone():
    figure = dressed(go.Figure(go.Bar(x=[1], y=[1])), dark=True, height_px=200)
    assert figure.layout.dragmode is False
    assert figure.layout.xaxis.fixedrange
    assert figure.layout.font.color == DARK.ink
