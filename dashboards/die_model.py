"""One die over a range of plant days: what its charts and tables show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from dashboards.formats import UNKNOWN, between, count, day, decimal, duration, known, share, text, us
from dashboards.page import Reading
from dashboards.press_rows import Number
from dashboards.totals import coil_losses, coil_yield, scrap_by_cause, scrap_total, scrap_totals, stop_minutes
from dashboards.url import View
from shared.calendar import Calendar

DEFAULT_DAYS = 7

_SHIFT = ["shift_date", "shift", "press_id"]


@dataclass(frozen=True)
class DieView:
    """What the die page shows; `lack` says what to do where there is nothing to show.

    `tables`: hours, reasons, losses, causes, shifts; `left_out` coils without a known weight.
    """

    view: View
    die_name: str = ""
    lack: str = ""
    totals: tuple[Number, ...] = ()
    rated_per_hour: float | None = None
    left_out: int = 0
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)


def chosen(reading: Reading, view: View) -> View:
    """The view with the page's own choices filled in: the first die, the last seven plant days."""
    newest, calendar = _newest(reading), reading.calendar()
    last = calendar.plant_day(newest) if newest and calendar else None
    until = view.until or last
    since = view.since or (until - dt.timedelta(days=DEFAULT_DAYS - 1) if until else None)
    return view.but(die=view.die or _first_die(reading), since=since, until=until)


def load_die(reading: Reading, view: View) -> DieView:
    """The die of a view over its plant days; says what is lacking instead of showing nothing."""
    view = chosen(reading, view)
    names = reading.names("dies")
    shown = DieView(view, names.get(view.die, ""))
    lack = _lack(reading, view, names)
    if lack or not (view.since and view.until):
        return replace(shown, lack=lack or "No counter has been read yet. Load strokes files first.")
    to = (view.until + dt.timedelta(days=1)).isoformat()
    wanted = ("shifts", "hours", "stops", "coils", "scrap")
    tables = {
        name: _in_shift(reading.figure(name, from_=view.since.isoformat(), to=to, die=view.die), view.shift)
        for name in wanted
    }
    if tables["shifts"].empty:
        which = f"in the {view.shift} shift " if view.shift else ""
        dates = f"from {day(view.since)} to {day(view.until)}"
        return replace(shown, lack=f"{view.die} made no stroke {which}{dates}. Widen the dates or pick another die.")
    if view.shift:
        tables["hours"] = _hours_of(tables["hours"], view.shift, reading.calendar())
    return _filled(reading, shown, tables)


def _filled(reading: Reading, shown: DieView, tables: dict[str, pd.DataFrame]) -> DieView:
    pieces = int(tables["shifts"]["pieces"].sum())
    losses, left_out = coil_losses(tables["coils"])
    return replace(
        shown,
        totals=_totals(tables, pieces),
        rated_per_hour=_rated(reading, tables["shifts"]),
        left_out=left_out,
        tables={
            "hours": tables["hours"],
            "reasons": stop_minutes(tables["stops"], reading.names("reasons")),
            "losses": losses,
            "causes": scrap_by_cause(tables["scrap"], reading.names("causes")),
            "shifts": _per_shift(tables, reading.names("reasons"), reading.calendar()),
        },
    )


def _lack(reading: Reading, view: View, names: Mapping[str, str]) -> str:
    if not names:
        return "The plant book has no die yet. Load dies.csv and stations.csv: strokeledger load FOLDER --ledger LEDGER"
    if view.die not in names:
        return f"There is no die “{view.die}” in the plant book. Pick one above, or load the dies.csv that names it."
    if view.since and view.until and view.since > view.until:
        return f"The dates run backwards: {day(view.since)} to {day(view.until)}. Pick the earlier date first."
    calendar = reading.calendar()
    shifts = sorted({shift.name for shift in calendar.plant.shifts}) if calendar else []
    if view.shift and view.shift not in shifts:
        return f"The plant has no shift called “{view.shift}”. It has {', '.join(shifts) or 'none yet'}."
    return ""


def _newest(reading: Reading) -> int:
    states = reading.press_states()
    return max((us(iso) or 0 for iso in states["last_reading_at"]), default=0)


def _first_die(reading: Reading) -> str:
    """The die on the first press that has one, else the first of the plant book."""
    states = reading.press_states().sort_values("press_id")
    mounted = [text(die) for die in states["die_id"] if text(die)]
    return next(iter([*mounted, *sorted(reading.names("dies"))]), "")


def _in_shift(rows: pd.DataFrame, shift: str) -> pd.DataFrame:
    return rows[rows["shift"] == shift] if shift and "shift" in rows else rows


