"""The frames of the bench page in the words that its tables and charts show."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from dashboards.pages.bench.model import Sides
from dashboards.request.formats import (
    UNKNOWN,
    between,
    count,
    date_of,
    day,
    decimal,
    known,
    length,
    moment,
    share,
    size,
    text,
)
from dashboards.request.locale import locale, say
from monitor.figures.judgement.bench import Case
from monitor.figures.judgement.series import SETTLED_STROKES
from monitor.verdict import names as naming
from monitor.verdict.writers import certificate_unit
from shared.calendar import Calendar
from shared.units import convert

Row = Mapping[Hashable, Any]


def marks_in_words(case: Case) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Marks, alarms and changes of a case, each with what is said of it (`told`)."""
    marks = case.marks.assign(told=[_mark(row) for row in case.marks.to_dict("records")])
    calls = [say("The watch calls on coil {coil}", coil=text(coil) or "?") for coil in case.alarms["coil_id"]]
    changes = [
        say("The level changes from {before} to {after}", before=share(row["before"], 3), after=share(row["after"], 3))
        for row in case.changes.to_dict("records")
    ]
    return marks, case.alarms.assign(told=calls), case.changes.assign(told=changes)


def _mark(row: Row) -> str:
    if row["kind"] == "set":
        return say("Die set: {setting}", setting=naming.setting(row["setup_id"], locale().words))
    where = say("all edges") if not known(row["station"]) else say("station {number}", number=int(row["station"]))
    if known(row["removed_mm"]):
        return say("Sharpened: {where}, {size} taken off", where=where, size=size(row["removed_mm"]))
    return say("Sharpened: {where}", where=where)


def coil_rows(case: Case) -> pd.DataFrame:
    """A row a coil in the order run, newest last, as the table beside the chart shows it."""
    coils = case.coils
    return pd.DataFrame(
        {
            say("Coil"): [text(coil) or UNKNOWN for coil in coils["coil_id"]],
            say("Lot"): [text(lot) or UNKNOWN for lot in coils["lot"]],
            say("Press"): coils["press_id"],
            say("Rate"): [share(rate) for rate in coils["rate"]],
            say("95 % interval"): _between(coils["rate_low"], coils["rate_high"]),
            say("Limits"): _between(coils["limit_low"], coils["limit_high"]),
            say("Wear alone"): [share(rate) for rate in coils["wear_rate"]],
            say("Rejected"): [count(number) for number in coils["rejected"]],
            say("Inspected"): [count(number) for number in coils["inspected"]],
        }
    )


def lots_by_wear(case: Case) -> pd.DataFrame:
    """Each lot against the state of the edge: a column a third of the strokes since sharpening, in the order run.

    A lot that ran in one third only cannot be told from it; that cell stands alone in its row.  Empty where no edge
    has a history.
    """
    rows = case.rows[case.rows["worn"].notna() & (case.rows["lot"] != "")]
    if rows.empty:
        return pd.DataFrame()
    edges = np.unique(np.quantile(rows["worn"], [0, 1 / 3, 2 / 3, 1]))
    third = np.clip(np.searchsorted(edges, rows["worn"], side="right") - 1, 0, max(len(edges) - 2, 0))
    sums = rows.assign(third=third).groupby(["lot", "third"], sort=False)[["rejected", "inspected"]].sum()
    lots = list(dict.fromkeys(rows["lot"]))
    table = {say("Lot"): lots}
    for band in range(max(len(edges) - 1, 1)):
        low, high = edges[band], edges[min(band + 1, len(edges) - 1)]
        table[say("{low} to {high}", low=count(low), high=count(high))] = [_cell(sums, lot, band) for lot in lots]
    return pd.DataFrame(table)


def _cell(sums: pd.DataFrame, lot: str, band: int) -> str:
    if (lot, band) not in sums.index:
        return UNKNOWN
    rejected, inspected = (float(sums[name][lot, band]) for name in ("rejected", "inspected"))
    told = say("{rejected} of {inspected}", rejected=count(rejected), inspected=count(inspected))
    return f"{share(rejected / inspected)} · {told}"


def evidence_rows(sides: Sides, calendar: Calendar) -> pd.DataFrame:
    """The stretches of pieces that a line calls bad, in time order."""
    rows = sides.bad
    expected = rows["inspected"] * sides.rate
    return pd.DataFrame(
        {
            say("Inspection"): rows["inspection_id"],
            say("When"): [moment(us, calendar) for us in rows["to_us"]],
            say("Press"): rows["press_id"],
            say("Shift"): [text(shift) or UNKNOWN for shift in rows["shift"]],
            say("Out"): rows["out"],
            say("Coil"): [text(coil) or UNKNOWN for coil in rows["coil_id"]],
            say("Lot"): [text(lot) or UNKNOWN for lot in rows["lot"]],
            say("Place in coil"): [length(metres) for metres in _column(rows, "head_m")],
            say("Since sharpening"): [count(strokes) for strokes in rows["worn"]],
            say("Since set"): [_since_set(strokes) for strokes in _column(rows, "strokes_since_set")],
            say("Inspected"): [count(number) for number in rows["inspected"]],
            say("Rejected"): [count(number) for number in rows["rejected"]],
            say("Expected"): [decimal(number) for number in expected],
        }
    )


def _since_set(strokes: float) -> str:
    """Strokes since setting; beyond a limit they are not counted on."""
    return say("over {n}", n=count(SETTLED_STROKES)) if strokes >= SETTLED_STROKES else count(strokes)


def _column(rows: pd.DataFrame, name: str) -> pd.Series:
    return rows[name] if name in rows else pd.Series(np.nan, index=rows.index)


