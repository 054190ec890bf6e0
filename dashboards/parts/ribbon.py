"""One shift of one press as tracks along time: what the press did, the strip it fed, the pieces of each hour.

Pure: figure rows go in, places in per cent of the shift come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from dashboards.ledger.picks import Pick, pack
from dashboards.ledger.records import Record, Records
from dashboards.request.formats import clock, count, duration, known, length, share, text
from dashboards.request.locale import key, say
from monitor.charts.style import kind_of
from monitor.reckoning.press.stops import BREAK, CLOSED, NO_REASON, NO_SHIFT
from shared.calendar import Calendar, ShiftWindow
from shared.durations import HOUR_US, MINUTE_US, SECOND_US

NAMED_US = 4 * MINUTE_US
"""A stop at least this long [us] is named above the ribbon; shorter ones are in the list below it."""

OWN_REASONS = (key("no reason yet"), key("break"), key("closed day"), key("no shift"))
"""Reasons that the reckoning gives where nobody did; all others are the plant's."""

PLAN_REASONS = (BREAK, CLOSED, NO_SHIFT)
"""Reasons of the shift plan itself, which nobody gives."""

NOT_SEEN = key("not seen")
"""Time between two readings in which nobody saw whether the press ran."""

_GAP_WORDS = {"run": ("", key("running")), "unknown": (key("not known"), key("not known: no reading tells"))}


@dataclass(frozen=True)
class Span:
    """A stretch of a track; `left` and `width` in per cent of the shift.

    `word` stands in or above it with `note` (how long) behind, `title` is what a pointer shows; `pick` is the stop
    that is picked by tapping it (see `dashboards.ledger.picks.pack`).
    """

    left: float
    width: float
    look: str
    word: str = ""
    title: str = ""
    note: str = ""
    pick: str = ""


@dataclass(frozen=True)
class Hour:
    """One clock hour: its label ("14"), pieces (None = not known), rejected pieces."""

    left: float
    width: float
    label: str
    pieces: int | None
    rejected: int


@dataclass(frozen=True)
class Axis:
    """The time a row shows; readings of the press reach to `seen_us`, those of the plant to `now_us`."""

    start_us: int
    end_us: int
    seen_us: int
    now_us: int

    @property
    def seen(self) -> int:
        """Newest reading of the press inside the shift."""
        return max(self.start_us, min(self.seen_us, self.end_us))

    @property
    def now(self) -> int:
        """Newest reading of the plant inside the shift."""
        return max(self.start_us, min(self.now_us, self.end_us))

    def place(self, at_us: float) -> float:
        """Place in per cent of the shift, 0 to 100."""
        part = (at_us - self.start_us) / (self.end_us - self.start_us)
        return round(100 * min(max(part, 0.0), 1.0), 3)

    def span(
        self,
        from_us: float,
        to_us: float,
        look: str,
        *,
        word: str = "",
        title: str = "",
        note: str = "",
        pick: str = "",
    ) -> list[Span]:
        """The stretch cut at the ends of the shift, its words as in Span; empty where nothing of it is inside."""
        left, right = self.place(from_us), self.place(to_us)
        if right <= left:
            return []
        return [Span(left, round(right - left, 3), look, word=word, title=title, note=note, pick=pick)]


def press_track(
    axis: Axis,
    window: ShiftWindow,
    stops: Records,
    hours: Records,
    calendar: Calendar,
    names: Mapping[str, str],
    unseen: Records = (),
) -> list[Span]:
    """Running, standing with its reason, not seen, not known, and the breaks still ahead, in order of time.

    `stops`, `hours`: figure rows of this press; a stop without an end stands until the newest reading.  `unseen`:
    stretches from_us to to_us [us] in which nobody saw whether it ran.
    """
    standing = _standing(axis, stops)
    dark = _unseen(axis, unseen)
    spans = [span for at, to, row in standing for span in _stop(axis, at, to, row, calendar=calendar, names=names)]
    for at, to in dark:
        title = _unseen_title(at, to, calendar)
        spans += axis.span(at, to, "unseen", word=say(NOT_SEEN), title=title, note=duration((to - at) / SECOND_US))
    spans += _between_stops(axis, sorted([*dark, *((at, to) for at, to, _ in standing)]), hours, calendar)
    spans += axis.span(
        axis.seen, axis.now, "unknown", word=say("silent"), title=say("no reading of this counter since")
    )
    for start, end in window.breaks:
        spans += axis.span(max(start, axis.now), end, "ahead", word=say(BREAK), title=say("planned break"))
    return sorted(spans, key=lambda span: span.left)


