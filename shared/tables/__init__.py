"""The input tables of the data contract, in the order they are loaded (what is referred to comes first)."""

from __future__ import annotations

from shared.table import Table
from shared.tables.book import causes, characteristics, dies, materials, outs, parts, presses, reasons, routes, stations
from shared.tables.delivery import complaints, containers, orders, repacks, shipments
from shared.tables.material import coil_tests, coils, reels
from shared.tables.press import coil_changes, die_changes, die_service, notes, stops, strokes
from shared.tables.quality import actions, dispositions, holds, inspections, measurements

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
        actions,
    )
}
