"""The tables of a customer's week: columns, kinds and meanings, as they are written to CSV, Parquet and XLSX."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum


class Kind(Enum):
    """What a column holds."""

    TEXT = "text"
    COUNT = "whole number"
    NUMBER = "number"
    SHARE = "share of 1"
    TIME = "ISO 8601 with the plant's offset"
    FLAG = "true or false"

    @property
    def dtype(self) -> str:
        """Name of the pandas type."""
        return {"COUNT": "Int64", "NUMBER": "float64", "SHARE": "float64", "FLAG": "boolean"}.get(self.name, "str")


@dataclass(frozen=True)
class ReportTable:
    """One table: what a row is, its columns in order with their kinds, and what they mean."""

    row_per: str
    columns: Mapping[str, Kind]
    meanings: Mapping[str, str]


_COLUMNS: dict[str, tuple[Kind, str]] = {
    "part_no": (Kind.TEXT, "number of the part"),
    "name": (Kind.TEXT, "plain name of the part"),
    "revision": (Kind.TEXT, "revision of the part's drawing"),
    "week": (Kind.TEXT, "week of the delivery"),
    "made": (Kind.COUNT, "finished pieces that left the last die; empty for a part made for another customer"),
    "setup_pieces": (Kind.COUNT, "pieces made while setting and not released, or used up by tests"),
    "rejected": (Kind.COUNT, "pieces rejected and neither reworked nor found good"),
    "reworked": (Kind.COUNT, "rejected pieces made good by rework"),
    "good": (Kind.COUNT, "made less setup_pieces, rejected and reworked"),
    "shipped": (Kind.COUNT, "pieces delivered, each once; empty where nobody knows how many were in a container"),
    "complaints": (Kind.COUNT, "complaints about deliveries of the week"),
    "complaint_pieces": (Kind.COUNT, "pieces in them, those withdrawn left out"),
    "accepted_pieces": (Kind.COUNT, "pieces in accepted complaints"),
    "disputed": (Kind.COUNT, "pieces in complaints refused or open, and not withdrawn"),
    "ppm_theirs": (Kind.NUMBER, "complaint_pieces per million shipped"),
    "theirs_low": (Kind.NUMBER, "lower end of its exact 95 % interval"),
    "theirs_high": (Kind.NUMBER, "upper end of its exact 95 % interval"),
    "ppm_ours": (Kind.NUMBER, "accepted_pieces per million shipped"),
    "ours_low": (Kind.NUMBER, "lower end of its exact 95 % interval"),
    "ours_high": (Kind.NUMBER, "upper end of its exact 95 % interval"),
    "kind": (Kind.TEXT, "full: every piece looked at; sample: some; tub: counted out of the reject tub"),
    "cause": (Kind.TEXT, "code of what is wrong; empty where nothing was found"),
    "cause_name": (Kind.TEXT, "plain name of the cause"),
    "inspected": (Kind.COUNT, "pieces looked at, whatever was found; for tub counts pieces made"),
    "in_setup": (Kind.COUNT, "of the rejected pieces, those made while setting"),
    "rate": (Kind.SHARE, "rejected over inspected"),
    "rate_low": (Kind.SHARE, "lower end of its 95 % interval (Wilson)"),
    "rate_high": (Kind.SHARE, "upper end of its 95 % interval (Wilson)"),
    "start_at": (Kind.TIME, "start of the stretch of production"),
    "hours": (Kind.COUNT, "length of the stretch [h]"),
    "chart": (Kind.TEXT, "p, or p' (Laney) where the points scatter more than chance"),
    "centre": (Kind.SHARE, "centre line: rejected over inspected of the week"),
    "low": (Kind.SHARE, "lower limit, three standard deviations"),
    "high": (Kind.SHARE, "upper limit, three standard deviations"),
    "outside": (Kind.FLAG, "whether the point lies beyond a limit"),
    "characteristic": (Kind.TEXT, "name of what is measured"),
    "unit": (Kind.TEXT, "its unit"),
    "lower": (Kind.NUMBER, "lower specification limit"),
    "upper": (Kind.NUMBER, "upper specification limit"),
    "press_id": (Kind.TEXT, "the press"),
    "die_id": (Kind.TEXT, "number of the die"),
    "n": (Kind.COUNT, "number of values"),
    "subgroups": (Kind.COUNT, "number of subgroups"),
    "mean": (Kind.NUMBER, "mean of all values"),
    "sd_within": (Kind.NUMBER, "standard deviation within subgroups"),
    "sd_overall": (Kind.NUMBER, "standard deviation of all values"),
    "cp": (Kind.NUMBER, "tolerance over six standard deviations within"),
    "cpk": (Kind.NUMBER, "distance to the nearer limit over three standard deviations within"),
    "cpk_low": (Kind.NUMBER, "lower end of its 95 % interval"),
    "cpk_high": (Kind.NUMBER, "upper end of its 95 % interval"),
    "pp": (Kind.NUMBER, "tolerance over six standard deviations overall"),
    "ppk": (Kind.NUMBER, "distance to the nearer limit over three standard deviations overall"),
    "ppk_low": (Kind.NUMBER, "lower end of its 95 % interval"),
    "ppk_high": (Kind.NUMBER, "upper end of its 95 % interval"),
    "stable": (Kind.FLAG, "whether no point of the control chart lies beyond its limits; empty: too few to say"),
    "normal": (Kind.FLAG, "whether the values may be taken as normal (Shapiro-Wilk, 5 %); empty: too few to say"),
    "outs_differ": (
        Kind.FLAG,
        "whether the outs of the die differ in their mean (analysis of variance, 0.1 %), so that the indices are of a "
        "mixture; empty: one out",
    ),
    "lot": (Kind.TEXT, "lot of the strip; a ;-list where it is one of several; empty where it is not known"),
    "heat": (Kind.TEXT, "melt of the strip, as lot"),
    "coils": (Kind.COUNT, "coils of the lot and heat"),
    "containers": (Kind.COUNT, "containers with pieces of it"),
    "filled_pieces": (Kind.COUNT, "pieces of it in containers opened in the week"),
    "shipped_pieces": (Kind.COUNT, "pieces of it in containers shipped in the week"),
    "container_id": (Kind.TEXT, "the container"),
    "shipment_id": (Kind.TEXT, "the delivery"),
    "shipped_at": (Kind.TIME, "when it was shipped"),
    "coil_id": (Kind.TEXT, "the coil; a ;-list where it is one of several; empty: not known, or a difference in count"),
    "pieces": (Kind.COUNT, "pieces"),
    "complaint_id": (Kind.TEXT, "the complaint"),
    "reported_at": (Kind.TIME, "when it was reported"),
    "delivered_in": (Kind.TEXT, "week of the delivery it is about; the week reported where it names none"),
    "standing": (Kind.TEXT, "accepted; disputed: refused or open; withdrawn: closed without being accepted"),
    "closed_at": (Kind.TIME, "when it was closed"),
    "our_inspected": (
        Kind.COUNT,
        "pieces of that container we had looked at; empty: none, or no container of this customer named",
    ),
    "our_rejected": (Kind.COUNT, "pieces of that cause we had found and kept back"),
    "done": (Kind.TEXT, "what was done about the cause, as the quality desk wrote it"),
    "hold_id": (Kind.TEXT, "the hold"),
    "placed_at": (Kind.TIME, "when it was placed"),
    "scope": (Kind.TEXT, "what is held: coil, lot, heat, container, die, range (a stretch of time)"),
    "value": (Kind.TEXT, "which coil, lot, heat or container; a ;-list where pieces of it were packed over"),
    "parts": (Kind.TEXT, "parts concerned, a ;-list"),
    "containers_here": (Kind.COUNT, "containers concerned that have not left"),
    "pieces_here": (Kind.COUNT, "pieces in them"),
    "containers_shipped": (Kind.COUNT, "containers concerned that were shipped"),
    "pieces_shipped": (Kind.COUNT, "pieces in them"),
}


def _table(row_per: str, columns: str) -> ReportTable:
    names = columns.split()
    return ReportTable(row_per, {n: _COLUMNS[n][0] for n in names}, {n: _COLUMNS[n][1] for n in names})


TABLES: dict[str, ReportTable] = {
    "parts": _table(
        "part",
        "part_no name revision made setup_pieces rejected reworked good shipped complaints complaint_pieces "
        "accepted_pieces disputed ppm_theirs theirs_low theirs_high ppm_ours ours_low ours_high",
    ),
    "trend": _table(
        "part and week of delivery, thirteen weeks",
        "part_no week shipped complaint_pieces accepted_pieces ppm_theirs theirs_low theirs_high ppm_ours",
    ),
    "rejects": _table(
        "part, kind of inspection and cause",
        "part_no kind cause cause_name inspected rejected in_setup reworked rate rate_low rate_high",
    ),
    "actions": _table("part and cause of which something was written", "part_no cause cause_name done"),
    "charts": _table(
        "point of a control chart: part, kind of inspection, cause and stretch of production",
        "part_no kind cause cause_name chart start_at hours inspected rejected rate centre low high outside",
    ),
    "capability": _table(
        "part, key characteristic, press and die",
        "part_no characteristic unit lower upper press_id die_id n subgroups mean sd_within sd_overall cp cpk cpk_low "
        "cpk_high pp ppk ppk_low ppk_high stable normal outs_differ",
    ),
    "lots": _table(
        "part, lot and heat in containers opened or shipped in the week",
        "part_no lot heat coils containers filled_pieces shipped_pieces",
    ),
    "containers": _table(
        "container shipped in the week, and coil",
        "part_no shipped_at shipment_id container_id lot heat coil_id pieces",
    ),
    "complaints": _table(
        "complaint about a delivery of the week, or reported in it",
        "complaint_id reported_at part_no shipment_id container_id delivered_in pieces cause cause_name standing "
        "closed_at our_inspected our_rejected",
    ),
    "holds": _table(
        "hold open at the end of the week that bears on these parts",
        "hold_id placed_at scope value parts containers_here pieces_here containers_shipped pieces_shipped",
    ),
}
