"""The words of a report by what they stand for, in the language of its reader, and how its numbers are written.

Only the English stands here; Spanish and German stand under it in `shared/words/<language>/report.po`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from shared import words as catalogue

MISSING = "–"

PHRASES: Mapping[str, str] = {
    "title": "Weekly quality report",
    "week": "Week",
    "for": "for {customer}",
    "range": "{from_} to {to} (end not included), plant time {zone}",
    "version": "Ledger version {version} · figures {hash}",
    "page": "page {n} of {of}",
    "summary": "Summary",
    "sum_output": (
        "{made} pieces made, {good} of them good; {shipped} shipped. Part numbers: {parts}, deliveries: {shipments}."
    ),
    "sum_ppm": (
        "In complaints about these deliveries: {pieces} pieces, {ppm} ppm (95 % interval {low} to {high}); "
        "accepted {ours}, disputed or open {disputed}."
    ),
    "sum_no_ppm": "Nothing is known to have been shipped, so there is no ppm; in complaints: {pieces} pieces.",
    "sum_cause": (
        "Most frequent cause found by our inspections: {cause} on {part}, {rejected} of {inspected} ({rate}); "
        "rejected pieces were kept back."
    ),
    "sum_no_cause": "Our inspections rejected no pieces; {inspected} were inspected.",
    "sum_not_inspected": "No inspections are recorded for this week: nothing can be said about causes.",
    "sum_capability": (
        "{proven} of {all} measured series of key characteristics have Ppk of at least 1.33, are stable and rest "
        "on 25 subgroups or more; the others are listed with the reason."
    ),
    "sum_no_capability": "No key characteristic was measured in this week.",
    "sum_material": (
        "{lots} lots from {heats} heats in {containers} shipped containers; open holds on these parts: {holds}."
    ),
    "nothing": "Nothing was made, shipped or complained about in this week.",
    "not_read": "No counter readings of this week or a later one have been loaded: nothing is known of it yet.",
    "changes": "Changed since the report sent on {when} (ledger version {version})",
    "no_changes": "No figure has changed since then.",
    "more_changes": "and {n} more",
    "figure": "Figure",
    "was": "was",
    "is": "is now",
    "all_parts": "All parts",
    "part": "Part",
    "revision": "revision {r}",
    "name": "Name",
    "made": "Made",
    "setup_pieces": "Set-up",
    "rejected": "Rejected",
    "reworked": "Reworked",
    "good": "Good",
    "shipped": "Shipped",
    "complaint_pieces": "In complaints",
    "accepted_pieces": "Accepted",
    "disputed": "Disputed",
    "ppm_theirs": "ppm (customer)",
    "ppm_ours": "ppm (accepted)",
    "interval": "95 % interval",
    "to": "{low} to {high}",
    "total": "Total",
    "trend": "ppm by week of delivery",
    "no_dot": "no dot: nothing shipped",
    "trend_alt": (
        "Dot chart of {part}: ppm by week of delivery with 95 % intervals, {first} to {last}; last value {ppm} ppm"
    ),
    "rejects": "Rejects by cause, our inspections",
    "cause": "Cause",
    "kind": "Inspection",
    "full": "every piece",
    "sample": "sample (estimate)",
    "tub": "reject tub",
    "inspected": "Inspected",
    "rate": "Rate",
    "nothing_found": "nothing found",
    "not_inspected": (
        "No inspections of this part are recorded in this week; that is no proof that it was free of faults."
    ),
    "charts": "Control charts",
    "chart_caption": "{cause}: {chart} chart, {kind}, points of {hours} h; {outside} of {points} beyond the limits",
    "chart_alt": "Control chart of {cause} on {part}: {points} points, centre {centre}, {outside} beyond the limits",
    "too_few_points": "Too few stretches of inspected production for a control chart.",
    "capability": "Capability of key characteristics",
    "characteristic": "Characteristic",
    "limits": "Limits",
    "press": "Press, die",
    "n": "n (subgroups)",
    "mean": "Mean",
    "ppk_interval": "Ppk 95 % interval",
    "note": "Note",
    "not_stable": "not stable",
    "not_normal": "not normal",
    "outs_differ": "outs differ",
    "few": "fewer than 25 subgroups",
    "below": "Ppk below 1.33",
    "not_measured": "not measured",
    "in_order": "stable, near normal",
    "lots": "Lots and heats",
    "lot": "Lot",
    "heat": "Heat",
    "coils": "Coils",
    "coil": "Coil",
    "containers": "Containers",
    "filled_pieces": "Filled in week",
    "not_known": "not known, or difference in count",
    "complaints": "Complaints",
    "no_complaints": "None about deliveries of this week, and none reported in it.",
    "complaint": "Complaint",
    "reported": "Reported",
    "delivered": "Delivered in",
    "pieces": "Pieces",
    "our_count": "Our count, same container",
    "of": "{part} of {whole}",
    "standing": "Standing",
    "accepted": "accepted",
    "open": "disputed or open",
    "withdrawn": "withdrawn",
    "holds": "Open containment",
    "no_holds": "No hold on these parts or their material was open at the end of the week.",
    "hold": "Hold",
    "placed": "Placed",
    "held": "Held",
    "scope_coil": "coil {v}",
    "scope_lot": "lot {v}",
    "scope_heat": "heat {v}",
    "scope_container": "container {v}",
    "scope_die": "pieces of one tool",
    "scope_range": "pieces of a stretch of time",
    "here": "Here: containers, pieces",
    "gone": "Shipped: containers, pieces",
    "trace": "Containers shipped, traced to coils",
    "no_shipments": "Nothing was shipped in this week.",
    "shipped_at": "Shipped at",
    "shipped_pieces": "Shipped",
    "pieces_here": "Pieces held here",
    "pieces_shipped": "Pieces held, shipped",
    "shipment": "Delivery",
    "container": "Container",
    "methods": "How the figures are worked out",
    "method_pieces": (
        "Made = set-up + rejected + reworked + good. Pieces come from the press counters, less what the strip in "
        "the die has not yet given; a part that goes through several dies counts once, at the last one."
    ),
    "method_ppm": (
        "ppm = pieces in complaints that were not withdrawn, per million shipped, by week of delivery; internal "
        "scrap never counts. 'Accepted' counts only complaints we accepted. Intervals: Clopper-Pearson, 95 %; "
        "pieces of one complaint are rarely independent, so the true doubt is larger."
    ),
    "method_charts": (
        "Rates: Wilson intervals, 95 %. Control charts: p with the exact limits of each number inspected (ISO "
        "7870-2), or p' (Laney 2002) where points scatter more than chance; centre = rate of the week; no run "
        "rules applied."
    ),
    "method_capability": (
        "Cp, Cpk: spread within subgroups; Pp, Ppk: spread of all values; by press and die, values of this week. "
        "Intervals: chi-square and Bissell (1990). They mean something only for a stable, near-normal process; where "
        "the outs of a die differ in their mean, they are those of a mixture, and each out has to be judged by itself. "
        "The customer's own drawing and manual outrank the 1.33 used here."
    ),
    "method_trace": (
        "Containers are traced through reels and repacks to coils; where only one of several is possible all are "
        "named, and pieces of no known coil stand in a row without one."
    ),
    "set_aside": "Rows of the plant's files set aside as not usable, and so in no figure here: {rows}.",
    "none": "none",
    "advice": "Figures advise; release and hold are decided by the people named in the control plan.",
    "sign": "Sign-off",
    "step": "Step",
    "prepared": "Prepared",
    "checked": "Checked",
    "released": "Released",
    "signature": "Name and signature",
    "date": "Date",
    "logo": "Logo of {name}",
    "actions": "What was done about the causes",
    "done": "What was done",
    "contents": "Contents",
    "rows": "{n} rows",
}


@dataclass(frozen=True)
class PaperWords:
    """The words of one language: `words["made"]`, `words("for", customer=...)`, `words.number(12)`."""

    spoken: catalogue.Words

    @property
    def language(self) -> str:
        """Code of the language."""
        return self.spoken.language

    def __getitem__(self, key: str) -> str:
        """Return a phrase."""
        return self.spoken.say(PHRASES[key])

    def __call__(self, key: str, **values: object) -> str:
        """Return a phrase with its gaps filled; what fills them is never read as a pattern."""
        return self.spoken.say(PHRASES[key], **values)

    def number(self, value: Any, digits: int = 0) -> str:
        """Return a number with thin spaces between thousands; a dash where it is not known."""
        return MISSING if pd.isna(value) else self.spoken.number(float(value), digits)

    def percent(self, share: Any) -> str:
        """Return a share of 1 in per cent, to three figures where it is small."""
        if pd.isna(share):
            return MISSING
        return self.spoken.per_cent(share, 1 if share >= 0.1 else 2 if share >= 0.01 or share == 0 else 3)

    def ppm(self, value: Any) -> str:
        """Return parts per million, to one place below ten."""
        return self.number(value, 1 if not pd.isna(value) and 0 < value < 10 else 0)

    def day(self, iso: str) -> str:
        """Return the date of an ISO text, with its weekday."""
        return self.spoken.date(dt.date.fromisoformat(iso[:10]))

    def moment(self, iso: str) -> str:
        """Return date and clock time of an ISO text, as they stand there."""
        return f"{self.day(iso)}, {iso[11:16]}"

    def moment_in_year(self, iso: str) -> str:
        """Return the same where the year is plain."""
        return f"{self.spoken.short_date(dt.date.fromisoformat(iso[:10]))}, {iso[11:16]}"

    def hour(self, iso: str) -> str:
        """Return day and clock hour of an ISO text, as they stand on an axis."""
        return f"{self.spoken.shortest_date(dt.date.fromisoformat(iso[:10]))} {iso[11:13]}h"


def words(language: str) -> PaperWords:
    """Return the words of a language: en, es or de."""
    return PaperWords(catalogue.words(language))
