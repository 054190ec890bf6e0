import pandas as pd

from monitor.charts.certificate import certificate_chart

COILS = pd.DataFrame(
    {
        "coil_id": ["C1", "C2<i>", "C3"],
        "lot": ["L1", "L2", "L2"],
        "value": [205.0, 231.5, 230.0],
        "inspected": [1000, 2000, 500],
        "rejected": [2, 40, 9],
        "rate": [0.002, 0.02, 0.018],
        "rate_low": [0.0005, 0.0147, 0.009],
        "rate_high": [0.007, 0.027, 0.034],
        "suspect": [False, True, True],
    }
)


def test_a_mark_a_coil_with_its_interval_and_the_suspects_of_another_shape():
    figure = certificate_chart(COILS, "yield, MPa")
    other, suspect = figure.data
    assert list(other.x) == [205.0]
    assert list(suspect.x) == [231.5, 230.0]
    assert other.marker.symbol != suspect.marker.symbol
    assert suspect.error_y.arrayminus[0] == 0.02 - 0.0147
    assert "C2&lt;i&gt;, lot L2: value 231.5, rate 2.00" in suspect.customdata[0]
    assert figure.layout.xaxis.title.text == "yield, MPa"


def test_whole_values_keep_their_noughts():
    figure = certificate_chart(COILS, "yield, MPa")
    assert "value 230, rate" in figure.data[1].customdata[1]


def test_no_value_is_said():
    assert "No coil" in certificate_chart(COILS[:0], "yield").layout.annotations[0].text
