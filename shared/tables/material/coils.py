"""The input table `coils`."""

from __future__ import annotations

from shared.fields import number
from shared.table import Table

TABLE = Table(
    "coils",
    "material",
    "Coils of strip as bought, with their lot, heat, size, weight and certificate values.",
    key=("coil_id",),
    required=("coil_id", "lot", "material", "width_mm", "thickness_mm", "weight_kg"),
    optional=(
        "heat",
        "supplier",
        "received_at",
        "yield_mpa",
        "tensile_mpa",
        "elongation_pct",
        "hardness_hv",
        "cert_no",
        "cert_type",
        "mother_coil",
        "slit_position",
    ),
    mentions={"material": ("materials",)},
    time="received_at",
    # A recall begins with a lot or a heat.
    sought_by=("lot", "heat"),
    own=(number("weight_kg", "kg", "weight received", 0.01, 200_000),),
)
