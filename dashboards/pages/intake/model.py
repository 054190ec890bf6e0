"""The intake page as plain data: files with their counts, rows set aside by reason, the watch in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import pandas as pd

from dashboards.ledger.version import LedgerVersion
from dashboards.parts.contradictions import Listed, contradictions_of, load_listed
from dashboards.parts.numbers import Number
from dashboards.parts.picker import within
from dashboards.request.formats import UNKNOWN, count, duration, moment
from dashboards.request.locale import key, locale, say, say_again, say_n
from dashboards.request.url import View
from monitor.load.clock_words import clock_lines
from monitor.load.set_aside import cells_of, grouped, kind_of
from shared.calendar import Calendar
from shared.durations import SECOND_US
from shared.reasons.kept import from_plain, recalled
from shared.tables import TABLES

ALL = key("all reasons")
#: Rows that reckoning set aside have numbers above this one; they are counter readings and stay as they came.
_LAST_ID = 1 << 32
#: The watch leaves word every few seconds; one that has not for so long is no longer there [s].
QUIET_S = 30


@dataclass(frozen=True)
class Group:
    """Rows of one table set aside for one kind of reason."""

    key: str
    label: str


@dataclass(frozen=True)
class IntakeView:
    """What the page shows; `rows` and `columns` are those of the group chosen."""

    totals: tuple[Number, ...]
    files: pd.DataFrame
    groups: tuple[Group, ...]
    chosen: str
    rows: pd.DataFrame
    columns: tuple[str, ...]
    clocks: tuple[str, ...] = ()
    view: View = field(default_factory=View)
    contradicted: Listed = field(default_factory=Listed)

    @property
    def narrowed(self) -> bool:
        """Whether a range leaves something out."""
        return bool(self.view.since or self.view.until)


def load_intake(reading: LedgerVersion, view: View) -> IntakeView:
    """The page for what was loaded in the range of a view; its value is a group of reasons, "" for all of them."""
    loads, aside = loads_of(reading, view), _aside(reading, view)
    groups = tuple(_group(row) for row in grouped(aside).to_dict("records"))
    known = view.value if view.value in {group.key for group in groups} else ALL
    rows = aside if known == ALL else aside[aside["key"] == known]
    calendar = reading.calendar()
    clocks = () if calendar is None else tuple(clock_lines(reading.clocks(), calendar, locale().words))
    listed = load_listed(reading, view)
    return IntakeView(
        _totals(loads),
        _files(loads, reading.clock),
        groups=groups,
        chosen=known,
        rows=_rows(rows),
        columns=_columns(rows),
        clocks=clocks,
        view=view,
        contradicted=listed,
    )


def loads_of(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `loads` of the range of a view."""
    return within(reading.figure("loads"), "loaded_at", reading.calendar(), view)


def _loads_downloaded(reading: LedgerVersion, view: View) -> pd.DataFrame:
    return reading.exported("loads", loads_of(reading, view))


