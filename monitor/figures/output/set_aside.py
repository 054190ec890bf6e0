"""The `set_aside` table: rows that were not taken, and why."""

from __future__ import annotations

import json

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.question import Question
from monitor.ledger import Snapshot
from shared.fields import count, text, time
from shared.figures import Figure
from shared.reasons.kept import recalled

FIGURE = Figure(
    "set_aside",
    row_per="row set aside",
    columns=columns(
        count("id", "", "number of the row set aside"),
        "table file",
        count("line", "", "line of the file, or row of a Parquet file, 1 = first"),
        text("reason", "why"),
        text("row", "the row as it came"),
        time("set_aside_at", "when it was set aside"),
        text("code", "kind of each reason, such as value_missing", listed=True),
        text("values", "what the reasons name: a list in JSON, an object for each code"),
    ),
)

_LINES_A_LOAD = 1 << 32


def set_aside(question: Question) -> pd.DataFrame:
    """Return a row for each row set aside, those that reckoning found to be glitches included."""
    held = question.snapshot.set_aside_rows()
    glitches = _glitches(question.snapshot)
    table = pd.concat([held, glitches], ignore_index=True)
    return table.sort_values(["file", "line", "id"], kind="stable")


def _glitches(snapshot: Snapshot) -> pd.DataFrame:
    facts = snapshot.facts("glitches")
    files = snapshot.loads().set_index("load_id")
    return pd.DataFrame(
        {
            # A number of its own, far above those of rows set aside when they were read.
            "id": facts["load_id"] * _LINES_A_LOAD + facts["line"],
            "table": "strokes",
            "file": facts["load_id"].map(files["file"]),
            "line": facts["line"],
            "reason": [str(recalled(*kept)) for kept in zip(facts["code"], facts["code_values"], strict=True)],
            "row": [
                _row(press_id, time_us, counter)
                for press_id, time_us, counter in zip(
                    facts["press_id"], facts["time_us"], facts["counter"], strict=True
                )
            ],
            "set_aside_at": facts["load_id"].map(files["loaded_at"]),
            "code": facts["code"],
            "values": facts["code_values"],
        }
    )


def _row(press_id: str, time_us: int, counter: int) -> str:
    moment = pd.Timestamp(time_us, unit="us", tz="UTC").isoformat()
    return json.dumps({"time": moment, "press_id": press_id, "counter": str(counter)}, ensure_ascii=False)
