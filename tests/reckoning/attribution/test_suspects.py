import numpy as np
import pandas as pd
import pytest

from monitor.figures import FIGURES
from monitor.figures.judgement.suspects import suspects_table
from monitor.reckoning.attribution import suspects as verdicts
from monitor.reckoning.attribution.suspects import Remembered, Series
from tests.benchmarks import verdict_plants as plants


def suspects(*asked):
    return suspects_table(verdicts.suspects(*asked))


def _die(seed, *troubles, pieces=(150, 300)):
    rng = np.random.default_rng(seed)
    rows = plants.make_die(rng, lots=30, pieces=pieces)
    truth = plants.base_truth(rng, rows)
    truth.base[:] = 0.008
    truth.planted += [trouble(rng, rows) for trouble in troubles]
    return rows, plants.draw(rng, rows, truth), truth


def _given(answer):
    return answer[answer["verdict"].isin(["acts", "tied"])]


def test_the_answer_is_the_figure_table():
    rows, rejected, _ = _die(1, plants.bad_level("lot", "lot", 5))
    answer = suspects([Series("D1", "BUR", rows, rejected, (4, 6))])
    assert tuple(answer.columns) == FIGURES["suspects"].names
    for column in FIGURES["suspects"].columns:
        if column.choices:
            assert set(answer[column.name]) - {""} <= set(column.choices)
    assert set(answer["stations"]) == {"4;6"}
    assert answer["inspected"].dtype == answer["rejected"].dtype == "Int64"
    assert answer["false_alarm"].between(0, 1).all()


def test_a_bad_lot_is_named_with_its_ratio_and_pieces():
    rows, rejected, truth = _die(2, plants.bad_level("lot", "lot", 4))
    line = _given(suspects([Series("D1", "CRK", rows, rejected)])).iloc[0]
    lot = next(iter(truth.planted[0].names))
    mine = (rows["lot"] == lot).to_numpy()
    assert (line["factor"], line["level"], line["verdict"]) == ("lot", lot, "acts")
    by_hand = rejected[mine].sum() / rows["inspected"][mine].sum()
    by_hand /= rejected[~mine].sum() / rows["inspected"][~mine].sum()
    assert line["rate_ratio"] == pytest.approx(by_hand, rel=0.1)
    assert line["ratio_low"] < 4 < line["ratio_high"]
    assert line["rejected"] == rejected[mine].sum()
    assert line["inspected"] == rows["inspected"][mine].sum()
    assert line["explained_low"] < line["pieces_explained"] < line["explained_high"] < line["rejected"]
    assert "Run another lot" in line["next_test"]


def test_lot_wear_and_press_are_told_apart():
    rows, rejected, _ = _die(
        3, plants.bad_level("lot", "lot", 5), plants.worn(4), plants.bad_level("press", "press_id", 2.5)
    )
    given = _given(suspects([Series("D1", "BUR", rows, rejected)]))
    assert set(given["factor"]) == {"lot", "wear", "press"}
    assert given["pieces_explained"].is_monotonic_decreasing
    wear = given[given["factor"] == "wear"].iloc[0]
    assert "lock out" in wear["next_test"]


def test_a_lot_only_on_a_dull_die_is_tied_with_the_wear():
    rng = np.random.default_rng(4)
    rows, rejected, truth = _die(4)
    rows, trouble = plants.lot_on_a_dull_die(5)(rng, rows)
    truth.planted.append(trouble)
    rejected = plants.draw(rng, rows, truth)
    given = _given(suspects([Series("D1", "BUR", rows, rejected)]))
    assert set(given["verdict"]) == {"tied"}
    assert {"lot", "wear"} <= set(given["factor"])
    lot = given[given["factor"] == "lot"].iloc[0]
    assert "wear: from" in lot["tied_with"]
    assert f"lot: {lot['level']}" in given[given["factor"] == "wear"].iloc[0]["tied_with"]
    assert "on a sharp die, or another lot on the dull one" in lot["next_test"]
    assert given["false_alarm"].nunique() == 1


def test_a_heat_of_one_lot_is_another_name_of_it():
    rows, rejected, _ = _die(5, plants.bad_level("lot", "lot", 5))
    rows["heat"] = rows["lot"].str.replace("L", "H")
    line = _given(suspects([Series("D1", "CRK", rows, rejected)])).iloc[0]
    assert line["verdict"] == "acts"
    assert line["tied_with"] == f"heat: {line['level'].replace('L', 'H')}"


def test_few_rejects_are_not_enough_and_many_rule_out():
    rows, _, _ = _die(6)
    few = np.zeros(len(rows))
    few[[3, 40, 90]] = 1
    assert set(suspects([Series("D1", "BUR", rows, few)])["verdict"]) == {"not_enough"}
    rng = np.random.default_rng(6)
    many = rng.binomial(rows["inspected"].astype(int), 0.05).astype(float)
    answer = suspects([Series("D1", "BUR", rows, many)])
    assert set(answer["verdict"]) == {"clear"}
    assert len(answer) == answer["factor"].nunique() == 11
    assert answer["pieces_explained"].isna().all()
    assert (answer["ratio_low"] < answer["rate_ratio"]).all()
    assert answer["next_test"].str.startswith("Nothing to run").all()


