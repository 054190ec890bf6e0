"""Notes about a press that met something else there than they speak of."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence

from monitor.figures.contradictions.found import EVENT, Contradiction, named, places
from monitor.figures.question import Question
from monitor.ledger import Placed, Snapshot
from monitor.plant.records import die_change
from monitor.reckoning.press.die_events import dies_in_press, of_other_dies
from shared.durations import DAY_US
from shared.phrases import phrase

#: How far before the range it is looked for which die was in a press [us]; common practice, no source.
_LOOK_BACK_US = 31 * DAY_US


def other_dies(question: Question) -> Iterator[Contradiction]:
    """Yield the die events that name a die which was not in the press."""
    snapshot, asked = question.snapshot, question.scope
    since = None if asked.from_us is None else asked.from_us - _LOOK_BACK_US
    by_press: dict[str, list[Placed]] = defaultdict(list)
    for row in snapshot.placed_between("die_changes", since, asked.to_us, press_id=asked.press):
        by_press[row.row["press_id"]].append(row)
    for press_id, rows in sorted(by_press.items()):
        yield from _of_press(snapshot, press_id, rows)


def _of_press(snapshot: Snapshot, press_id: str, rows: Sequence[Placed]) -> Iterator[Contradiction]:
    events = [die_change(row.row) for row in rows]
    noted = {(row.row["time"], row.row["event"]): row for row in rows}
    sets = [row for row in rows if row.row["event"] == "set"]
    lying = dies_in_press(events)
    times = [us for us, _ in lying]
    for event in of_other_dies(events):
        row = noted[event.time_us, event.event]
        place = bisect_right(times, event.time_us) - 1
        there = lying[place][1] if place >= 0 else ""
        last = [one for one in sets if one.row["time"] <= event.time_us and one.row["die_id"] == there][-1:]
        shown = places(snapshot, (row, *last))
        yield Contradiction(
            EVENT,
            event.time_us,
            shown,
            _remedy(event.event, event.die_id, there, press_id, "; ".join(shown)),
            presses=(press_id,),
            dies=named(event.die_id, there),
            parts=named(event.part_no),
        )


def _remedy(event: str, die_id: str, there: str, press_id: str, rows: str) -> str:
    told = {"event": event, "die": die_id, "press": press_id, "rows": rows}
    if not there:
        return phrase(
            "{event!r} names die {die!r}, but press {press!r} had no die. Enter the missing change, or correct the die "
            "in {rows!r} and load with --correct.",
            **told,
        )
    return phrase(
        "{event!r} names die {die!r}, but press {press!r} had die {there!r}. Enter the missing change, or correct the "
        "die in {rows!r} and load with --correct.",
        there=there,
        **told,
    )
