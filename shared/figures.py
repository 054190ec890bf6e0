"""The figure tables: what one row is, the columns in order, and the sums that must close in every row.

Counts are integers and add up, durations are seconds, an empty value is not known and never stands for 0.
"""

from __future__ import annotations

from dataclasses import dataclass

from shared.factors import FACTORS
from shared.fields import FIELDS, Field, Kind, count, flag, identifier, number, text, time

#: Rejected pieces that one sharpening is worth, lost press time and grind life included, unless told otherwise;
#: common practice, no source.
SHARPENING_PIECES = 2000.0


@dataclass(frozen=True)
class Figure:
    """One figure table; `closes` lists (whole, parts): the whole equals the sum of its parts in every row."""

    name: str
    row_per: str
    columns: tuple[Field, ...]
    closes: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)


def _share(name: str, meaning: str) -> Field:
    return number(name, "1", meaning, 0, 1)


_WHERE_AND_WHAT = (
    Field("shift_date", Kind.DATE, "", "date on which the shift starts"),
    text("shift", "name of the shift"),
    time("hour_start", "start of the clock hour"),
    text("week", "ISO week, such as 2026-W45"),
    identifier("stop_id", "one stop; the same on each of its rows"),
    time("end_at", "when it ended"),
    time("mounted_at", "when the coil went on the press"),
    time("removed_at", "when the coil came off the press"),
    flag("planned", "whether the stop is taken out of planned time"),
)

_DURATIONS = (
    number("planned_s", "s", "time planned for the press, running outside the plan included", 0),
    number("running_s", "s", "time in which the press strokes", 0),
    number("stopped_s", "s", "planned time in which it does not", 0),
    number("unresolved_s", "s", "planned time in which nobody saw whether it did: the readings lie too far apart", 0),
    number("setup_s", "s", "part of running and stopped time between setting a die and its first-off", 0),
    number("extra_run_s", "s", "running time in a break or outside the plan", 0),
    number("seconds", "s", "how long the stop lasted in this shift", 0),
)

_COUNTS = (
    count("strokes", "strokes", "strokes of the press"),
    count("setup_strokes", "strokes", "strokes between setting a die and its first-off"),
    count("strokes_without_strip", "strokes", "strokes with no strip in the die"),
    count("pieces", "pieces", "pieces that left the die"),
    count("setup_pieces", "pieces", "pieces made before first-off and not released"),
    count("rejected", "pieces", "pieces rejected and neither reworked nor found good"),
    count("reworked", "pieces", "rejected pieces made good by rework"),
    count("good", "pieces", "pieces neither rejected, reworked nor made while setting"),
    count("unfinished", "progressions", "progressions left in the die when the strip came out, counted once"),
    count("inspected", "pieces", "pieces looked at"),
    count("subgroups", "", "number of subgroups"),
    count("n", "", "number of values"),
    count("in_die", "pieces", "pieces still in the die"),
    count("shipped", "pieces", "pieces sent to the customer, each once"),
    count("made", "pieces", "pieces that left the die"),
    count("complaints", "", "complaints about deliveries of the week, or reported in it where they name none"),
    count("complaint_pieces", "pieces", "pieces in these complaints; one closed without being accepted was withdrawn"),
    count("disputed", "pieces", "pieces in these complaints that are refused or still open, and not withdrawn"),
    count("strokes_from", "strokes", "start of the bin, included"),
    count("strokes_to", "strokes", "end of the bin, not included"),
    count("strokes_since_sharpening", "strokes", "since the last entry; empty before the first"),
    count("economic_interval", "strokes", "strokes at which scrap costs more than sharpening"),
)

