import json

import pandas as pd

from dashboards.parts.tables import MOST_ROWS, table


def shown(component):
    return json.loads(getattr(component, "data-table"))


def test_words_stand_left_and_numbers_right():
    rows = pd.DataFrame({"Cause": ["BUR", "SLG"], "Rejected": ["12", "–"]})
    assert shown(table(rows, ("Cause",), "Scrap")) == {
        "caption": "Scrap",
        "columns": ["Cause", "Rejected"],
        "looks": ["word", "figure"],
        "rows": [["BUR", "12"], ["SLG", "–"]],
    }


def test_a_cut_table_says_where_all_of_it_is():
    long = shown(
        table(pd.DataFrame({"Hour": [str(n) for n in range(MOST_ROWS + 2)]}), ("Hour",), "Hours", "figures hours")
    )
    assert len(long["rows"]) == MOST_ROWS
    assert long["caption"] == f"Hours The first {MOST_ROWS} of {MOST_ROWS + 2}; all of them: figures hours"


def test_a_whole_table_says_nothing_of_the_kind():
    assert shown(table(pd.DataFrame({"Hour": ["1"]}), (), "Hours", "figures hours"))["caption"] == "Hours"


def test_no_rows_keep_their_columns():
    assert shown(table(pd.DataFrame({"Hour": [], "Pieces": []}), (), "Hours"))["columns"] == ["Hour", "Pieces"]
