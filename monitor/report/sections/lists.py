"""What a report lists over all parts: lots and heats, complaints, open containment, containers traced to coils."""

from __future__ import annotations

import pandas as pd

from monitor.report.blocks import Block, Grid, GridColumn, Heading, Text
from monitor.report.sections.cells import cause_of, rows_of
from monitor.report.view import CustomerWeek
from monitor.report.words import MISSING, PaperWords


def lots(view: CustomerWeek, words: PaperWords) -> list[Block]:
    """Return the section of lots and heats."""
    table = view.tables["lots"]
    if table.empty:
        return []
    columns = (
        *(GridColumn(words[name], width=1) for name in ("part", "lot", "heat")),
        *(GridColumn(words[name], True) for name in ("coils", "containers", "filled_pieces", "shipped")),
    )
    rows = [
        (
            row["part_no"],
            row["lot"] or MISSING,
            row["heat"] or MISSING,
            *(words.number(row[name]) for name in ("coils", "containers", "filled_pieces", "shipped_pieces")),
        )
        for row in rows_of(table)
    ]
    unknown = [Text((f"{MISSING} {words['not_known']}",), small=True)] if (table["lot"] == "").any() else []
    return [Heading(1, words["lots"]), Grid(columns, tuple(rows)), *unknown]


def complaints(view: CustomerWeek, words: PaperWords) -> list[Block]:
    """Return the section of complaints beside our own count."""
    heading, table = Heading(1, words["complaints"]), view.tables["complaints"]
    if table.empty:
        return [heading, Text((words["no_complaints"],))]
    labels = (
        ("complaint", 1.45),
        ("reported", 1.3),
        ("part", 1.2),
        ("container", 1.3),
        ("delivered", 1.2),
        ("cause", 1.3),
    )
    columns = (
        *(GridColumn(words[name], width=width) for name, width in labels),
        GridColumn(words["pieces"], True),
        GridColumn(words["our_count"], width=1.4),
        GridColumn(words["standing"], width=1.1),
    )
    rows = []
    for row in rows_of(table):
        place = row["container_id"] or row["shipment_id"] or MISSING
        what = (row["complaint_id"], words.day(row["reported_at"]), row["part_no"], place, row["delivered_in"])
        count = MISSING
        if not pd.isna(row["our_inspected"]):
            count = words("of", part=words.number(row["our_rejected"]), whole=words.number(row["our_inspected"]))
        standing = words["open" if row["standing"] == "disputed" else row["standing"]]
        rows.append((*what, cause_of(row) or MISSING, words.number(row["pieces"]), count, standing))
    return [heading, Grid(columns, tuple(rows))]


def holds(view: CustomerWeek, words: PaperWords) -> list[Block]:
    """Return the section of open containment."""
    heading, table = Heading(1, words["holds"]), view.tables["holds"]
    if table.empty:
        return [heading, Text((words["no_holds"],))]
    columns = (
        *(
            GridColumn(words[name], width=width)
            for name, width in (("hold", 1), ("placed", 1.5), ("held", 2), ("part", 1.3))
        ),
        *(GridColumn(words[name], True, 1.5) for name in ("here", "gone")),
    )
    rows = [
        (
            row["hold_id"],
            words.day(row["placed_at"]),
            words(f"scope_{row['scope']}", v=row["value"]),
            ", ".join(row["parts"]),
            *(
                f"{words.number(row[f'containers_{where}'])} / {words.number(row[f'pieces_{where}'])}"
                for where in ("here", "shipped")
            ),
        )
        for row in rows_of(table)
    ]
    return [heading, Grid(columns, tuple(rows))]


def containers(view: CustomerWeek, words: PaperWords) -> list[Block]:
    """Return the section of what was shipped, traced to coils."""
    heading, table = Heading(1, words["trace"]), view.tables["containers"]
    if table.empty:
        return [heading, Text((words["no_shipments"],))]
    labels = ("part", "shipped_at", "shipment", "container", "lot", "heat", "coil")
    columns = (
        *(GridColumn(words[n], width=1.7 if n == "shipped_at" else 1) for n in labels),
        GridColumn(words["pieces"], True),
    )
    rows = [
        (
            row["part_no"],
            words.moment_in_year(row["shipped_at"]),
            ", ".join(row["shipment_id"]),
            row["container_id"],
            row["lot"] or MISSING,
            row["heat"] or MISSING,
            row["coil_id"] or MISSING,
            words.number(row["pieces"]),
        )
        for row in rows_of(table)
    ]
    unknown = [Text((f"{MISSING} {words['not_known']}",), small=True)] if (table["coil_id"] == "").any() else []
    return [heading, Grid(columns, tuple(rows)), *unknown]
