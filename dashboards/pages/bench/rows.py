"""What the bench hands out as rows: those of the look that is kept, under their own column names, in SI units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import pandas as pd

from dashboards.ledger.version import LedgerVersion
from dashboards.pages.bench.model import BenchView, load_bench, look_of
from dashboards.pages.bench.tables import wear_bins
from dashboards.request.url import View
from monitor.figures.judgement.suspects import suspects_table

Rows = Callable[[LedgerVersion, View], pd.DataFrame]

_NOTHING = pd.DataFrame()
_MOMENTS = {"from_us": "from_at", "to_us": "to_at"}


def lines(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `suspects` of the die and cause shown, of all where none is."""
    shown, seen = load_bench(reading, view), look_of(reading, view)
    if shown.bench is not None:
        return suspects_table(shown.bench.case.lines)
    return _NOTHING if seen is None else suspects_table(seen.lines)


def coil_rates(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """A row a stay of a coil on a press; see `monitor.figures.judgement.bench.coil_runs`."""
    bench = load_bench(reading, view).bench
    return _NOTHING if bench is None else _dated(reading, bench.case.coils)


def stretches(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """The stretches of pieces that the line shown calls bad."""
    sides = load_bench(reading, view).sides
    if sides is None:
        return _NOTHING
    at = reading.clock.local_iso(sides.bad["to_us"].tolist())
    return _dated(reading, sides.bad.assign(setup_id=sides.bad["setup_id"].map(str), at=at))


def stations(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """The stations of the die, with the rows of the figure `service`."""
    bench = load_bench(reading, view).bench
    return _NOTHING if bench is None else reading.exported("service", bench.stations)


def wear(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """Rows of the figure `wear` of the die and cause shown."""
    shown = load_bench(reading, view)
    return _NOTHING if shown.bench is None else _named(shown, wear_bins(shown.bench.case))


def certificate_values(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """A row a coil and certificate value or own test."""
    bench = load_bench(reading, view).bench
    return _NOTHING if bench is None else bench.certificates


DOWNLOADS: Mapping[str, Rows] = MappingProxyType(
    {
        "suspects": lines,
        "coil_rates": coil_rates,
        "stretches": stretches,
        "stations": stations,
        "wear": wear,
        "certificate_values": certificate_values,
    }
)
"""Name of what is taken away -> its rows for a view."""


def _named(shown: BenchView, rows: pd.DataFrame) -> pd.DataFrame:
    named = rows.assign(die_id=shown.view.die, cause=shown.view.cause)
    return named[["die_id", "cause", *rows.columns]]


def _dated(reading: LedgerVersion, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with their moments as ISO 8601 text instead of microseconds."""
    calendar = reading.calendar()
    if calendar is None:
        return rows
    told = {name: calendar.local_iso(rows[name].tolist()) for name in _MOMENTS if name in rows}
    return rows.assign(**told).rename(columns=_MOMENTS)