def test_no_reject_and_no_piece_say_nothing():
    rows, _, _ = _die(7)
    none = suspects([Series("D1", "BUR", rows, np.zeros(len(rows)))])
    assert set(none["verdict"]) == {"not_enough"}
    assert none["rejected"].sum() == 0
    empty = rows.assign(inspected=0)
    assert suspects([Series("D1", "BUR", empty, np.zeros(len(rows)))]).empty
    assert tuple(suspects([]).columns) == FIGURES["suspects"].names


def test_the_order_of_the_rows_does_not_matter():
    rows, rejected, _ = _die(8, plants.worn(4), plants.bad_level("heat", "heat", 4))
    order = np.random.default_rng(8).permutation(len(rows))
    one = suspects([Series("D1", "BUR", rows, rejected)])
    other = suspects([Series("D1", "BUR", rows.iloc[order], rejected[order])])
    pd.testing.assert_frame_equal(one, other, rtol=1e-6)


def test_the_station_whose_clock_fits_is_named():
    rows, rejected, _ = _die(9, plants.worn(5))
    rows["strokes_since_sharpening_4"] = rows.pop("strokes_since_sharpening")
    rows["strokes_since_sharpening_6"] = np.random.default_rng(9).permutation(rows["strokes_since_sharpening_4"])
    line = _given(suspects([Series("D1", "BUR", rows, rejected)])).iloc[0]
    assert line["factor"] == "wear"
    assert line["level"].endswith("station 4")


def test_strokes_not_known_before_the_first_sharpening_do_no_harm():
    rows, rejected, _ = _die(10, plants.worn(5))
    rows.loc[rows["day"] < rows["day"].quantile(0.3), "strokes_since_sharpening"] = np.nan
    line = _given(suspects([Series("D1", "BUR", rows, rejected)])).iloc[0]
    assert line["factor"] == "wear"
    assert line["ratio_low"] > 1.5


def test_few_columns_are_enough():
    rows, rejected, _ = _die(11, plants.bad_level("press", "press_id", 3))
    answer = suspects([Series("D1", "COI", rows[["inspected", "press_id"]], rejected)])
    assert _given(answer)["factor"].tolist() == ["press"]


def test_more_looks_make_a_false_alarm_likelier():
    rows, rejected, _ = _die(12, plants.bad_level("lot", "lot", 2.5))
    alone = suspects([Series("D1", "CRK", rows, rejected)])
    rng = np.random.default_rng(12)
    others = [Series("D1", f"c{k}", rows, rng.binomial(rows["inspected"].astype(int), 0.008)) for k in range(9)]
    among = suspects([Series("D1", "CRK", rows, rejected), *others])
    chance = among.loc[among["cause"] == "CRK", "false_alarm"].iloc[0]
    assert chance == pytest.approx(10 * alone["false_alarm"].iloc[0], rel=0.01)


def test_text_of_levels_comes_through_as_it_is():
    rows, rejected, truth = _die(13, plants.bad_level("lot", "lot", 5))
    lot = next(iter(truth.planted[0].names))
    rows["lot"] = rows["lot"].replace({lot: "<b>=1+1</b>"})
    assert _given(suspects([Series("D1", "CRK", rows, rejected)])).iloc[0]["level"] == "<b>=1+1</b>"


@pytest.mark.parametrize("rejected", [[-1.0, 0.0], [6.0, 0.0], [1.0], [0.0, 1.0]])
def test_impossible_rejects_are_refused(rejected):
    rows = pd.DataFrame({"inspected": [5, 0], "lot": ["A", "B"]})
    with pytest.raises(ValueError, match=r"D1 BUR"):
        suspects([Series("D1", "BUR", rows, rejected)])


def test_only_what_is_new_is_worked_out_again(monkeypatch):
    rows, rejected, _ = _die(14, plants.bad_level("lot", "lot", 5))
    other, _, _ = _die(15)
    worked_out = []
    monkeypatch.setattr(
        verdicts, "findings", lambda rejects, real=verdicts.findings: (worked_out.append(rejects), real(rejects))[1]
    )

    def look(last, remembered=None):
        quiet = np.minimum(np.arange(len(other)) % 7 == 0, other["inspected"]).astype(float)
        series = [Series("D1", "BUR", rows, last), Series("D2", "BUR", other, quiet), Series("D2", "CRK", other, quiet)]
        return suspects(series, remembered)

    remembered = Remembered()
    first = look(rejected, remembered)
    assert len(worked_out) == 2  # the two causes of D2 were found on the same pieces
    pd.testing.assert_frame_equal(look(rejected, remembered), first)
    assert len(worked_out) == 2
    more = rejected.copy()
    more[3] += 1
    pd.testing.assert_frame_equal(look(more, remembered), look(more))
    assert len(worked_out) == 2 + 1 + 2
    rows.loc[3, "lot"] = "another"
    pd.testing.assert_frame_equal(look(more, remembered), look(more))
    assert len(worked_out) == 5 + 1 + 2
    monkeypatch.setattr(verdicts, "MOST_REMEMBERED", 1)
    look(rejected, remembered)
    assert len(remembered.answers) == 2  # never fewer than those of the last look
