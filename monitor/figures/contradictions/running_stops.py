"""Stops that were entered while the press ran."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from monitor.figures.contradictions.found import STOP, Contradiction, places
from monitor.figures.question import Question
from monitor.ledger import Placed, Snapshot
from monitor.plant.book import Book
from monitor.reckoning.press.press_day import EnteredStop
from monitor.reckoning.press.stops import assign, decided_us
from shared.durations import DAY_US, SECOND_US
from shared.phrases import phrase

Span = tuple[int, int]


def while_running(question: Question) -> Iterator[Contradiction]:
    """Yield the entered stops that meet no standstill, where the readings show that the press ran.

    One shorter than what counts as a stop cannot meet one, and of unseen time nobody knows.
    """
    snapshot, asked = question.snapshot, question.scope
    by_press: dict[str, list[Placed]] = defaultdict(list)
    for row in snapshot.placed_between("stops", asked.from_us, asked.to_us, press_id=asked.press):
        by_press[row.row["press_id"]].append(row)
    for press_id, rows in sorted(by_press.items()):
        yield from _of_press(snapshot, question.book, press_id, rows)


def _of_press(snapshot: Snapshot, book: Book, press_id: str, rows: Sequence[Placed]) -> Iterator[Contradiction]:
    noted = {row.row["start_at"]: row for row in rows}
    entered = [EnteredStop(row.row["start_at"], row.row["end_at"], row.row["reason"]) for row in rows]
    stood = _spans(snapshot, book, "stops", press_id, entered)
    edge_us = round(book.plant.entered_edge_s * SECOND_US)
    read = snapshot.read_between(press_id)
    doubtful = [*stood, *_spans(snapshot, book, "unresolved", press_id, entered)]
    for stop in assign(entered, stood).unmet:
        begin, end = stop.start_us - edge_us, decided_us(stop) + edge_us
        within = read is not None and read[0] <= begin and end <= read[1]
        near = any(a < end and b > begin for a, b in doubtful)
        if within and not near and not _is_short(book, press_id, stop):
            yield _contradiction(snapshot, press_id, noted[stop.start_us])


def _spans(snapshot: Snapshot, book: Book, kind: str, press_id: str, entered: Sequence[EnteredStop]) -> list[Span]:
    """Return the standstills or unseen stretches of a press [us] around some entered stops, each whole."""
    days = [book.calendar.plant_day(us) for us in (entered[0].start_us, max(map(decided_us, entered)))]
    first, after = (book.calendar.plant_day(book.calendar.day_start_us(day) + more * DAY_US)
                    for day, more in zip(days, (-1, 3), strict=True))  # fmt: skip
    facts = snapshot.facts(kind, from_date=first, to_date=after, press_id=press_id)
    if kind != "stops":
        return sorted(zip(facts["from_us"].tolist(), facts["to_us"].tolist(), strict=True))
    whole = facts.groupby("stop_id").agg(begin=("from_us", "min"), end=("to_us", "max"))
    return sorted(zip(whole["begin"].tolist(), whole["end"].tolist(), strict=True))


def _is_short(book: Book, press_id: str, stop: EnteredStop) -> bool:
    press = book.page(book.day_of(stop.start_us)).press(press_id)
    return stop.end_us is not None and stop.end_us - stop.start_us <= press.stop_after_us


def _contradiction(snapshot: Snapshot, press_id: str, row: Placed) -> Contradiction:
    rows = places(snapshot, (row,))
    remedy = phrase(
        "Stop {reason!r} was entered while press {press!r} ran. Correct its end in {rows!r} and load with --correct, "
        "or take the entry back.",
        reason=row.row["reason"],
        press=press_id,
        rows="; ".join(rows),
    )
    return Contradiction(STOP, row.row["start_at"], rows, remedy, presses=(press_id,))
