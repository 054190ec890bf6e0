"""The hand-over put into words: a title, facts about it, and parts of rows; page and paper both show these."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import groupby

from monitor.figures.contradictions import KINDS
from monitor.handover.model import HandOver, PressLine, ScrapLine, StopLine
from monitor.plant.order_pace import OrderPace
from shared.calendar import Calendar
from shared.words import Words

_UNKNOWN = "–"


@dataclass(frozen=True)
class SheetColumn:
    """A column: its heading, whether it holds numbers, and its share of the width (0 = as narrow as it can be)."""

    label: str
    number: bool = False
    wide: int = 0


@dataclass(frozen=True)
class SheetPart:
    """A part of the sheet; `none` stands where it has no rows, `loud` are the rows that call for somebody."""

    name: str
    title: str
    columns: tuple[SheetColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    none: str
    loud: frozenset[int] = frozenset()


@dataclass(frozen=True)
class HandoverSheet:
    """A hand-over in the words of one language."""

    title: str
    subtitle: str
    facts: tuple[str, ...]
    parts: tuple[SheetPart, ...]


def sheet(told: HandOver, words: Words, calendar: Calendar) -> HandoverSheet:
    """Return the hand-over in words; `calendar` is the plant's, whose clock times are written in."""
    say, date = words.say, told.date or dt.date.min
    start, end, newest = (_clock(us, calendar) for us in (told.start_us, told.end_us, told.newest_us))
    upto = say("The shift is over") if told.over else say("So far, readings up to {time}", time=newest)
    facts = [
        say("{start} to {end}, plant time {zone}", start=start, end=end, zone=told.zone),
        upto,
        say("ledger version {version}", version=told.version),
        words.say_n(told.set_aside, "{n} row set aside", "{n} rows set aside"),
    ]
    makers = (_stops, _scrap, _coils, _due, _alarms, _holds, _notes)
    output, contradictions = _output(told, words, calendar), _contradictions(told, words, calendar)
    parts = (output, *contradictions, *(make(told, words, calendar) for make in makers))
    subtitle = say("{shift} shift, {date}", shift=told.shift, date=words.date(date))
    return HandoverSheet(say("Hand-over"), subtitle, tuple(facts), parts)


def _output(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Press")),
        SheetColumn(say("Die, part"), wide=3),
        SheetColumn(say("Pieces"), number=True),
        SheetColumn(say("Plan"), number=True),
        SheetColumn(say("Of plan"), number=True),
        SheetColumn(say("Good"), number=True),
        SheetColumn(say("Ran"), number=True),
        SheetColumn(say("Stood"), number=True),
        *([SheetColumn(say("Not seen"), number=True)] if _unseen(told) else []),
        SheetColumn(say("Order"), wide=5),
    )
    rows = [_press(line, words, calendar, _unseen(told)) for line in told.presses]
    loud = frozenset(n for n, line in enumerate(told.presses) if line.order and line.order.late)
    return SheetPart(
        "output", say("Output against plan"), columns=columns, rows=tuple(rows), none=say("No press ran."), loud=loud
    )


def _unseen(told: HandOver) -> bool:
    """Tell whether there is planned time in which nobody saw whether a press ran."""
    return any(line.unresolved_s for line in told.presses)


def _press(line: PressLine, words: Words, calendar: Calendar, unseen: bool) -> tuple[str, ...]:
    plan = line.plan
    return (
        line.press_id,
        ", ".join(text for text in (line.dies, line.parts) if text) or words.say("no die"),
        words.number(line.pieces),
        words.number(plan) if plan else _UNKNOWN,
        words.per_cent(line.pieces / plan, 0) if plan else _UNKNOWN,
        _UNKNOWN if line.good is None else words.number(line.good),
        words.duration(line.running_s),
        words.duration(line.stopped_s),
        *([words.duration(line.unresolved_s)] if unseen else []),
        order_text(line.order, words, calendar) if line.order else "",
    )


