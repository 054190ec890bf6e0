"""Containers that were sent twice."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.figures.contradictions.found import BOX, Contradiction, named, places
from monitor.figures.question import Question
from monitor.reckoning.pieces.contradictions import Sending, sent_again
from shared.phrases import phrase


def sent_twice(question: Question) -> Iterator[Contradiction]:
    """Yield the containers that stand in two shipments without having been filled anew between them."""
    snapshot, asked = question.snapshot, question.scope
    names = {row.row["container_id"] for row in snapshot.placed_between("shipments", asked.from_us, asked.to_us)}
    sent = [
        Sending(row.row["container_id"], row.row["shipped_at"], row)
        for row in snapshot.placed("shipments", "container_id", names)
    ]
    moves = snapshot.lookup("repacks", "to_container", names)
    twice = sent_again(sent, [(move["to_container"], move["time"]) for move in moves])
    boxes = {
        row["container_id"]: row
        for row in snapshot.lookup("containers", "container_id", {first.container_id for first, _ in twice})
    }
    for first, second in twice:
        box = boxes.get(first.container_id, {})
        rows = places(snapshot, (first.note, second.note))
        remedy = phrase(
            "Container {box!r} is in two shipments. Check which one is right: {rows!r}. Load the mended files into a "
            "new ledger.",
            box=first.container_id,
            rows="; ".join(rows),
        )
        yield Contradiction(
            BOX,
            second.time_us,
            rows,
            remedy,
            presses=named(box.get("press_id")),
            parts=named(box.get("part_no")),
            containers=(first.container_id,),
        )
