"""Every reason that is kept, by its code: why rows are set aside, files refused, readings not believed.

A reason is made by `phrase(VALUE_MISSING, column=…)` where it arises, kept as its code and values (`kept`), and turned
into a sentence where somebody reads it.  A new one is a `Template` in the module of its topic and its entries in
`shared/words/*/stored.po`.
"""

from collections.abc import Mapping
from types import MappingProxyType

from shared.phrases import Template
from shared.reasons import expected, files, ledger, plant_file, rows


def _registry() -> dict[str, Template]:
    found: dict[str, Template] = {}
    for module in (rows, expected, files, plant_file, ledger):
        for name, made in vars(module).items():
            if isinstance(made, Template) and found.setdefault(made.code, made) is not made:
                raise ValueError(f"{module.__name__}.{name}: the code {made.code} is taken")
    return found


REASONS: Mapping[str, Template] = MappingProxyType(_registry())
"""Code -> the English text of a reason, or of a part of one."""
