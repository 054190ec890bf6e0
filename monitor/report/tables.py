"""The tables of a customer's week: columns, kinds and meanings, as they are written to CSV, Parquet and XLSX."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType


class CellKind(Enum):
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
    columns: Mapping[str, CellKind]
    meanings: Mapping[str, str]


#: Columns that hold names in tuples, by table; files have them as `;`-lists.
LISTS: Mapping[str, frozenset[str]] = MappingProxyType(
    {"containers": frozenset({"shipment_id"}), "holds": frozenset({"parts"})}
)

_COLUMNS: dict[str, tuple[CellKind, str]] = {
    "part_no": (CellKind.TEXT, "number of the part"),
    "name": (CellKind.TEXT, "plain name of the part"),
    "revision": (CellKind.TEXT, "revision of the part's drawing"),
    "week": (CellKind.TEXT, "week of the delivery"),
    "made": (CellKind.COUNT, "finished pieces that left the last die; empty for a part made for another customer"),
    "setup_pieces": (CellKind.COUNT, "pieces made while setting and not released, or used up by tests"),
    "rejected": (CellKind.COUNT, "pieces rejected and neither reworked nor found good"),
    "reworked": (CellKind.COUNT, "rejected pieces made good by rework"),
    "good": (CellKind.COUNT, "made less setup_pieces, rejected and reworked"),
    "shipped": (CellKind.COUNT, "pieces delivered, each once; empty where nobody knows how many were in a container"),
    "complaints": (CellKind.COUNT, "complaints about deliveries of the week"),
    "complaint_pieces": (CellKind.COUNT, "pieces in them, those withdrawn left out"),
    "accepted_pieces": (CellKind.COUNT, "pieces in accepted complaints"),
    "disputed": (CellKind.COUNT, "pieces in complaints refused or open, and not withdrawn"),
    "ppm_theirs": (CellKind.NUMBER, "complaint_pieces per million shipped"),
    "theirs_low": (CellKind.NUMBER, "lower end of its exact 95 % interval"),
    "theirs_high": (CellKind.NUMBER, "upper end of its exact 95 % interval"),
    "ppm_ours": (CellKind.NUMBER, "accepted_pieces per million shipped"),
    "ours_low": (CellKind.NUMBER, "lower end of its exact 95 % interval"),
    "ours_high": (CellKind.NUMBER, "upper end of its exact 95 % interval"),
    "kind": (CellKind.TEXT, "full: every piece looked at; sample: some; tub: counted out of the reject tub"),
    "cause": (CellKind.TEXT, "code of what is wrong; empty where nothing was found"),
    "cause_name": (CellKind.TEXT, "plain name of the cause"),
    "inspected": (CellKind.COUNT, "pieces looked at, whatever was found; for tub counts pieces made"),
    "in_setup": (CellKind.COUNT, "of the rejected pieces, those made while setting"),
    "rate": (CellKind.SHARE, "rejected over inspected"),
    "rate_low": (CellKind.SHARE, "lower end of its 95 % interval (Wilson)"),
    "rate_high": (CellKind.SHARE, "upper end of its 95 % interval (Wilson)"),
    "start_at": (CellKind.TIME, "start of the stretch of production"),
    "hours": (CellKind.COUNT, "length of the stretch [h]"),
    "chart": (CellKind.TEXT, "p, or p' (Laney) where the points scatter more than chance"),
    "centre": (CellKind.SHARE, "centre line: rejected over inspected of the week"),
    "low": (CellKind.SHARE, "lower limit, three standard deviations"),
    "high": (CellKind.SHARE, "upper limit, three standard deviations"),
    "outside": (CellKind.FLAG, "whether the point lies beyond a limit"),
    "characteristic": (CellKind.TEXT, "name of what is measured"),
    "unit": (CellKind.TEXT, "its unit"),
    "lower": (CellKind.NUMBER, "lower specification limit"),
    "upper": (CellKind.NUMBER, "upper specification limit"),
    "press_id": (CellKind.TEXT, "the press"),
    "die_id": (CellKind.TEXT, "number of the die"),
    "n": (CellKind.COUNT, "number of values"),
    "subgroups": (CellKind.COUNT, "number of subgroups"),
    "mean": (CellKind.NUMBER, "mean of all values"),
    "sd_within": (CellKind.NUMBER, "standard deviation within subgroups"),
    "sd_overall": (CellKind.NUMBER, "standard deviation of all values"),
    "cp": (CellKind.NUMBER, "tolerance over six standard deviations within"),
    "cpk": (CellKind.NUMBER, "distance to the nearer limit over three standard deviations within"),
    "cpk_low": (CellKind.NUMBER, "lower end of its 95 % interval"),
    "cpk_high": (CellKind.NUMBER, "upper end of its 95 % interval"),
    "pp": (CellKind.NUMBER, "tolerance over six standard deviations overall"),
    "ppk": (CellKind.NUMBER, "distance to the nearer limit over three standard deviations overall"),
    "ppk_low": (CellKind.NUMBER, "lower end of its 95 % interval"),
    "ppk_high": (CellKind.NUMBER, "upper end of its 95 % interval"),
    "stable": (CellKind.FLAG, "whether no point of the control chart lies beyond its limits; empty: too few to say"),
    "normal": (CellKind.FLAG, "whether the values may be taken as normal (Shapiro-Wilk, 5 %); empty: too few to say"),
    "outs_differ": (
        CellKind.FLAG,
        "whether the outs of the die differ in their mean (analysis of variance, 0.1 %), so that the indices are of a "
        "mixture; empty: one out",
    ),
    "lot": (CellKind.TEXT, "lot of the strip; a ;-list where it is one of several; empty where it is not known"),
    "heat": (CellKind.TEXT, "melt of the strip, as lot"),
    "coils": (CellKind.COUNT, "coils of the lot and heat"),
    "containers": (CellKind.COUNT, "containers with pieces of it"),
    "filled_pieces": (CellKind.COUNT, "pieces of it in containers opened in the week"),
    "shipped_pieces": (CellKind.COUNT, "pieces of it in containers shipped in the week"),
    "container_id": (CellKind.TEXT, "the container"),
    "shipment_id": (CellKind.TEXT, "the delivery"),
    "shipped_at": (CellKind.TIME, "when it was shipped"),
    "coil_id": (
        CellKind.TEXT,
        "the coil; a ;-list where it is one of several; empty: not known, or a difference in count",
    ),
    "pieces": (CellKind.COUNT, "pieces"),
    "complaint_id": (CellKind.TEXT, "the complaint"),
    "reported_at": (CellKind.TIME, "when it was reported"),
    "delivered_in": (CellKind.TEXT, "week of the delivery it is about; the week reported where it names none"),
    "standing": (CellKind.TEXT, "accepted; disputed: refused or open; withdrawn: closed without being accepted"),
    "closed_at": (CellKind.TIME, "when it was closed"),
    "our_inspected": (
        CellKind.COUNT,
        "pieces of that container we had looked at; empty: none, or no container of this customer named",
    ),
    "our_rejected": (CellKind.COUNT, "pieces of that cause we had found and kept back"),
    "done": (CellKind.TEXT, "what was done about the cause, as the quality desk wrote it"),
    "hold_id": (CellKind.TEXT, "the hold"),
    "placed_at": (CellKind.TIME, "when it was placed"),
    "scope": (CellKind.TEXT, "what is held: coil, lot, heat, container, die, range (a stretch of time)"),
    "value": (CellKind.TEXT, "which coil, lot, heat or container; a ;-list where pieces of it were packed over"),
    "parts": (CellKind.TEXT, "parts concerned, a ;-list"),
    "containers_here": (CellKind.COUNT, "containers concerned that have not left"),
    "pieces_here": (CellKind.COUNT, "pieces in them"),
    "containers_shipped": (CellKind.COUNT, "containers concerned that were shipped"),
    "pieces_shipped": (CellKind.COUNT, "pieces in them"),
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