def order_text(order: OrderPace, words: Words, calendar: Calendar) -> str:
    """Return an order in one line: done of its quantity, when it will be, and when it is due."""
    say = words.say
    low_us, high_us = order.ends_low_us, order.ends_high_us
    told = [say("{done} of {all}", done=words.number(order.done), all=words.number(order.quantity))]
    if order.done >= order.quantity:
        told.append(say("done"))
    elif low_us is not None and high_us is not None:
        low, high = _moment(low_us, words, calendar), _moment(high_us, words, calendar)
        same_day = calendar.local_time(low_us).date() == calendar.local_time(high_us).date()
        told.append(say("done {low} to {high}", low=low, high=_clock(high_us, calendar) if same_day else high))
    elif order.ends_us is not None:
        told.append(say("done about {time}", time=_moment(order.ends_us, words, calendar)))
    if order.due_us is not None:
        due = _moment(order.due_us, words, calendar)
        told.append(say("late, due {time}", time=due) if order.late else say("due {time}", time=due))
    return f"{order.order_id}: {', '.join(told)}"


def _stops(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Press")),
        SheetColumn(say("When and why"), wide=1),
        SheetColumn(say("Together"), number=True),
    )
    rows = []
    for press_id, group in groupby(told.stops, key=lambda line: line.press_id):
        lines = list(group)
        total = words.duration(sum(line.seconds for line in lines))
        rows.append((press_id, "; ".join(_stop(line, words, calendar) for line in lines), total))
    none = say("No press stood longer than 5 minutes.")
    return SheetPart("stops", say("Stops over 5 minutes"), columns, tuple(rows), none)


def _stop(line: StopLine, words: Words, calendar: Calendar) -> str:
    start, end = _clock(line.start_us, calendar), _clock(line.end_us, calendar)
    span = f"{start}–{end}" if end else words.say("since {time}", time=start)
    reason = line.reason if line.kind else words.say("no reason yet")
    return f"{span} {reason} ({words.duration(line.seconds)})"


def _scrap(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Press")),
        SheetColumn(say("Die"), wide=1),
        SheetColumn(say("Cause"), wide=3),
        SheetColumn(say("By"), wide=1),
        SheetColumn(say("Rejected"), number=True),
        SheetColumn(say("Inspected"), number=True),
        SheetColumn(say("Usual"), number=True, wide=1),
        SheetColumn(say("Compared"), wide=1),
    )
    rows = tuple(_cause(line, words) for line in told.scrap)
    loud = frozenset(n for n, line in enumerate(told.scrap) if line.out == "above")
    title = say("Scrap by cause against its usual band")
    return SheetPart(
        "scrap", title, columns=columns, rows=rows, none=say("No rejects were found in this shift."), loud=loud
    )


def _cause(line: ScrapLine, words: Words) -> tuple[str, ...]:
    say = words.say
    kinds = {"full": say("every piece"), "sample": say("sample"), "tub": say("reject tub")}
    verdicts = {"above": say("above"), "below": say("below"), "": say("as usual")}
    known = line.low is not None and line.high is not None
    usual = say("{low} to {high}", low=words.number(line.low or 0), high=words.number(line.high or 0))
    return (
        line.press_id,
        line.die_id,
        f"{line.cause} {line.name}".strip(),
        kinds.get(line.kind, line.kind),
        words.number(line.rejected),
        words.number(line.inspected),
        usual if known else _UNKNOWN,
        verdicts[line.out] if known else say("too little to tell"),
    )


def _coils(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Press")),
        SheetColumn(say("Coil"), wide=2),
        SheetColumn(say("Lot"), wide=2),
        SheetColumn(say("Strip left"), number=True, wide=1),
        SheetColumn(say("Weight"), number=True, wide=1),
    )
    rows = tuple(
        (
            line.press_id,
            line.coil_id,
            line.lot,
            _amount(line.left_m, "m", words),
            _amount(line.left_kg, "kg", words),
        )
        for line in told.coils
    )
    return SheetPart("coils", say("Coils on the presses"), columns, rows, say("No coil is noted on any press."))


