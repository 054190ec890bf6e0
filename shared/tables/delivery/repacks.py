"""The input table `repacks`."""

from __future__ import annotations

from shared.table import Table

TABLE = Table(
    "repacks",
    "event",
    "Pieces moved from one container into another.",
    key=("time", "from_container", "to_container"),
    required=("time", "from_container", "to_container", "quantity"),
    refers={"from_container": ("containers",), "to_container": ("containers",)},
    time="time",
)