_RATES = (
    number("parts_per_planned_hour", "1/h", "pieces in an hour of planned time", 0),
    number("parts_per_running_hour", "1/h", "pieces in an hour of running time", 0),
    _share("availability", "running time over planned time (ISO 22400-2)"),
    _share(
        "effectiveness",
        "planned run time of the pieces over running time (ISO 22400-2); above 1 the rated speed is wrong",
    ),
    _share("quality", "good pieces over pieces (ISO 22400-2 quality ratio)"),
    _share("oee_index", "availability times effectiveness times quality (ISO 22400-2)"),
    _share("rate", "rejected over inspected; for tub counts over pieces made"),
    _share("rate_low", "lower end of the 95 % interval of the rate"),
    _share("rate_high", "upper end of the 95 % interval of the rate"),
    number("rate_ratio", "1", "how many times the rate", 0),
    number("ratio_low", "1", "lower end of the 95 % interval of the ratio", 0),
    number("ratio_high", "1", "upper end of the 95 % interval of the ratio", 0),
    number("pieces_explained", "pieces", "rejected pieces this level accounts for"),
    number("explained_low", "pieces", "lower end of the 95 % interval of the pieces explained"),
    number("explained_high", "pieces", "upper end of the 95 % interval of the pieces explained"),
    _share("false_alarm", "chance that the line is a false alarm, corrected for everything looked at"),
    number("ppm_ours", "ppm", "pieces of accepted complaints per million shipped", 0, 1e6),
    number("ppm_theirs", "ppm", "pieces of all complaints not withdrawn per million shipped", 0, 1e6),
)

_MATERIAL = (
    number("used_m", "m", "strip used", 0),
    number("used_kg", "kg", "strip used", 0),
    number("start_kg", "kg", "weighed at the mounting, else what was left, else received", 0),
    number("remaining_kg", "kg", "strip left after the mounting", 0),
    number("overrun_m", "m", "strip used beyond the coil's length: a change was not noted", 0),
    number("good_kg", "kg", "good and reworked pieces", 0),
    number("skeleton_kg", "kg", "skeleton and slugs: strip less net weight, designed in", 0),
    number("unfinished_kg", "kg", "progressions left in the die, strip cut away, strip that waits for its last die", 0),
    number("setup_kg", "kg", "pieces made while setting", 0),
    number("rejected_kg", "kg", "rejected pieces", 0),
    number("difference_kg", "kg", "start less all that is accounted for, with its sign"),
    _share("coil_yield", "weight of good pieces over weight of strip used"),
    text("state", "where the coil is", ("on press", "in store", "used up")),
    count("mountings", "", "how often it was on a press"),
    number("received_kg", "kg", "weight on receipt", 0),
    number("left_kg", "kg", "weighed when it last came off, else reckoned", 0),
    number("left_m", "m", "strip left", 0),
    number("explained_kg", "kg", "difference that weighing, thickness, width and counting explain", 0),
    text("finding", "what is to be said of the difference", ("explained", "not explained", "not weighed")),
    text("likeliest", "the one wrong input most likely", ("width_mm", "thickness_mm", "pitch_mm", "count")),
    _share("chance", "chance that it is this input, if it is one alone"),
    number("entered", "", "what was entered for it: mm, or strokes counted"),
    number("needed", "", "what would mend the difference"),
    number("needed_low", "", "lower end of that, as far as the scales tell"),
    number("needed_high", "", "upper end of that, as far as the scales tell"),
)

_CAPABILITY = (
    number("mean", "", "mean, in the characteristic's unit"),
    number("sd_within", "", "standard deviation within subgroups", 0),
    number("sd_overall", "", "standard deviation of all values", 0),
    number("cp", "1", "tolerance over six standard deviations within", 0),
    number("cpk", "1", "distance to the nearer limit over three standard deviations within"),
    number("pp", "1", "tolerance over six standard deviations overall", 0),
    number("ppk", "1", "distance to the nearer limit over three standard deviations overall"),
    number("cpk_low", "1", "lower end of the 95 % interval of cpk"),
    number("cpk_high", "1", "upper end of the 95 % interval of cpk"),
    flag("stable", "whether the control chart shows no signal"),
    flag("normal", "whether the values may be taken as normally distributed"),
    flag("outs_differ", "whether outs pooled here have different means, so that each is to be judged by itself"),
)

