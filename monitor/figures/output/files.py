"""The `loads` and `set_aside` tables: what became of every row of every file."""

from __future__ import annotations

import json

import pandas as pd

from monitor.ledger import Snapshot
from monitor.plant.book import Book

_LINES_A_LOAD = 1 << 32


def loads(snapshot: Snapshot, book: Book) -> pd.DataFrame:
    """Return a row for each file; read = new + repeated + corrected + set aside.

    A counter reading that reckoning found to be a glitch was taken as new and counts as set aside.
    """
    table = snapshot.loads()
    glitches = table["load_id"].map(snapshot.facts("glitches").groupby("load_id").size()).fillna(0).astype("int64")
    table["set_aside"] += glitches
    for name in ("new", "corrected", "repeated"):
        # Most are the first word on their moment; one that corrected another reading counts as such.
        taken = glitches.clip(upper=table[name])
        table[name], glitches = table[name] - taken, glitches - taken
    table["loaded_at"] = book.calendar.local_iso(table["loaded_at"])
    return table


def set_aside(snapshot: Snapshot, book: Book) -> pd.DataFrame:
    """Return a row for each row set aside, those that reckoning found to be glitches included."""
    held = snapshot.set_aside_rows()
    glitches = _glitches(snapshot)
    table = pd.concat([held, glitches], ignore_index=True)
    table["set_aside_at"] = book.calendar.local_iso(table["set_aside_at"])
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
            "reason": facts["reason"],
            "row": [_row(*parts) for parts in zip(facts["press_id"], facts["time_us"], facts["counter"], strict=True)],
            "set_aside_at": facts["load_id"].map(files["loaded_at"]),
        }
    )


def _row(press_id: str, time_us: int, counter: int) -> str:
    moment = pd.Timestamp(time_us, unit="us", tz="UTC").isoformat()
    return json.dumps({"time": moment, "press_id": press_id, "counter": str(counter)}, ensure_ascii=False)
