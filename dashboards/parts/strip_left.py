"""Strip left of the coil on a press: metres, and when it ends at the rate of the last hours."""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.ledger.records import Record, Records
from dashboards.parts.numbers import Number
from dashboards.request.formats import UNKNOWN, duration, known, length
from dashboards.request.locale import say, say_n
from monitor.reckoning.pieces.difference import CoilEnd, coil_end

SOON_MIN = 20
"""Strip for less than this [min] is called short: time to stage the next coil; common practice, no source."""

USED_DOUBT = 0.02
"""Part of the strip used by which it may be off, since thickness varies along a coil; common practice, no source."""

NARROW = 0.03
"""Part of the time that strip lasts, below which its interval is not worth a line; common practice, no source."""


@dataclass(frozen=True)
class StripLeft:
    """Strip left of the coil on the press: metres, and its end at the present rate; None where not known."""

    metres: float | None
    end: CoilEnd | None
    overrun_m: float


def strip_left(coils: Records, hours: Records) -> StripLeft | None:
    """Strip left of the coil on the press, None where there is none."""
    on = [row for row in coils if not known(row["removed_at"])]
    if not on:
        return None
    coil = max(reversed(on), key=lambda row: row["mounted_at"] if known(row["mounted_at"]) else 0)
    overrun = float(coil["overrun_m"]) if known(coil["overrun_m"]) else 0.0
    if not (known(coil["remaining_kg"]) and known(coil["used_kg"]) and coil["used_kg"] > 0):
        return StripLeft(None, None, overrun)
    metres = max(0.0, coil["remaining_kg"] * coil["used_m"] / coil["used_kg"])
    return StripLeft(metres, _end(coil, strokes_per_minute(hours)), overrun)


def strip_number(strip: StripLeft | None) -> Number:
    """Strip left on the press and how long it lasts, loud when it is time to stage the next coil."""
    label = say("Strip left")
    if strip is None:
        return Number(label, UNKNOWN, (say("no coil noted"),))
    if strip.overrun_m > 0:
        return Number(
            label,
            length(0),
            (say("{length} over its length:", length=length(strip.overrun_m)), say("a change was not noted")),
            True,
        )
    if strip.metres is None:
        return Number(label, UNKNOWN, (say("weight not known"),))
    if strip.end is None:
        return Number(label, length(strip.metres))
    low, high = duration(strip.end.minutes_low * 60), duration(strip.end.minutes_high * 60)
    wide = strip.end.minutes_high - strip.end.minutes_low >= NARROW * strip.end.minutes
    span = (say("{low} to {high}", low=low, high=high),) if wide and low != high else ()
    about = say("about {lasted}", lasted=duration(strip.end.minutes * 60))
    below = (about, *span, say_n(round(strip.end.pieces), "{n} piece", "{n} pieces"))
    soon = strip.end.minutes < SOON_MIN
    return Number(label, length(strip.metres), (*below, say("stage the next coil")) if soon else below, soon)


def strokes_per_minute(hours: Records) -> float | None:
    """Strokes a minute of running time in the newest two hours with any, None where the press did not run."""
    ran = [row for row in hours if row["running_s"] > 0 and not row["unresolved_s"] > 0]
    newest = sorted({row["hour_start"] for row in ran})[-2:]
    ran = [row for row in ran if row["hour_start"] in newest]
    seconds = sum(row["running_s"] for row in ran)
    return sum(row["strokes"] for row in ran) * 60 / seconds if seconds else None


def _end(coil: Record, spm: float | None) -> CoilEnd | None:
    """When the coil runs out at a rate [spm], with what its use so far leaves in doubt."""
    finished = coil["strokes"] - coil["unfinished"]
    if not (spm and finished > 0):
        return None
    return coil_end(
        max(0.0, coil["remaining_kg"]),
        coil["used_kg"] / coil["used_m"],
        coil["used_m"] * 1000 / coil["strokes"],
        round(coil["pieces"] / finished),
        spm,
        left_doubt_kg=USED_DOUBT * coil["used_kg"],
    )