_FINDINGS = (
    text("factor", "what was compared", FACTORS),
    text("level", "which lot, press, shift and so on"),
    text("verdict", "what the data say", ("acts", "clear", "tied", "not_enough")),
    text("tied_with", "the factor and level the data cannot tell this one from"),
    text("stations", "stations whose operation can make the cause", listed=True),
    text("next_test", "what to run to tell them apart"),
    flag("spread", "whether a tub count was split by pieces"),
    time("expected_due_at", "when the next sharpening falls due at the present rate"),
    time("last_good_at", "last check that found the pieces good"),
    time("likely_since", "last check before a clear rise of the share found bad; empty where there was no clear rise"),
    count("likely_pieces", "pieces", "pieces made since `likely_since`: where most of the bad ones are"),
    time("found_at", "when the fault was found"),
    text("containers", "containers the pieces are in", listed=True),
)

_BOOKKEEPING = (
    count("id", "", "number of the row set aside"),
    text("table", "input table"),
    text("file", "file it came from"),
    count("line", "", "line of the file, or row of a Parquet file, 1 = first"),
    text("reason", "why"),
    text("row", "the row as it came"),
    time("set_aside_at", "when it was set aside"),
    count("load_id", "", "number of the load"),
    count("rows", "rows", "rows in the file"),
    count("outside", "rows", "rows a profile leaves out"),
    count("read", "rows", "rows read"),
    count("new", "rows", "rows that were new"),
    count("repeated", "rows", "rows that were there already"),
    count("corrected", "rows", "rows that replaced an earlier one"),
    count("set_aside", "rows", "rows set aside"),
    time("loaded_at", "when it was loaded"),
    text("refused", "why the file was refused; empty = taken"),
)

CONTRADICTIONS = (
    "more_rejected_than_made", "coil_on_two_presses", "die_in_two_presses", "box_sent_twice",
    "more_decided_than_rejected", "sample_larger_than_made", "stop_while_running", "event_of_other_die",
)  # fmt: skip
_CONTRADICTIONS = (
    text("code", "what cannot be", CONTRADICTIONS),
    time("at", "when the row was noted that cannot be true beside the others"),
    text("affects", "figures that it makes wrong or leaves empty", listed=True),
    text("remedy", "what is wrong, and what to do"),
)

_OWN: dict[str, dict[str, Field]] = {
    "contradictions": {
        "press_id": text("press_id", "the presses", listed=True),
        "die_id": text("die_id", "the dies", listed=True),
        "part_no": text("part_no", "the parts", listed=True),
        "coil_id": text("coil_id", "the coils", listed=True),
        "container_id": text("container_id", "the containers", listed=True),
        "inspection_id": text("inspection_id", "the inspections", listed=True),
        "rows": text("rows", "file and line of each row", listed=True),
    },
    "stops": {"kind": text("kind", "kind of the reason"), "reason": FIELDS["reason"]},
    "scrap": {"kind": text("kind", "kind of inspection", ("sample", "full", "tub"))},
    "trace": {
        "pieces": Field(
            "pieces",
            Kind.COUNT,
            "pieces",
            "pieces that came in; in a row without a coil also the difference from the count, < 0 = more traced",
        )
    },
}
_GROUPS = (
    _WHERE_AND_WHAT,
    _DURATIONS,
    _COUNTS,
    _RATES,
    _MATERIAL,
    _CAPABILITY,
    _FINDINGS,
    _BOOKKEEPING,
    _CONTRADICTIONS,
)
_FIGURE_FIELDS: dict[str, Field] = FIELDS | {field.name: field for group in _GROUPS for field in group}


def _figure(name: str, row_per: str, columns: str, *closes: tuple[str, tuple[str, ...]]) -> Figure:
    fields = _FIGURE_FIELDS | _OWN.get(name, {})
    return Figure(name, row_per, tuple(fields[c] for c in columns.split()), closes)


_PIECES = ("pieces", ("good", "reworked", "rejected", "setup_pieces"))

