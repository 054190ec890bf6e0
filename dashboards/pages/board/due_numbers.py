"""Numbers of a press that look ahead: its order, and the strokes left before its die is sharpened."""

from __future__ import annotations

from dashboards.parts.numbers import Number
from dashboards.request.formats import clock, count, date_of, share
from dashboards.request.locale import locale, say
from monitor.plant.order_pace import OrderPace
from shared.calendar import Calendar

SOON_SHARE = 0.05
"""Part of the interval at which a sharpening is called near; common practice, no source."""


def order_number(order: OrderPace | None, calendar: Calendar, now_us: int) -> Number:
    """Pieces done of the order, when it will be done and when it is due; loud where it will be late."""
    label = say("Order")
    if order is None:
        return Number(label, "–", (say("no order noted"),))
    # Cut and not rounded: 100 % is an order that lacks nothing.
    done = share(min(100, order.done * 100 // order.quantity) / 100, 0) if order.quantity else "–"
    of = say("{done} of {all}", done=count(order.done), all=count(order.quantity))
    ends = [_moment(calendar, at_us, now_us) for at_us in (order.ends_low_us, order.ends_high_us, order.due_us)]
    below = [of]
    if order.done < order.quantity and ends[0] and ends[1]:
        until = ends[1].removeprefix(ends[0][:-5])
        below.append(say("done {low} to {high}", low=ends[0], high=until))
    if order.pace and order.wanted and order.wanted > order.pace:
        below.append(say("{pace} an hour, {wanted} wanted", pace=count(order.pace), wanted=count(order.wanted)))
    if ends[2]:
        below.append(say("late, due {time}" if order.late else "due {time}", time=ends[2]))
    return Number(label, done, tuple(below), order.late)


def sharpen_number(left: tuple[int, int] | None) -> Number:
    """Strokes left before the first station of the die is due; loud where it is overdue or nearly."""
    label = say("To sharpening")
    if left is None:
        return Number(label, "–", (say("no interval or history"),))
    strokes, every = left
    if strokes <= 0:
        return Number(label, "0", (say("of {n}", n=count(every)), say("{n} strokes over", n=count(-strokes))), True)
    below = (say("strokes of {n}", n=count(every)),)
    soon = strokes < SOON_SHARE * every
    return Number(label, count(strokes), (*below, say("plan it now")) if soon else below, soon)


def _moment(calendar: Calendar, at_us: int | None, now_us: int) -> str:
    """A moment as short as it can be: its clock time today, the weekday with it within six days, else the date."""
    if at_us is None:
        return ""
    date, today = date_of(at_us, calendar), date_of(now_us, calendar)
    if date == today:
        return clock(at_us, calendar)
    told = locale().words.short_date(date)
    return f"{told.split()[0].rstrip(',') if 0 < (date - today).days < 6 else told} {clock(at_us, calendar)}"
