"""The input tables of the data contract, in the order they are loaded (what is referred to comes first)."""

from __future__ import annotations

from shared.table import Table
from shared.tables import (
    causes,
    characteristics,
    coil_changes,
    coil_tests,
    coils,
    complaints,
    containers,
    die_changes,
    die_service,
    dies,
    dispositions,
    holds,
    inspections,
    materials,
    measurements,
    notes,
    orders,
    outs,
    parts,
    presses,
    reasons,
    reels,
    repacks,
    routes,
    shipments,
    stations,
    stops,
    strokes,
)

TABLES: dict[str, Table] = {
    module.TABLE.name: module.TABLE
    for module in (
        presses,
        dies,
        parts,
        materials,
        causes,
        reasons,
        stations,
        outs,
        routes,
        characteristics,
        coils,
        coil_tests,
        reels,
        orders,
        die_changes,
        coil_changes,
        die_service,
        strokes,
        stops,
        containers,
        inspections,
        dispositions,
        measurements,
        repacks,
        shipments,
        complaints,
        holds,
        notes,
    )
}