FIGURES: dict[str, Figure] = {
    figure.name: figure
    for figure in (
        _figure(
            "shifts",
            "press, shift, die, part (die empty: no die in the press; of a die of several parts only the first running "
            "out has strokes and time)",
            "shift_date shift press_id die_id part_no planned_s running_s stopped_s unresolved_s setup_s extra_run_s "
            "strokes setup_strokes strokes_without_strip pieces setup_pieces rejected reworked good "
            "parts_per_planned_hour parts_per_running_hour availability effectiveness quality oee_index",
            _PIECES,
            ("planned_s", ("running_s", "stopped_s", "unresolved_s")),
        ),
        _figure(
            "hours",
            "press, clock hour, die, part",
            "hour_start press_id die_id part_no running_s unresolved_s strokes pieces rejected good",
        ),
        _figure(
            "stops",
            "stop and shift (a stop over a shift change gives a row a shift, one stop_id)",
            "stop_id press_id die_id start_at end_at seconds shift_date shift reason kind planned",
        ),
        _figure(
            "coils",
            "mounting of a coil on a press (what strip weighs that goes through several dies stands with its coil)",
            "coil_id lot heat supplier material press_id die_id mounted_at removed_at strokes used_m used_kg "
            "start_kg remaining_kg overrun_m pieces unfinished setup_pieces rejected good good_kg "
            "skeleton_kg unfinished_kg setup_kg rejected_kg difference_kg coil_yield",
            (
                "start_kg",
                (
                    "good_kg",
                    "skeleton_kg",
                    "unfinished_kg",
                    "setup_kg",
                    "rejected_kg",
                    "remaining_kg",
                    "difference_kg",
                ),
            ),
        ),
        _figure(
            "coil_ledger",
            "coil, over all its mountings",
            "coil_id lot heat supplier material state press_id die_id mountings mounted_at removed_at received_kg "
            "used_m used_kg pieces rejected good good_kg skeleton_kg unfinished_kg setup_kg rejected_kg left_kg "
            "left_m overrun_m difference_kg explained_kg finding likeliest chance entered needed needed_low "
            "needed_high coil_yield",
            (
                "received_kg",
                (
                    "good_kg",
                    "skeleton_kg",
                    "unfinished_kg",
                    "setup_kg",
                    "rejected_kg",
                    "left_kg",
                    "difference_kg",
                ),
            ),
        ),
        _figure(
            "scrap",
            "die, part, shift, coil, cause, kind of inspection",
            "shift_date shift press_id die_id part_no coil_id lot cause kind inspected rejected "
            "rate rate_low rate_high spread",
        ),
        _figure(
            "suspects",
            "die, cause, factor, level",
            "die_id cause factor level rate_ratio ratio_low ratio_high pieces_explained explained_low "
            "explained_high false_alarm verdict tied_with stations inspected rejected next_test",
        ),
        _figure(
            "wear",
            "die, cause, bin of strokes since sharpening",
            "die_id cause strokes_from strokes_to inspected rejected rate rate_low rate_high",
        ),
        _figure(
            "service",
            "die, station (history before the first entry is empty, never 0)",
            "die_id station strokes_since_sharpening sharpen_every_strokes economic_interval expected_due_at",
        ),
        _figure(
            "trace",
            "container, coil (all the way back through a reel)",
            "container_id part_no shipment_id customer coil_id lot heat supplier pieces",
        ),
        _figure(
            "capability",
            "part, characteristic, press, die",
            "part_no characteristic press_id die_id n subgroups mean sd_within sd_overall cp cpk pp ppk "
            "cpk_low cpk_high stable normal outs_differ",
        ),
        _figure(
            "exposure",
            "press, die, cause or characteristic: how far back to sort",
            "press_id die_id cause characteristic last_good_at found_at strokes pieces in_die containers shipped "
            "likely_since likely_pieces",
        ),
        _figure(
            "customer_week",
            "customer, part, week",
            "customer part_no week made good shipped complaints complaint_pieces ppm_ours ppm_theirs disputed",
        ),
        _figure(
            "contradictions",
            "set of rows that cannot all be true",
            "code press_id die_id part_no coil_id container_id inspection_id at rows affects remedy",
        ),
        _figure("set_aside", "row set aside", "id table file line reason row set_aside_at"),
        _figure(
            "loads",
            "file loaded",
            "load_id file table rows outside read new repeated corrected set_aside loaded_at refused",
            ("read", ("new", "repeated", "corrected", "set_aside")),
            ("rows", ("read", "outside")),
        ),
    )
}