def set_aside_of(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `set_aside` of the range of a view, and of the reason it names."""
    aside = _aside(reading, view)
    rows = aside[aside["key"] == view.value] if view.value in set(aside["key"]) else aside
    return reading.exported("set_aside", rows.drop(columns="key"))


DOWNLOADS = MappingProxyType(
    {"loads": _loads_downloaded, "set_aside": set_aside_of, "contradictions": contradictions_of}
)
"""Name of what is taken away -> its rows for a view."""


def _aside(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """The rows set aside in the range of a view, with the group each is in (`key`)."""
    aside = within(reading.figure("set_aside"), "set_aside_at", reading.calendar(), view)
    groups = zip(aside["table"], aside["code"], aside["values"], strict=True)
    return aside.assign(key=[f"{table}|{kind_of(codes, values)}" for table, codes, values in groups])


def newest_load_us(reading: LedgerVersion) -> int:
    """When the last file was loaded [us], 0 before there is any."""
    return max(reading.figure("loads")["loaded_at"].tolist(), default=0)


def ids_of(shown: IntakeView, text: str) -> list[int]:
    """Numbers of the rows shown that a text such as `7, 12-20` names, all of them where it is empty.

    Raises ValueError where it holds something else.
    """
    held = [int(number) for number in shown.rows[say("Row")] if number != UNKNOWN]
    if not text.strip():
        return held
    wanted: set[int] = set()
    for word in text.replace(",", " ").split():
        first, _, last = word.partition("-")
        wanted.update(range(int(first), int(last or first) + 1))
    return [number for number in held if number in wanted]


def watch_words(state: Mapping[str, Any], now_us: int) -> str:
    """What the watch last said of itself, in a sentence."""
    if not state:
        return say("No folder is watched. strokeledger serve --watch FOLDER loads what loggers put there.")
    ago_s = max(0, (now_us - int(state["looked_us"])) // SECOND_US)
    if not state["running"] or ago_s > QUIET_S:
        stopped = key("The watch of {folder} has stopped; it last looked {since} ago.")
        return say(stopped, folder=state["folder"], since=duration(ago_s))
    told = say(
        "Watching {folder}: last look {since} ago, {files} files there, {waiting} not finished yet, "
        "{taken} taken since it began.",
        folder=state["folder"],
        since=duration(ago_s),
        **{name: count(state[name]) for name in ("files", "waiting", "taken")},
    )
    return f"{told} {say_again(from_plain(state['problem']))}" if state["problem"] else told


def reasons_of(rows: pd.DataFrame) -> list[str]:
    """Why each row is set aside, or each file refused, in the viewer's language."""
    return [say_again(recalled(*kept)) for kept in zip(rows["code"], rows["values"], strict=True)]


def _group(row: Mapping[Any, Any]) -> Group:
    example = say_again(recalled(row["code"], row["values"]))[:140]
    return Group(f"{row['table']}|{row['kind']}", f"{row['rows']:,} × {row['table']}: {example}")


def _totals(loads: pd.DataFrame) -> tuple[Number, ...]:
    taken = loads[loads["refused"] == ""]
    names = ("read", "new", "repeated", "corrected", "set_aside")
    labels = (say("Rows read"), say("New"), say("Repeated"), say("Corrected"), say("Set aside"))
    sums = [
        Number(label, count(int(taken[name].sum())), loud=name == "set_aside" and bool(taken[name].sum()))
        for name, label in zip(names, labels, strict=True)
    ]
    refused = len(loads) - len(taken)
    return (
        Number(say("Files"), count(len(taken)), (say_n(refused, "{n} refused", "{n} refused"),) if refused else ()),
        *sums,
    )


def _files(loads: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    newest = loads.sort_values("load_id", ascending=False)
    return pd.DataFrame(
        {
            say("File"): newest["file"],
            say("Table"): [table or UNKNOWN for table in newest["table"]],
            say("Loaded"): [moment(us, calendar) for us in newest["loaded_at"]],
            **{
                label: [count(value) for value in newest[name]]
                for name, label in (
                    ("read", say("Read")), ("new", say("New")), ("repeated", say("Repeated")),
                    ("corrected", say("Corrected")), ("set_aside", say("Set aside")),
                )
            },
            say("Refused because"): reasons_of(newest),
        }
    )  # fmt: skip


def _rows(rows: pd.DataFrame) -> pd.DataFrame:
    cells = [cells_of(row) for row in rows["row"]]
    told = {
        say("Row"): [str(number) if number < _LAST_ID else UNKNOWN for number in rows["id"]],
        say("File"): rows["file"].tolist(),
        say("Line"): [count(line) for line in rows["line"]],
        say("Reason"): reasons_of(rows),
    }
    names, raw = list(dict.fromkeys(name for found in cells for name in found)), say("As it came")
    if len(set(rows["table"])) == 1:
        told |= {name: [found.get(name, "") for found in cells] for name in names}
    else:
        told[raw] = [", ".join(f"{name}={cell}" for name, cell in found.items()) for found in cells]
    for place, found in enumerate(cells):
        if not found:
            told[raw] = told.get(raw, [""] * len(cells))
            told[raw][place] = str(rows["row"].iloc[place])
    return pd.DataFrame(told, dtype=object)


def _columns(rows: pd.DataFrame) -> tuple[str, ...]:
    """Columns in which a value may be put: those of the table, where the rows are of one."""
    tables = set(rows["table"])
    return TABLES[tables.pop()].columns if len(tables) == 1 else ()
