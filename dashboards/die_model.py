"""One die over a range of plant days: what its charts and tables show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace

import pandas as pd

from dashboards.formats import UNKNOWN, between, count, day, decimal, duration, share, text, us
from dashboards.page import Reading
from dashboards.press_rows import Number, rated_per_second
from dashboards.totals import coil_losses, coil_yield, scrap_by_cause, scrap_total, stop_minutes
from dashboards.url import View
from shared.calendar import Calendar

DEFAULT_DAYS = 7


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
    rated = rated_per_second(tables["shifts"])
    return replace(
        shown,
        totals=_totals(tables, pieces),
        rated_per_hour=rated * 3600 if rated else None,
        left_out=left_out,
        tables={
            "hours": tables["hours"],
            "reasons": stop_minutes(tables["stops"], reading.names("reasons")),
            "losses": losses,
            "causes": scrap_by_cause(tables["scrap"], reading.names("causes")),
            "shifts": _per_shift(tables, reading.names("reasons")),
        },
    )


def _lack(reading: Reading, view: View, names: Mapping[str, str]) -> str:
    if not names:
        return "The plant book has no die yet. Load dies.csv and stations.csv: strokeledger load FOLDER"
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
            (looked, between(scrap.low, scrap.high)) if scrap.inspected else ("no inspection",),
        ),
        Number("Coil yield", share(coil_yield(tables["coils"])), (f"{count(len(tables['coils']))} coils",)),
    )


def _per_shift(tables: Mapping[str, pd.DataFrame], names: Mapping[str, str]) -> pd.DataFrame:
    """One row a shift and press, newest first, in the words the table shows."""
    key = ["shift_date", "shift", "press_id"]
    scrap, stops = dict(iter(tables["scrap"].groupby(key))), dict(iter(tables["stops"].groupby(key)))
    none_scrap, none_stops = tables["scrap"].iloc[:0], tables["stops"].iloc[:0]
    rows = [
        _shift_row(group, part, scrap.get(group, none_scrap), stops.get(group, none_stops), names)
        for group, part in tables["shifts"].groupby(key)
    ]
    return pd.DataFrame(rows).iloc[::-1].reset_index(drop=True)


def _shift_row(
    group: tuple[Hashable, ...],
    part: pd.DataFrame,
    scrap: pd.DataFrame,
    stops: pd.DataFrame,
    names: Mapping[str, str],
) -> dict[str, str]:
    pieces, planned_s, running_s = (float(part[c].sum()) for c in ("pieces", "planned_s", "running_s"))
    total = scrap_total(scrap)
    reasons = stop_minutes(stops, names).head(1).to_dict("records")
    return {
        "Date": day(dt.date.fromisoformat(str(group[0]))),
        "Shift": str(group[1]),
        "Press": str(group[2]),
        "Pieces": count(pieces),
        "Good": count(part["good"].sum()),
        "Setting": count(part["setup_pieces"].sum()),
        "Scrap": share(total.rate) if total.inspected else UNKNOWN,
        "95 % interval": between(total.low, total.high) or UNKNOWN,
        "Rejected of inspected": f"{count(total.rejected)} of {count(total.inspected)}" if total.inspected else UNKNOWN,
        "By": ("sample" if total.estimate else "count") if total.inspected else UNKNOWN,
        "Parts/h planned": count(pieces * 3600 / planned_s) if planned_s else UNKNOWN,
        "Parts/h running": count(pieces * 3600 / running_s) if running_s else UNKNOWN,
        "Uptime": share(running_s / planned_s, 0) if planned_s else UNKNOWN,
        "Stood": duration(part["stopped_s"].sum()),
        "Longest reason": f"{reasons[0]['reason']}, {decimal(reasons[0]['minutes'], 0)} min" if reasons else UNKNOWN,
    }