def _due(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Die"), wide=1),
        SheetColumn(say("Stations"), wide=2),
        SheetColumn(say("Strokes since"), number=True, wide=1),
        SheetColumn(say("Interval"), number=True, wide=1),
        SheetColumn(say("Due"), wide=2),
    )
    rows, loud = [], set()
    for n, line in enumerate(told.due):
        over = line.strokes is not None and line.every is not None and line.strokes >= line.every
        due = say("overdue") if over else _moment(line.due_us, words, calendar)
        counts = (_UNKNOWN if value is None else words.number(value) for value in (line.strokes, line.every))
        rows.append((line.die_id, ", ".join(map(str, line.stations)), *counts, due))
        loud |= {n} if over else set()
    none = say("No edge of these dies falls due within a day.")
    return SheetPart(
        "due", say("Dies due for sharpening"), columns=columns, rows=tuple(rows), none=none, loud=frozenset(loud)
    )


def _alarms(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (
        SheetColumn(say("Press")),
        SheetColumn(say("Die"), wide=1),
        SheetColumn(say("Cause"), wide=3),
        SheetColumn(say("Called"), wide=1),
        SheetColumn(say("Rejected"), number=True, wide=1),
        SheetColumn(say("Usual rate"), number=True, wide=1),
    )
    rows = tuple(
        (
            line.press_id,
            line.die_id,
            f"{line.cause} {line.name}".strip(),
            _clock(line.at_us, calendar),
            say(
                "{rejected} of {inspected}",
                rejected=words.number(line.rejected),
                inspected=words.number(line.inspected),
            ),
            words.per_cent(line.usual, 2),
        )
        for line in told.alarms
    )
    title, none = say("Alarms of the watch on scrap"), say("The watch called nothing in this shift.")
    return SheetPart("alarms", title, columns=columns, rows=rows, none=none, loud=frozenset(range(len(rows))))


def _holds(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    scopes = {
        "coil": say("coil {name}"), "lot": say("lot {name}"), "heat": say("heat {name}"), "die": say("die {name}"),
        "container": say("container {name}"), "range": say("press {name}"),
    }  # fmt: skip
    columns = (
        SheetColumn(say("Hold")),
        SheetColumn(say("On"), wide=2),
        SheetColumn(say("Since"), wide=2),
        SheetColumn(say("Why"), wide=5),
    )
    rows = tuple(
        (
            line.hold_id,
            scopes.get(line.scope, "{name}").replace("{name}", line.value),
            _moment(line.placed_us, words, calendar),
            line.reason,
        )
        for line in told.holds
    )
    return SheetPart(
        "holds",
        say("Open holds"),
        columns=columns,
        rows=rows,
        none=say("No hold is open."),
        loud=frozenset(range(len(rows))),
    )


def _contradictions(told: HandOver, words: Words, calendar: Calendar) -> tuple[SheetPart, ...]:
    """Say which rows cannot all be true, beside the output they affect; a shift without any says nothing of it."""
    if not told.contradictions:
        return ()
    say = words.say
    columns = (SheetColumn(say("Press")), SheetColumn(say("When")), SheetColumn(say("What cannot be"), wide=2),
               SheetColumn(say("What to do"), wide=7))  # fmt: skip
    rows = tuple(
        (line.press_id, _clock(line.at_us, calendar), say(KINDS[line.code]), words.again(line.remedy))
        for line in told.contradictions
    )
    title = say("Rows that contradict one another")
    return (SheetPart("contradictions", title, columns=columns, rows=rows, none="", loud=frozenset(range(len(rows)))),)


def _notes(told: HandOver, words: Words, calendar: Calendar) -> SheetPart:
    say = words.say
    columns = (SheetColumn(say("Press")), SheetColumn(say("Written")), SheetColumn(say("Text"), wide=1))
    rows = tuple((line.press_id or say("all"), _clock(line.at_us, calendar), line.note) for line in told.notes)
    return SheetPart("notes", say("Notes"), columns, rows, say("Nobody has written a note on this shift."))


def _moment(us: int | None, words: Words, calendar: Calendar) -> str:
    """Return date and clock time of a moment [us] in plant time: "Mon 2 Nov 18:04"."""
    if us is None:
        return _UNKNOWN
    return f"{words.short_date(calendar.local_time(us).date())} {_clock(us, calendar)}"


def _clock(us: int | None, calendar: Calendar) -> str:
    return "" if us is None else f"{calendar.local_time(us):%H:%M}"


def _amount(value: float | None, kept: str, words: Words) -> str:
    return _UNKNOWN if value is None else words.amount(value, kept)