def _hours_of(hours: pd.DataFrame, shift: str, calendar: Calendar | None) -> pd.DataFrame:
    """Clock hours that have time in a shift of this name; an hour over a shift change belongs to both."""
    if calendar is None or hours.empty:
        return hours
    starts = hours["hour_start"].map(us)
    keep = [
        any(w.shift == shift for w in calendar.shifts(press_id, start, start + 3_600_000_000))
        for press_id, start in zip(hours["press_id"], starts, strict=True)
    ]
    return hours[keep]


def _rated(reading: Reading, shifts: pd.DataFrame) -> float | None:
    """Rated pieces an hour, None where presses or dates differ: one line cannot be right for both."""
    runs = shifts[["press_id", "die_id", "shift_date"]].drop_duplicates().itertuples(index=False, name=None)
    rates = {reading.rated_per_hour(press_id, die_id, dt.date.fromisoformat(date)) for press_id, die_id, date in runs}
    return rates.pop() if len(rates) == 1 else None


def _totals(tables: Mapping[str, pd.DataFrame], pieces: int) -> tuple[Number, ...]:
    shifts = tables["shifts"]
    planned_s, running_s = float(shifts["planned_s"].sum()), float(shifts["running_s"].sum())
    scrap = scrap_total(tables["scrap"])
    looked = f"{count(scrap.rejected)} of {count(scrap.inspected)}{' sampled' if scrap.estimate else ''}"
    setting = int(shifts["setup_pieces"].sum())
    return (
        Number("Pieces", count(pieces), (f"{count(shifts['good'].sum())} good", f"{count(setting)} setting")),
        Number(
            "Parts per hour",
            count(pieces * 3600 / planned_s) if planned_s else UNKNOWN,
            ("planned", f"{count(pieces * 3600 / running_s)} running" if running_s else ""),
        ),
        Number(
            "Uptime",
            share(running_s / planned_s) if planned_s else UNKNOWN,
            (f"ran {duration(running_s)}", f"stood {duration(shifts['stopped_s'].sum())}"),
        ),
        Number(
            "Scrap",
            share(scrap.rate) if scrap.inspected else UNKNOWN,
            (looked, between(scrap.rate_low, scrap.rate_high)) if scrap.inspected else ("no inspection",),
        ),
        Number("Coil yield", share(coil_yield(tables["coils"])), (f"{count(len(tables['coils']))} coils",)),
    )


def _per_shift(tables: Mapping[str, pd.DataFrame], names: Mapping[str, str], calendar: Calendar | None) -> pd.DataFrame:
    """One row a shift and press, newest first, in the words the table shows."""
    sums = (
        tables["shifts"]
        .groupby(_SHIFT)[["pieces", "good", "setup_pieces", "planned_s", "running_s", "stopped_s"]]
        .sum()
    )
    scrap = scrap_totals(tables["scrap"], _SHIFT)
    stops = stop_minutes(tables["stops"], names, by=_SHIFT).drop_duplicates(_SHIFT)
    starts = {shift.name: shift.start for shift in calendar.plant.shifts} if calendar else {}
    rows = sums.reset_index().merge(scrap, on=_SHIFT, how="left").merge(stops, on=_SHIFT, how="left")
    rows["start"] = [starts.get(shift, -1) for shift in rows["shift"]]
    rows = rows.sort_values(["shift_date", "start", "press_id"], ascending=[False, False, True])
    return pd.DataFrame([_shift_words(row) for row in rows.to_dict("records")])


def _shift_words(row: Mapping[Hashable, Any]) -> dict[str, str]:
    pieces, planned_s, running_s = (float(row[c]) for c in ("pieces", "planned_s", "running_s"))
    looked = known(row["inspected"]) and row["inspected"] > 0
    return {
        "Date": day(dt.date.fromisoformat(row["shift_date"])),
        "Shift": row["shift"],
        "Press": row["press_id"],
        "Pieces": count(pieces),
        "Good": count(row["good"]),
        "Setting": count(row["setup_pieces"]),
        "Scrap": share(row["rate"]) if looked else UNKNOWN,
        "95 % interval": (between(row["rate_low"], row["rate_high"]) if looked else "") or UNKNOWN,
        "Rejected of inspected": f"{count(row['rejected'])} of {count(row['inspected'])}" if looked else UNKNOWN,
        "By": ("sample" if row["estimate"] else "count") if looked else UNKNOWN,
        "Parts/h planned": count(pieces * 3600 / planned_s) if planned_s else UNKNOWN,
        "Parts/h running": count(pieces * 3600 / running_s) if running_s else UNKNOWN,
        "Uptime": share(running_s / planned_s, 0) if planned_s else UNKNOWN,
        "Stood": duration(row["stopped_s"]),
        "Longest reason": f"{row['reason']}, {decimal(row['minutes'], 0)} min" if known(row["reason"]) else UNKNOWN,
    }
