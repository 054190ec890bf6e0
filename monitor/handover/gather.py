"""Gathers what a shift hands over from one version of the ledger."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from monitor.figures import ask
from monitor.figures.contradictions import contradicting
from monitor.figures.genealogy.holds import holds
from monitor.figures.judgement.alarms import alarms
from monitor.figures.judgement.series import RENEWED
from monitor.figures.judgement.service import service_rows
from monitor.handover.model import (
    AlarmLine,
    CoilLine,
    ContradictionLine,
    DueLine,
    HandOver,
    HoldLine,
    NoteLine,
    PressLine,
    ScrapLine,
    StopLine,
)
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record, plant_of
from monitor.plant.carries import newest_readings
from monitor.plant.order_pace import order_paces
from monitor.plant.records import records
from monitor.reckoning.press.stops import BREAK, CLOSED, NO_SHIFT
from monitor.reckoning.statistics.band import usual_band
from shared.calendar import ShiftWindow
from shared.durations import DAY_US, FOREVER_US, WEEK_US

#: A stop longer than this is told one by one [s].
LONG_S = 300.0
#: Days before the shift whose counts say what is usual; common practice, no source.
USUAL_DAYS = 28
#: How long after the end of the shift an edge may fall due to be told now [us].
DUE_US = DAY_US

_DAY = dt.timedelta(days=1)
_OF_THE_PLAN = (BREAK, CLOSED, NO_SHIFT)


def hand_over(snapshot: Snapshot, date: dt.date | None = None, shift: str = "", press: str = "") -> HandOver:
    """Return what a shift hands over, of all presses or one; by default the shift of the newest reading.

    Where there is no such shift, `lack` says so.
    """
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    seen = newest_readings(snapshot)
    day = date or book.day_of(max(seen.values(), default=0))
    names = sorted({*book.page(day).presses, *seen})
    names = [name for name in names if press in ("", name)]
    if not seen or not names:
        return HandOver(lack=f"There is no press “{press}”." if seen else "No counter has been read yet.")
    windows = _windows(book, names, max(seen.values()), date, shift)
    if not windows:
        return HandOver(date=date, shift=shift, lack="There is no such shift on that day.")
    first = next(iter(windows.values()))
    same = {name: window for name, window in windows.items() if window[:2] == first[:2]}
    return _Gathering(snapshot, book, window=first, windows=same, newest_us=max(seen.values()), press=press).result()


def _windows(
    book: Book, presses: list[str], newest_us: int, date: dt.date | None, shift: str
) -> dict[str, tuple[dt.date, str, int, int]]:
    """Return, by press, shift date, shift, start and end [us] of the shift asked for."""
    found: dict[str, tuple[dt.date, str, int, int]] = {}
    for press_id in presses:
        at_us = newest_us if date is None else book.calendar.day_start_us(date) + 2 * WEEK_US // 7
        around = book.calendar.shifts(press_id, at_us - WEEK_US, at_us)
        mine = [window for window in around if _asked(window, date, shift)]
        if mine:
            last = mine[-1] if date is None else mine[0]
            found[press_id] = (last.shift_date, last.shift, last.start_us, last.end_us)
    latest = max(found.values(), key=lambda window: window[2], default=None)
    # By default all presses tell of the same shift, the newest of them; the first in the list names it.
    return dict(sorted(found.items(), key=lambda item: item[1][:2] != latest[:2])) if latest else {}


def _asked(window: ShiftWindow, date: dt.date | None, shift: str) -> bool:
    return shift in ("", window.shift) and date in (None, window.shift_date)


@dataclass(frozen=True)
class _Gathering:
    """One shift of some presses in one version of the ledger."""

    snapshot: Snapshot
    book: Book
    window: tuple[dt.date, str, int, int]
    windows: Mapping[str, tuple[dt.date, str, int, int]]
    newest_us: int
    press: str

    def result(self) -> HandOver:
        date, shift, start_us, end_us = self.window
        return HandOver(
            plant=self.book.plant.name,
            date=date,
            shift=shift,
            start_us=start_us,
            end_us=end_us,
            newest_us=self.newest_us,
            zone=self.book.plant.timezone,
            version=self.snapshot.version,
            over=self.newest_us >= end_us,
            presses=tuple(self._presses()),
            stops=tuple(self._stops()),
            scrap=tuple(self._scrap()),
            coils=tuple(self._coils()),
            due=tuple(self._due()),
            alarms=tuple(self._alarms()),
            holds=tuple(self._holds()),
            notes=tuple(self._notes()),
            contradictions=tuple(self._contradictions()),
            set_aside=len(self.snapshot.set_aside_rows()),
        )

    def _figure(self, name: str) -> pd.DataFrame:
        """Return the rows of the shift; a coil that was in use on its date."""
        date, shift = self.window[:2]
        begin, end = date.isoformat(), (date + _DAY).isoformat()
        rows = ask(self.snapshot, name, from_=begin, to=end, press=self.press or None, book=self.book)
        return rows[rows["shift"] == shift] if "shift" in rows else rows

    @cached_property
    def _held(self) -> Mapping[str, Sequence[Record]]:
        """Return the tables of the plant book as they stood on the day of the shift."""
        return self.book.as_of(self.window[0]).tables

    @cached_property
    def _ran(self) -> pd.DataFrame:
        return self._figure("shifts")

    def _contradictions(self) -> Iterator[ContradictionLine]:
        """Yield what cannot all be true of what was noted in the shift, or of what its figures are made of."""
        begin_us, end_us = self.window[2:]
        found = contradicting(self.snapshot, from_=begin_us, to=end_us, press=self.press or None)
        for one in found:
            presses = [press_id for press_id in one.presses if press_id in self.windows]
            if presses or not one.presses:
                yield ContradictionLine(", ".join(presses), one.at_us, one.code, one.remedy)

    def _presses(self) -> Iterator[PressLine]:
        presses = self.book.page(self.window[0]).presses
        paces = order_paces(self.snapshot, self.book.calendar) if self.newest_us < self.window[3] else {}
        for press_id in sorted(self.windows):
            rows = self._ran[self._ran["press_id"] == press_id]
            yield PressLine(
                press_id,
                presses.get(press_id, {}).get("name") or "",
                dies=", ".join(sorted(set(rows["die_id"]) - {""})),
                parts=", ".join(sorted(set(rows["part_no"]) - {""})),
                pieces=int(rows["pieces"].sum()),
                good=_whole_sum(rows["good"]),
                setup_pieces=_whole_sum(rows["setup_pieces"]),
                plan=self._plan(press_id, rows),
                running_s=float(rows["running_s"].sum()),
                stopped_s=float(rows["stopped_s"].sum()),
                planned_s=float(rows["planned_s"].sum()),
                unresolved_s=float(rows["unresolved_s"].sum()),
                order=paces.get(press_id),
            )

    def _plan(self, press_id: str, rows: pd.DataFrame) -> float | None:
        """Return the pieces that the planned time holds at rated speed; None where a die has no rate."""
        page, total = self.book.page(self.window[0]), 0.0
        for die_id, mine in rows[rows["die_id"] != ""].groupby("die_id"):
            die = page.dies.get(str(die_id))
            if die is None:
                return None
            spm = min(die.rated_spm, page.presses.get(press_id, {}).get("rated_spm") or die.rated_spm)
            total += spm * len(die.outs) * float(mine["planned_s"].sum()) / 60
        return total or None

    def _stops(self) -> Iterator[StopLine]:
        rows = self._figure("stops")
        rows = rows[
            (rows["seconds"] > LONG_S) & ~rows["reason"].isin(_OF_THE_PLAN) & rows["press_id"].isin(self.windows)
        ]
        names = {row["reason"]: row["name"] or "" for row in self._held["reasons"]}
        for row in rows.sort_values(["press_id", "start_at"]).to_dict("records"):
            reason = names.get(row["reason"]) or row["reason"]
            yield StopLine(
                row["press_id"],
                start_us=row["start_at"],
                end_us=_whole(row["end_at"]),
                seconds=row["seconds"],
                reason=reason,
                kind=row["kind"],
            )

    def _scrap(self) -> Iterator[ScrapLine]:
        """Yield causes found in the shift, or less than usual; above the band first, then the most pieces."""
        date, shift = self.window[:2]
        facts = self.snapshot.facts(
            "rejects", from_date=date - USUAL_DAYS * _DAY, to_date=date + _DAY, press_id=self.press or None
        )
        facts = facts[facts["setup"] == 0]
        now = (facts["shift_date"] == date.isoformat()) & (facts["shift"] == shift)
        lines = [
            line
            for (die_id, kind), mine in facts.groupby(["die_id", "kind"])
            for line in _causes(str(die_id), str(kind), mine, now[mine.index], self._causes)
        ]
        return iter(sorted(lines, key=lambda line: (line.out != "above", -line.rejected, line.die_id, line.cause)))

    @cached_property
    def _causes(self) -> dict[str, str]:
        """Return the names of the causes, by their code."""
        return {row["cause"]: row["name"] or "" for row in self._held["causes"]}

    def _coils(self) -> Iterator[CoilLine]:
        end_us = min(self.window[3], self.newest_us)
        rows = self._figure("coils")
        # Strip of which nobody noted when it was mounted was on the press before anything was noted.
        mounted_us, removed_us = rows["mounted_at"].fillna(-FOREVER_US), rows["removed_at"].fillna(FOREVER_US)
        on = rows[(mounted_us <= end_us) & (removed_us > end_us)]
        on = on[on["coil_id"] != ""].sort_values(["press_id", "mounted_at"])
        later = self._used_later(set(on["coil_id"]))
        for row in on.to_dict("records"):
            part = later.get((row["press_id"], row["coil_id"]), 0) / row["strokes"] if row["strokes"] else None
            left_kg = row["start_kg"] if part is None else row["remaining_kg"] + row["used_kg"] * part
            per_m = row["used_kg"] / row["used_m"] if row["used_m"] else float("nan")
            left_m = left_kg / per_m if per_m > 0 else float("nan")
            yield CoilLine(row["press_id"], row["coil_id"], row["lot"], _known(left_kg), _known(left_m))

    def _used_later(self, coils: set[str]) -> dict[tuple[str, str], int]:
        """Return the strokes that coils made on a press after the shift, by press and coil."""
        mounts = self.snapshot.facts("mounts", where=("coil_id", coils))
        named = dict(zip(mounts["mounting_id"], mounts["coil_id"], strict=True))
        strokes = self.snapshot.facts("strokes", from_date=self.window[0], where=("mounting_id", set(named)))
        strokes = strokes[strokes["from_us"] >= self.window[3]]
        return strokes.groupby(["press_id", strokes["mounting_id"].map(named)])["fed"].sum().to_dict()  # type: ignore[return-value]

    def _due(self) -> Iterator[DueLine]:
        """Yield the edges of dies that ran in the shift that are due, or will be within a day."""
        soon_us = self.window[3] + DUE_US
        stations: dict[tuple[str, int | None, int | None, int | None], list[int]] = {}
        for row in self._service():
            strokes, every = (_whole(row[name]) for name in ("strokes_since_sharpening", "sharpen_every_strokes"))
            over = strokes is not None and every is not None and strokes >= every
            due_us = _whole(row["expected_due_at"])
            if over or (due_us is not None and due_us <= soon_us):
                same = (row["die_id"], strokes, every, due_us)
                stations.setdefault(same, []).append(int(row["station"]))
        for (die_id, strokes, every, due_us), numbers in stations.items():
            yield DueLine(die_id, tuple(numbers), strokes, every, due_us)

    def _service(self) -> Iterator[dict[Any, Any]]:
        """Yield rows of `service` of the dies that ran; inspections are asked only where no interval is entered."""
        # Of an edge that was never renewed nobody knows how worn it is.
        known = {row["die_id"] for row in records(self.snapshot.rows("die_service")) if row["work"] in RENEWED}
        ran = sorted(set(self._ran["die_id"]) & known)
        entered = {row["die_id"] for row in self._held["dies"] if row["sharpen_every_strokes"]}
        yield from service_rows(
            self.snapshot, self.book.as_of(self.window[0]), {}, [die for die in ran if die in entered], self.window[3]
        ).to_dict("records")
        for die in ran:
            if die not in entered:
                yield from ask(self.snapshot, "service", to=self.window[3], die=die).to_dict("records")

    def _alarms(self) -> Iterator[AlarmLine]:
        table = alarms(self.snapshot, self.window[0], self.window[2], self.window[3])
        for row in table[table["press_id"].isin(self.windows)].to_dict("records"):
            name = self._causes.get(row["cause"], "")
            yield AlarmLine(
                row["press_id"],
                row["die_id"],
                row["cause"],
                name=name,
                at_us=row["at_us"],
                rejected=int(row["rejected"]),
                inspected=int(row["inspected"]),
                usual=row["usual"],
            )

    def _holds(self) -> Iterator[HoldLine]:
        for row in holds(self.snapshot, everything=True).to_dict("records"):
            stands = pd.isna(row["lifted_at"]) or row["lifted_at"] > self.window[3]
            if stands and row["placed_at"] < self.window[3]:
                yield HoldLine(row["hold_id"], row["scope"], row["value"], row["reason"], int(row["placed_at"]))

    def _notes(self) -> Iterator[NoteLine]:
        date, shift = self.window[:2]
        for row in records(self.snapshot.rows("notes")):
            about = row["press_id"] or ""
            if (row["shift_date"], row["shift"]) == (date, shift) and (not about or about in self.windows):
                yield NoteLine(row["note_id"], about, row["time"], row["note"])


def _causes(
    die_id: str, kind: str, rejects: pd.DataFrame, now: pd.Series[bool], names: Mapping[str, str]
) -> Iterator[ScrapLine]:
    """Yield the causes of one die and kind of inspection in the shift, beside their usual band."""
    inspected = rejects.groupby(["shift_date", "shift"])["inspected"].sum()
    here = rejects[now]
    looked = int(here["inspected"].sum())
    if not looked:
        return
    earlier = inspected.drop(index=[(here["shift_date"].iloc[0], here["shift"].iloc[0])])
    for cause in sorted(set(rejects["cause"]) - {""}):
        mine = rejects[rejects["cause"] == cause]
        found = mine.groupby(["shift_date", "shift"])["rejected"].sum()
        rejected = int(mine.loc[now[mine.index], "rejected"].sum())
        band = usual_band(found.reindex(earlier.index).fillna(0).to_numpy(float), earlier.to_numpy(float), looked)
        low, high = (band.low, band.high) if band else (None, None)
        line = ScrapLine(
            press_id=str(here["press_id"].iloc[-1]),
            die_id=die_id,
            cause=cause,
            name=names.get(cause, ""),
            kind=kind,
            rejected=rejected,
            inspected=looked,
            low=low,
            high=high,
        )
        if rejected or line.out:
            yield line


def _known(value: float) -> float | None:
    return None if pd.isna(value) else max(0.0, float(value))


def _whole(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)


def _whole_sum(counts: pd.Series) -> int | None:
    """Return the sum of counts; None where one of them is not known, since the others alone would look like all."""
    return None if counts.isna().any() else int(counts.sum())
