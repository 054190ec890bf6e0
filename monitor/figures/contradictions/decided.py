"""More pieces decided on than were rejected, or could be released."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from monitor.figures.contradictions.found import DECIDED, Contradiction, named, places
from monitor.figures.question import Question
from monitor.ledger import Placed, Snapshot
from monitor.reckoning.pieces.contradictions import EDGE_US, REWORK, Beyond, Decision, decided_beyond
from monitor.reckoning.pieces.inspections import Disposition, Inspection
from monitor.reckoning.pieces.rechecks import merge_rechecks
from shared.durations import DAY_US
from shared.phrases import phrase

#: How far back the setting is looked for whose pieces an inspection may release [us]; common practice, no source.
_LOOK_BACK_US = 14 * DAY_US


def decided(question: Question) -> Iterator[Contradiction]:
    """Yield the inspections of which more pieces were decided on than they rejected, and than could be released."""
    snapshot, asked = question.snapshot, question.scope
    names = {row.row["inspection_id"] for row in snapshot.placed_between("dispositions", asked.from_us, asked.to_us)}
    yield from beyond_rejected(snapshot, names)


def beyond_rejected(snapshot: Snapshot, names: set[str]) -> Iterator[Contradiction]:
    """Yield those of some inspections, with all second looks, of which more was decided on than there was."""
    looks = _chains(snapshot, names)
    decisions: dict[str, list[Placed]] = defaultdict(list)
    first_of = {row.row["inspection_id"]: first for first, rows in looks.items() for row in rows}
    for row in snapshot.placed("dispositions", "inspection_id", set(first_of)):
        decisions[first_of[row.row["inspection_id"]]].append(row)
    for first, rows in sorted(looks.items()):
        found = _beyond(snapshot, rows, decisions[first])
        if found is not None:
            yield _contradiction(snapshot, rows, decisions[first], found)


def _chains(snapshot: Snapshot, names: set[str]) -> dict[str, list[Placed]]:
    """Return the rows of inspections and of all second looks at them, by the name of the first look."""
    rows: dict[str, list[Placed]] = {}
    wanted = set(names)
    while wanted:
        found = snapshot.placed("inspections", "inspection_id", wanted)
        found += snapshot.placed("inspections", "rechecks", wanted)
        for row in found:
            mine = rows.setdefault(row.row["inspection_id"], [])
            if row not in mine:
                mine.append(row)
        wanted = {row.row["inspection_id"] for row in found} | {row.row["rechecks"] for row in found} - {None}
        wanted -= {*rows}
    chains: dict[str, list[Placed]] = defaultdict(list)
    for some in rows.values():
        chains[_first(some[0].row["inspection_id"], rows)] += some
    return dict(chains)


def _first(name: str, rows: Mapping[str, Sequence[Placed]]) -> str:
    seen = {name}
    while (before := rows[name][0].row["rechecks"] or "") in rows and before not in seen:
        seen.add(before)
        name = before
    return name


def _beyond(snapshot: Snapshot, looks: Sequence[Placed], decisions: Sequence[Placed]) -> Beyond | None:
    rejected: Counter[str] = Counter()
    for look in (row.row for row in looks):
        if look["scope"] != "rejected":  # Whoever looks at rejected pieces again finds no new ones.
            rejected[look["cause"] or ""] += look["rejected"] or 0
    some = [
        Decision(row.row["cause"] or "", row.row["outcome"], row.row["pieces"], row.row["time"], row)
        for row in sorted(decisions, key=lambda r: (r.row["time"], r.row["disposition_id"]))
    ]
    return _over(snapshot, looks, some, rejected) or _over(snapshot, looks, *_after_the_last(looks, some))


def _over(
    snapshot: Snapshot, looks: Sequence[Placed], decisions: Sequence[Decision], rejected: Mapping[str, int]
) -> Beyond | None:
    found = decided_beyond(decisions, rejected)
    if found is None or found.decision.cause:
        return found
    settable = _setting_pieces(snapshot, looks, max(decision.time_us for decision in decisions))
    return decided_beyond(decisions, rejected, settable)


def _after_the_last(looks: Sequence[Placed], decisions: Sequence[Decision]) -> tuple[list[Decision], Mapping[str, int]]:
    """Return the decisions made after the last look at the same pieces, and what all looks together left rejected."""
    last_us = max(row.row["time"] for row in looks)
    rows: dict[str, list[Placed]] = defaultdict(list)
    for row in looks:
        rows[row.row["inspection_id"]].append(row)
    left: Counter[str] = Counter()
    for look in merge_rechecks(_inspection(name, some, decisions) for name, some in rows.items()):
        left.update(look.rejected)
    for decision in decisions:
        if decision.time_us < last_us and decision.outcome == REWORK:  # These come back to be decided on again.
            left[decision.cause] += decision.pieces
    return [decision for decision in decisions if decision.time_us >= last_us], left


def _inspection(name: str, rows: Sequence[Placed], decisions: Sequence[Decision]) -> Inspection:
    first, rejected = rows[0].row, Counter[str]()
    for row in rows:
        rejected[row.row["cause"] or ""] += row.row["rejected"] or 0
    mine = [decision for decision in decisions if decision.note.row["inspection_id"] == name]
    return Inspection(
        name,
        first["time"],
        first["kind"],
        first["inspected"],
        rejected,
        rechecks=first["rechecks"] or "",
        scope=first["scope"] or "",
        dispositions=tuple(Disposition(one.cause, one.outcome, one.pieces, one.time_us) for one in mine),
    )


def _setting_pieces(snapshot: Snapshot, looks: Sequence[Placed], until_us: int) -> int:
    """Return the setting pieces that an inspection may have looked at: since the last two dies were set before it."""
    look = looks[0].row
    press_id = look["press_id"]
    moment = min(us for row in looks for us in (row.row["time"], row.row["made_from"]) if us is not None)
    changes = snapshot.placed_between("die_changes", moment - _LOOK_BACK_US, moment + 1, press_id=press_id)
    sets = [row.row["time"] for row in changes if row.row["event"] == "set"]
    begin = sets[-2] if len(sets) > 1 else moment - _LOOK_BACK_US
    facts = snapshot.facts("pieces", press_id=press_id, made_us=(begin - EDGE_US, until_us + EDGE_US))
    setting = facts[facts["setup"] == 1]
    if look["part_no"]:
        setting = setting[setting["part_no"].isin([look["part_no"], ""])]
    return int(setting["pieces"].sum())


def _contradiction(
    snapshot: Snapshot, looks: Sequence[Placed], decisions: Sequence[Placed], found: Beyond
) -> Contradiction:
    rows = places(snapshot, [*looks, *decisions])
    look, decision = looks[0].row, found.decision
    remedy = phrase(
        "Decisions on inspection {look!r} are for {beyond} more pieces than were rejected. Correct the pieces in "
        "{rows!r} and load with --correct.",
        look=look["inspection_id"],
        beyond=found.pieces,
        rows="; ".join(places(snapshot, decisions)),
    )
    return Contradiction(
        DECIDED,
        decision.time_us,
        rows,
        remedy,
        presses=named(*(row.row["press_id"] for row in looks)),
        parts=named(*(row.row["part_no"] for row in looks)),
        containers=named(*(row.row["container_id"] for row in looks)),
        inspections=named(*(row.row["inspection_id"] for row in looks)),
    )
