"""The `exposure` table: how far back to sort after a bad check, where those pieces are, and what has been sent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.genealogy.box_accounts import accounts_of
from monitor.figures.genealogy.reader import STANDS_OPEN_US, GenealogyReader
from monitor.figures.question import Question
from monitor.figures.scope import Scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import die_change, piece_facts, records
from monitor.reckoning.pieces.containers import Box, reached
from monitor.reckoning.pieces.exposure import Check, Exposure, exposures, in_die
from monitor.reckoning.pieces.stretches import MadeStretch, within
from monitor.reckoning.press.die_events import dies_in_press
from shared.durations import DAY_US, FOREVER_US, HOUR_US
from shared.fields import count, text, time
from shared.figures import Figure

FIGURE = Figure(
    "exposure",
    row_per="press, die, cause or characteristic: how far back to sort",
    columns=columns(
        "press_id die_id cause characteristic",
        time("last_good_at", "last check that found the pieces good"),
        time("found_at", "when the fault was found"),
        "strokes pieces",
        count("in_die", "pieces", "pieces still in the die"),
        text("containers", "containers the pieces are in", listed=True),
        "shipped",
        time(
            "likely_since", "last check before a clear rise of the share found bad; empty where there was no clear rise"
        ),
        count("likely_pieces", "pieces", "pieces made since `likely_since`: where most of the bad ones are"),
    ),
)

_KEY = ["press_id", "die_id"]

#: How far before the first bad check of the range measurements are looked through for a good one [us];
#: common practice, no source.
_LOOK_BACK_US = 30 * DAY_US


@dataclass(frozen=True)
class _MeasuredExposure:
    """An exposure and whether its feature is a characteristic that was measured, or else a cause."""

    exposure: Exposure
    is_measured: bool


def exposure(question: Question) -> pd.DataFrame:
    """Return a row for each press, die and cause or characteristic found bad in range."""
    snapshot, book, scope = question.snapshot, question.book, question.scope
    seen = [_MeasuredExposure(e, False) for e in _of_causes(snapshot, question.facts("rejects"))]
    seen += [_MeasuredExposure(e, True) for e in _of_measurements(snapshot, book, scope)]
    kept = [one for one in seen if _is_in(one.exposure.check, scope)]
    return pd.DataFrame([_row(snapshot, book, one) for one in kept], columns=list(FIGURE.names))


def _is_in(check: Check, scope: Scope) -> bool:
    if scope.die not in (None, check.die_id) or scope.press not in (None, check.press_id):
        return False
    if scope.part is not None and check.part_no not in ("", scope.part):
        return False
    return (scope.from_us or -FOREVER_US) <= check.found_us < (scope.to_us or FOREVER_US)


# Checks by inspection


def _of_causes(snapshot: Snapshot, rejects: pd.DataFrame) -> Iterable[Exposure]:
    bad = rejects[_is_bad(rejects)]
    for (press_id, die_id), some in bad.groupby(_KEY, sort=True):
        facts = snapshot.facts("rejects", press_id=str(press_id), die_id=str(die_id))
        yield from exposures(_checks(snapshot, facts), some["cause"])


def _is_bad(rejects: pd.DataFrame) -> pd.Series:
    found = (rejects["rejected"] > 0) | (rejects["reworked"] > 0)
    return found & (rejects["kind"] != "tub") & (rejects["cause"] != "") & (rejects["die_id"] != "")


def _checks(snapshot: Snapshot, facts: pd.DataFrame) -> list[Check]:
    """Turn reject facts of one press and die into checks; a tub count is no check of anything."""
    facts = facts[facts["kind"] != "tub"]
    rows = {row["inspection_id"]: row for row in _inspections(snapshot, facts)}
    # A recheck may have made more of a look than its row says: the facts hold what came of both.
    spans = facts.groupby("inspection_id").agg(
        begin=("from_us", "min"),
        end=("to_us", "max"),
        press=("press_id", "max"),
        kind=("kind", "max"),
        inspected=("inspected", "sum"),
    )
    causes: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    bad = facts[_is_bad(facts)]
    found_bad = bad["rejected"] + bad["reworked"]
    for name, cause, pieces in zip(bad["inspection_id"], bad["cause"], found_bad, strict=True):
        causes[name][cause] += pieces
    die_id = str(facts["die_id"].iloc[0]) if len(facts) else ""
    found = []
    for name, begin, end, press, kind, inspected in spans.itertuples(name=None):
        row = rows[name]
        from_us, to_us = (row["time"], row["time"]) if _is_of_the_moment(row) else (begin, end)
        counts = causes[name]
        if not (inspected or counts):
            continue  # The pieces of a sample that a later sort holds are looked at there.
        found.append(
            Check(
                press,
                die_id,
                part_no=row["part_no"] or "",
                out=row["out"],
                from_us=from_us,
                to_us=to_us,
                found_us=row["time"],
                bad=frozenset(counts),
                is_sort=kind == "full",
                counts=counts,
                inspected=int(inspected),
            )
        )
    return found


def _inspections(snapshot: Snapshot, facts: pd.DataFrame) -> list[Record]:
    return [*snapshot.lookup("inspections", "inspection_id", set(facts["inspection_id"]))]


def _is_of_the_moment(row: Record) -> bool:
    """Tell whether the pieces looked at were the last off the press."""
    return row["made_from"] is None and row["made_to"] is None and not row["container_id"]


# Checks by measurement


def _of_measurements(snapshot: Snapshot, book: Book, scope: Scope) -> Iterable[Exposure]:
    named = {(row["part_no"], row["characteristic"]) for row in book.tables["characteristics"]}
    if not named:
        return
    since = None if scope.from_us is None else scope.from_us - _LOOK_BACK_US
    rows = records(snapshot.rows("measurements", scope.press, since, scope.to_us))
    by_press: dict[str, dict[tuple[str, str], dict[int, list[Record]]]] = defaultdict(dict)
    for row in rows:
        what = (row["part_no"], row["characteristic"])
        if what in named:
            by_press[row["press_id"]].setdefault(what, defaultdict(list))[row["time"]].append(row)
    for press_id, measured in by_press.items():
        dies = _dies_in(snapshot, press_id)
        for (part_no, name), groups in measured.items():
            limited = ((us, group, _limits(book, us, part_no, name)) for us, group in groups.items())
            checks = [
                _measured(press_id, part_no, name=name, us=us, group=group, dies=dies, limits=limits)
                for us, group, limits in limited
                if limits
            ]
            for die_id in sorted({check.die_id for check in checks}):
                yield from exposures([check for check in checks if check.die_id == die_id], [name])


def _limits(book: Book, us: int, part_no: str, name: str) -> tuple[float, float] | None:
    """Return the limits of a characteristic on the day of a moment [us]; None where it had none."""
    row = book.row("characteristics", book.day_of(us), part_no, name)
    low, high = row.get("lower"), row.get("upper")
    if low is None and high is None:
        return None
    return -float("inf") if low is None else low, float("inf") if high is None else high


def _dies_in(snapshot: Snapshot, press_id: str) -> list[tuple[int, str]]:
    return dies_in_press(die_change(row) for row in records(snapshot.rows("die_changes", press_id)))


def _measured(
    press_id: str,
    part_no: str,
    name: str,
    us: int,
    group: Sequence[Record],
    dies: Sequence[tuple[int, str]],
    limits: tuple[float, float],
) -> Check:
    low, high = limits
    bad = sum(not low <= row["value"] <= high for row in group)
    counts = {name: bad} if bad else {}
    die_id = next((die for since, die in reversed(dies) if since <= us and die), "")
    return Check(
        press_id,
        die_id,
        part_no=part_no,
        out=None,
        from_us=us,
        to_us=us,
        found_us=us,
        bad=frozenset(counts),
        is_sort=False,
        counts=counts,
        inspected=len(group),
    )


# What was made meanwhile


def _row(snapshot: Snapshot, book: Book, seen: _MeasuredExposure) -> tuple[object, ...]:
    shown, check = seen.exposure, seen.exposure.check
    begin = _set_before(snapshot, check) if shown.since_us is None else shown.since_us
    span = (begin, shown.until_us)
    made = _made(snapshot, check, span)
    boxes, shipped = _where(snapshot, book, check, span, made)
    likely = [] if shown.likely_since_us is None else list(within(made, shown.likely_since_us, shown.until_us))
    names = ("", shown.feature) if seen.is_measured else (shown.feature, "")
    counts = (_strokes(snapshot, check, span), sum(m.pieces for m in made), _unfinished(snapshot, book, check, span))
    times, likely_us = (shown.since_us, check.found_us), shown.likely_since_us
    narrower = (likely_us, None if likely_us is None else sum(m.pieces for m in likely))
    return (check.press_id, check.die_id, *names, *times, *counts, tuple(boxes), shipped, *narrower)


def _set_before(snapshot: Snapshot, check: Check) -> int:
    """Return when the die was set before a check [us]: without a good check, all since then may be bad."""
    rows = records(snapshot.rows("die_changes", check.press_id, None, check.from_us + 1))
    times = [row["time"] for row in rows if row["event"] == "set" and row["die_id"] == check.die_id]
    return max(times, default=0)


def _made(snapshot: Snapshot, check: Check, span: tuple[int, int]) -> list[MadeStretch]:
    """Return the stretches of pieces, other than setting pieces, that may be bad."""
    facts = snapshot.facts("pieces", press_id=check.press_id, die_id=check.die_id, made_us=_around(span))
    facts = facts[(facts["setup"] == 0)].sort_values("stroke_from", kind="stable")
    if check.part_no:
        facts = facts[facts["part_no"] == check.part_no]
    if check.out is not None:
        facts = facts[facts["out"] == check.out]
    made = [
        MadeStretch(
            press_id=check.press_id,
            die_id=fact.die_id,
            part_no=fact.part_no,
            out=fact.out,
            mounting_id=fact.mounting_id,
            pieces=fact.pieces,
            good=fact.pieces,
            entry=fact.entry_from,
            from_us=fact.from_us,
            to_us=fact.to_us,
        )
        for fact in piece_facts(facts)
    ]
    return list(within(made, *span))


def _around(span: tuple[int, int]) -> tuple[int, int]:
    return span[0] - HOUR_US, span[1]


def _strokes(snapshot: Snapshot, check: Check, span: tuple[int, int], since_us: int | None = None) -> int:
    """Return the strokes of the die in a span [us]; from `since_us` on, those that drew strip in."""
    name = "strokes" if since_us is None else "fed"
    span = span if since_us is None else (since_us, span[1])
    facts = snapshot.facts("strokes", press_id=check.press_id, die_id=check.die_id, made_us=_around(span))
    rows = zip(facts[name].tolist(), facts["from_us"].tolist(), facts["to_us"].tolist(), strict=True)
    made = [
        MadeStretch("", "", part_no="", out=0, mounting_id="", pieces=count, good=0, entry=0, from_us=begin, to_us=end)
        for count, begin, end in rows
        if count
    ]
    return sum(m.pieces for m in within(made, *span))


def _unfinished(snapshot: Snapshot, book: Book, check: Check, span: tuple[int, int]) -> int:
    """Return the pieces that lay unfinished in the die at the end of a span."""
    die = book.page(book.day_of(span[1])).dies.get(check.die_id)
    if die is None:
        return 0
    changes = records(snapshot.rows("die_changes", check.press_id, None, span[1] + 1))
    coils = records(snapshot.rows("coil_changes", check.press_id, None, span[1] + 1))
    threaded = [us for us, _ in dies_in_press(die_change(row) for row in changes)]
    threaded += [row["time"] for row in coils if row["event"] in ("mount", "cut") and row["lost_m"] is None]
    fed = _strokes(snapshot, check, span, max(threaded, default=0))
    mine = [row for row in changes if row["die_id"] == check.die_id]
    outs = [die_change(row).outs_running for row in mine if row["event"] in ("set", "change")]
    running = set(outs[-1]) if outs else set()
    parts = [o for o in die.outs if (not running or o.out in running) and check.part_no in ("", o.part_no)]
    return in_die(fed, die.stations, len([o for o in parts if check.out in (None, o.out)]))


def _where(
    snapshot: Snapshot, book: Book, check: Check, span: tuple[int, int], made: Sequence[MadeStretch]
) -> tuple[list[str], int]:
    """Return the containers that the pieces are in, repacked ones too, and how many of the pieces were sent."""
    parts = {m.part_no for m in made}
    rows = snapshot.spanning(
        "containers", check.press_id, end="closed_at", from_us=span[0], to_us=span[1], open_us=STANDS_OPEN_US
    )
    boxes = GenealogyReader(snapshot, book, sure=False).boxes(row for row in rows if row["part_no"] in parts)
    counts = {box.container_id: _inside(box, made) for box in boxes}
    counts = {name: count for name, count in counts.items() if count}
    found = accounts_of(snapshot, [row for row in rows if row["container_id"] in counts], book)
    came, here = reached(found, counts)
    sent = {name for _, name in found.sent}
    # Of mixed pieces nobody can tell which went; more cannot have gone than there were.
    return sorted(came), min(sum(here.get(name, 0) for name in sent), sum(m.pieces for m in made))


def _inside(box: Box, made: Sequence[MadeStretch]) -> int:
    fits = [m for m in made if m.part_no == box.part_no and box.out in (None, m.out)]
    return sum(m.pieces for span in box.filled_us for m in within(fits, *span))