def callouts(track: Iterable[Span], axis: Axis) -> list[Span]:
    """The words above the ribbon: each begins at its stretch and has room up to the next one."""
    shortest = 100 * NAMED_US / (axis.end_us - axis.start_us)
    named = [span for span in track if span.word and span.width >= shortest]
    ends = [*(span.left for span in named), 100.0][1:]
    return [
        replace(span, width=round(end - span.left, 3)) for span, end in zip(named, ends, strict=True) if end > span.left
    ]


def strip_track(axis: Axis, coils: Records, calendar: Calendar, runs_out_us: float | None) -> list[Span]:
    """Coils along the strip, and how far the one on the press will last at the present rate."""
    spans: list[Span] = []
    for row in coils:
        start, end = _span_of(row, "mounted_at", "removed_at", axis)
        if start is None or start >= axis.seen:
            continue
        word = say("{coil} · lot {lot}", coil=row["coil_id"], lot=row["lot"]) if known(row["lot"]) else row["coil_id"]
        spans += axis.span(start, min(end, axis.seen), "coil", word=word, title=_coil_title(row))
    if runs_out_us is not None and axis.now < axis.end_us:
        until = clock(runs_out_us, calendar)
        title = say("strip lasts to about {clock}", clock=until)
        spans += axis.span(axis.now, runs_out_us, "coil-ahead", word=say("to {clock}", clock=until), title=title)
    return sorted(spans, key=lambda span: span.left)


def reject_track(axis: Axis, rejects: Records, calendar: Calendar) -> list[Span]:
    """Stretches of strip in which an inspection found rejects, where they were made and not when they were found."""
    spans: list[Span] = []
    for row in sorted(rejects, key=lambda row: (row["from_us"], row["to_us"])):
        start, end = clock(row["from_us"], calendar), clock(row["to_us"], calendar)
        told = {"causes": row["causes"] or "–", "rejected": count(row["rejected"]), "start": start, "end": end}
        title = say("{rejected} pieces rejected ({causes}), made {start} to {end}", **told)
        spans += axis.span(row["from_us"], max(row["to_us"], row["from_us"] + SECOND_US), "reject", title=title)
    return spans


def hour_track(axis: Axis, hours: Records, calendar: Calendar) -> list[Hour]:
    """Every clock hour of the shift with its pieces; hours after the newest reading have none."""
    counts: dict[int, tuple[int, int]] = {}
    for row in hours:
        at = row["hour_start"]
        pieces, rejected = counts.get(at, (0, 0))
        counts[at] = (pieces + row["pieces"], rejected + row["rejected"])
    cells = []
    for start in _hour_starts(axis, calendar):
        left, right = axis.place(start), axis.place(start + HOUR_US)
        cells.append(
            Hour(left, round(right - left, 3), f"{calendar.local_time(start):%H}", *counts.get(start, (None, 0)))
        )
    return cells


def reason_name(reason: str, names: Mapping[str, str]) -> str:
    """Name of a reason as the plant calls it, its code where it has none."""
    return names.get(reason) or (say(reason) if reason in OWN_REASONS else reason) or say(NO_REASON)


def _hour_starts(axis: Axis, calendar: Calendar) -> list[int]:
    return calendar.hour_starts(axis.start_us - HOUR_US + 1, axis.end_us)


def _standing(axis: Axis, stops: Records) -> list[tuple[int, int, Record]]:
    rows = []
    for row in stops:
        start, end = _span_of(row, "start_at", "end_at", axis)
        if start is not None and start < axis.end_us and end > axis.start_us:
            rows.append((max(start, axis.start_us), min(end, axis.end_us), row))
    return sorted(rows, key=lambda stop: stop[:2])


