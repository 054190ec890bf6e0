"""Facts made from what a fold holds, each column by its name."""

from __future__ import annotations

from typing import TypedDict

from monitor.reckoning.fold.segments import Segment
from monitor.reckoning.press.carry import Carry, Label
from monitor.reckoning.press.changes import MountNote
from monitor.reckoning.press.counters import Glitch, Readings
from monitor.reckoning.press.stops import StopPiece, stop_name
from monitor.reckoning.press.strip import StripStretch
from shared.facts import GlitchFact, MountFact, PieceFact, StopFact, StrokeFact
from shared.reasons.kept import kept


class LabelColumns(TypedDict):
    """The columns of a fact that a label fills."""

    shift_date: str
    shift: str
    hour_us: int
    die_id: str
    part_no: str
    order_id: str
    setup: int


def label_columns(label: Label) -> LabelColumns:
    """Return what a label says by the columns of a fact."""
    return LabelColumns(
        shift_date=label.shift_date,
        shift=label.shift,
        hour_us=label.hour_us,
        die_id=label.die_id,
        part_no=label.part_no,
        order_id=label.order_id,
        setup=int(label.setup),
    )


def stroke_fact(label: Label, segment: Segment, mounting_id: str, strokes: int, fed: int, stroke: int) -> StrokeFact:
    """Return the fact of strokes of a stretch, the first of them the press's stroke number `stroke`."""
    return StrokeFact(
        **label_columns(label),
        mounting_id=mounting_id,
        strokes=strokes,
        fed=fed,
        stroke_from=stroke,
        from_us=segment.from_us,
        to_us=segment.to_us,
    )


def piece_fact(label: Label, segment: Segment, out: int, stretch: StripStretch, stroke: int) -> PieceFact:
    """Return the fact of pieces of one out parted off in a stretch, the first of them at stroke number `stroke`."""
    return PieceFact(
        **label_columns(label),
        out=out,
        mounting_id=stretch.mounting_id,
        pieces=stretch.count,
        stroke_from=stroke,
        stroke_to=stroke + stretch.count,
        entry_from=stretch.entry,
        from_us=segment.from_us,
        to_us=segment.to_us,
    )


def stop_fact(press_id: str, die_id: str, piece: StopPiece) -> StopFact:
    """Return the fact of the part of a stop that lies in one shift and has one reason."""
    return StopFact(
        stop_id=stop_name(press_id, piece.stop_us),
        die_id=die_id,
        shift_date=piece.shift_date,
        shift=piece.shift,
        from_us=piece.from_us,
        to_us=piece.to_us,
        reason=piece.reason,
        kind=piece.kind,
        planned=int(not piece.in_plan),
    )


def glitch_fact(readings: Readings, glitch: Glitch) -> GlitchFact:
    """Return the fact of a counter reading that cannot be true."""
    code, values = kept(glitch.reason)
    return GlitchFact(
        load_id=int(readings.load_id[glitch.index]),
        line=int(readings.line[glitch.index]),
        time_us=int(readings.time_us[glitch.index]),
        counter=int(readings.counter[glitch.index]),
        code=code,
        code_values=values,
    )


def note_fact(note: MountNote, carry: Carry) -> MountFact:
    """Return the fact of a coil change: what it notes about a mounting."""
    return MountFact(
        mounting_id=note.mounting_id,
        coil_id=note.coil_id,
        die_id=carry.die.die_id if carry.die else "",
        mounted_us=note.mounted_us,
        removed_us=note.removed_us,
        start_weighed_kg=note.start_weighed_kg,
        end_weighed_kg=note.end_weighed_kg,
        lost_mm=note.lost_mm,
    )
