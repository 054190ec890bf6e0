import pytest

from monitor.figures import FIGURES
from shared.fields import Kind
from shared.figures import Figure


@pytest.mark.parametrize("figure", FIGURES.values(), ids=lambda f: f.name)
def test_sums_that_close_are_over_columns_of_one_unit(figure: Figure) -> None:
    units = {column.name: column.unit for column in figure.columns}
    for whole, parts in figure.closes:
        assert {units[part] for part in parts} == {units[whole]}


@pytest.mark.parametrize("figure", FIGURES.values(), ids=lambda f: f.name)
def test_columns_are_named_once(figure: Figure) -> None:
    assert len(set(figure.names)) == len(figure.names)


def test_an_interval_has_both_ends_and_what_it_is_about() -> None:
    for figure in FIGURES.values():
        lows = [name for name in figure.names if name.endswith("_low")]
        assert [name[:-4] + "_high" in figure.names for name in lows] == [True] * len(lows)


def test_pieces_strokes_and_rows_are_whole_numbers() -> None:
    for figure in FIGURES.values():
        for column in figure.columns:
            if column.unit in {"strokes", "rows"}:
                assert column.kind is Kind.COUNT, (figure.name, column.name)


def test_money_never_appears() -> None:
    words = {word for figure in FIGURES.values() for name in figure.names for word in name.split("_")}
    assert not words & {"cost", "price", "eur", "usd", "value"}