def _span_of(row: Record, begin: str, end: str, axis: Axis) -> tuple[int | None, int]:
    """Two moments of a row [us]; what has not ended lasts until the newest reading."""
    return row[begin] if known(row[begin]) else None, row[end] if known(row[end]) else axis.seen


def _unseen(axis: Axis, unseen: Records) -> list[tuple[int, int]]:
    """Stretches that nobody saw, cut at the ends of the shift and joined where a break or a die parts them."""
    joined: list[tuple[int, int]] = []
    for start, end in sorted((int(row["from_us"]), int(row["to_us"])) for row in unseen):
        at, to = max(start, axis.start_us), min(end, axis.end_us)
        if at < to:
            first = joined.pop()[0] if joined and joined[-1][1] == at else at
            joined.append((first, to))
    return joined


def _unseen_title(at: int, to: int, calendar: Calendar) -> str:
    start, end = clock(at, calendar), clock(to, calendar)
    lasted = duration((to - at) / SECOND_US)
    return say("not seen: {start} to {end}, {lasted}; no reading in between", start=start, end=end, lasted=lasted)


def unseen_words(window: ShiftWindow, unseen: Records, calendar: Calendar) -> tuple[str, ...]:
    """The stretches of a shift that nobody saw, each in words."""
    axis = Axis(window.start_us, window.end_us, window.end_us, window.end_us)
    return tuple(_unseen_title(at, to, calendar) for at, to in _unseen(axis, unseen))


def _stop(axis: Axis, at: int, to: int, row: Record, calendar: Calendar, names: Mapping[str, str]) -> list[Span]:
    reason, kind = text(row["reason"]), text(row["kind"])
    word, lasted = reason_name(reason, names), duration((to - at) / SECOND_US)
    start, end = clock(at, calendar), clock(to, calendar)
    told = {"reason": word, "start": start, "end": end, "lasted": lasted}
    title = say("{reason}: {start} to {end}, {lasted}", **told)
    if not known(row["end_at"]):
        title = say("{reason}: {start}, still standing, {lasted}", **told)
    note = "" if reason == BREAK else lasted
    pick = "" if reason in PLAN_REASONS else pack([pick_of(row)])
    return axis.span(at, to, f"kind-{kind_of(kind)}", word=word, title=title, note=note, pick=pick)


def pick_of(row: Record) -> Pick:
    """The stop of a row of `stops`, to be picked."""
    return Pick(text(row["press_id"]), int(row["start_at"]), int(row["end_at"]) if known(row["end_at"]) else None)


def _between_stops(axis: Axis, standing: Iterable[tuple[int, int]], hours: Records, calendar: Calendar) -> list[Span]:
    """Time between stops: running where the hour has running time, else not known (no reading tells)."""
    ran = {row["hour_start"] for row in hours if row["running_s"] > 0}
    looks = [(start, "run" if start in ran else "unknown") for start in _hour_starts(axis, calendar)]
    spans: list[Span] = []
    at = axis.start_us
    for start, end in (*standing, (axis.seen, axis.seen)):
        spans += _gap(axis, at, min(start, axis.seen), looks)
        at = max(at, end)
    return spans


def _gap(axis: Axis, from_us: int, to_us: int, looks: list[tuple[int, str]]) -> list[Span]:
    """One stretch between stops, cut where the look changes from hour to hour."""
    spans: list[Span] = []
    for look, group in groupby(looks, key=lambda hour: hour[1]):
        starts = [start for start, _ in group]
        start, end = max(from_us, starts[0]), min(to_us, starts[-1] + HOUR_US)
        if start < end:
            word, title = _GAP_WORDS[look]
            spans += axis.span(start, end, look, word=say(word), title=say(title))
    return spans


def _coil_title(row: Record) -> str:
    parts = [
        say("coil {coil}", coil=row["coil_id"]),
        say("lot {lot}", lot=row["lot"]) if known(row["lot"]) else "",
        say("heat {heat}", heat=row["heat"]) if known(row["heat"]) else "",
        say("{length} used", length=length(row["used_m"])),
        say("{n} of {all} pieces rejected", n=count(row["rejected"]), all=count(row["pieces"])),
        say("yield {share}", share=share(row["coil_yield"])),
    ]
    return ", ".join(part for part in parts if part)