def station_rows(stations: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    """A row a station with its edge: strokes since sharpening, intervals, due date."""
    return pd.DataFrame(
        {
            say("Station"): [str(number) for number in stations["station"]],
            say("Operation"): [operations(names) for names in stations["operation"]],
            say("Open"): [say("no. {rank}", rank=rank) if rank else "" for rank in stations["look"]],
            say("Strokes since sharpening"): [count(strokes) for strokes in stations["strokes_since_sharpening"]],
            say("Asked for every"): [count(strokes) for strokes in stations["sharpen_every_strokes"]],
            say("Pays at"): [count(strokes) for strokes in stations["economic_interval"]],
            say("Due"): [due(us, calendar) or UNKNOWN for us in stations["expected_due_at"]],
        }
    )


def operations(names: Iterable[str]) -> str:
    """The operations of a station in the language of whoever looks."""
    return ", ".join(map(say, names))


def due(us: object, calendar: Calendar) -> str:
    """The plant day on which an edge falls due, "" where it is not known."""
    return day(date_of(us, calendar)) if known(us) else ""


def drawn_stations(stations: pd.DataFrame, calendar: Calendar) -> pd.DataFrame:
    """Stations as the drawing of the strip wants them."""
    since = stations["strokes_since_sharpening"].astype("float64")
    asked = stations["sharpen_every_strokes"].astype("float64").fillna(stations["economic_interval"].astype("float64"))
    rows = zip(since, stations["expected_due_at"], stations["sharpen_every_strokes"], strict=True)
    below = [_below(strokes, due(us, calendar), known(every)) for strokes, us, every in rows]
    return stations.assign(since=since, due_share=since / asked.where(asked > 0), below=below)


def _below(strokes: float, falls: str, edge: bool) -> str:
    """What stands below a station with an edge: strokes since sharpening and the due date."""
    if not known(strokes):
        return say("no history") if edge else ""
    told = say("{n} strokes", n=count(strokes))
    return f"{told}\n{say('due {date}', date=falls)}" if falls else told


def wear_bins(case: Case) -> pd.DataFrame:
    """Rejects by strokes since sharpening: the columns of the figure `wear`."""
    names = ("strokes_from", "strokes_to", "inspected", "rejected", "rate", "rate_low", "rate_high")
    return pd.DataFrame({name: getattr(case.wear, name) for name in names})


def wear_rows(bins: pd.DataFrame) -> pd.DataFrame:
    """A row a bin with pieces, as the table beside the chart shows it."""
    rows = bins[bins["inspected"] > 0]
    strokes = zip(rows["strokes_from"], rows["strokes_to"], strict=True)
    return pd.DataFrame(
        {
            say("Strokes"): [say("{low} to {high}", low=count(low), high=count(high)) for low, high in strokes],
            say("Rate"): [share(rate) for rate in rows["rate"]],
            say("95 % interval"): _between(rows["rate_low"], rows["rate_high"]),
            say("Rejected"): [count(number) for number in rows["rejected"]],
            say("Inspected"): [count(number) for number in rows["inspected"]],
        }
    )


def bounds_of(stations: pd.DataFrame) -> list[tuple[str, float, str]]:
    """Lines across the wear curve: the interval of the plant book, where a sharpening pays, and now."""
    asked = stations[stations["look"] > 0] if len(stations) else stations
    columns = (
        (say("plant book"), "sharpen_every_strokes", "min", "dash"),
        (say("pays"), "economic_interval", "min", "dot"),
        (say("now"), "strokes_since_sharpening", "max", "solid"),
    )
    found = []
    for name, column, which, dash in columns:
        values = asked[column].dropna().astype("float64") if column in asked else pd.Series(dtype="float64")
        if len(values):
            found.append((name, float(values.agg(which)), dash))
    return found


def certificate_label(name: str, source: str) -> str:
    """What a certificate value or own test is called, with the unit it is shown in."""
    whole, words = f"{name}_{source}" if source else name, locale().words
    called, unit = naming.certificate(whole, words), words.unit(certificate_unit(whole))
    return called if not unit or called.endswith(unit) else f"{called}, {unit}"


def _digits(name: str, source: str) -> int:
    """Digits a certificate value is written with: a size needs more than a strength."""
    kept = certificate_unit(f"{name}_{source}" if source else name)
    return {"mm": 3, "in": 4, "": 3}.get(locale().words.unit(kept), 1)


def in_shown_units(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of certificate values with each value in the unit it is shown in; one without a unit we know stays."""
    values = [
        _shown(value, certificate_unit(f"{name}_{source}" if source else name))
        for value, name, source in zip(rows["value"], rows["property"], rows["source"], strict=True)
    ]
    return rows.assign(value=values)


def _shown(value: float, kept: str) -> float:
    shown = locale().words.unit(kept)
    return value if shown == kept else convert(float(value), kept, shown)


def certificate_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """A row a coil and value, as the table below the charts shows it."""
    names = [certificate_label(name, source) for name, source in zip(rows["property"], rows["source"], strict=True)]
    return pd.DataFrame(
        {
            say("Value of"): names,
            say("Coil"): rows["coil_id"],
            say("Lot"): [text(lot) or UNKNOWN for lot in rows["lot"]],
            say("Value"): [
                decimal(value, _digits(name, source))
                for value, name, source in zip(rows["value"], rows["property"], rows["source"], strict=True)
            ],
            say("Rate"): [share(rate) for rate in rows["rate"]],
            say("95 % interval"): _between(rows["rate_low"], rows["rate_high"]),
            say("Rejected"): [count(number) for number in rows["rejected"]],
            say("Inspected"): [count(number) for number in rows["inspected"]],
        }
    )


def _between(low: pd.Series, high: pd.Series) -> list[str]:
    return [between(one, other) or UNKNOWN for one, other in zip(low, high, strict=True)]
