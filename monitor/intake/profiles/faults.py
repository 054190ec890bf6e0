"""Says in words what is wrong with a profile."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from shared.errors import RefusedFile

_MOST_LETTERS = 80


def explain(where: str, error: ValidationError, model: type[BaseModel]) -> RefusedFile:
    """The first fault as an error that names the key, what stands there and what to write."""
    faults = error.errors(include_url=False)
    first = faults[0]
    place = ".".join(str(part) for part in first["loc"])
    mend = "Mend the profile"
    if len(faults) > 1:
        others = sorted({".".join(str(part) for part in fault["loc"]) or "the whole" for fault in faults[1:]})
        mend += f" ({len(faults) - 1} more to mend: {', '.join(others)})"
    return RefusedFile(f"{where}, {place}" if place else where, _seen(first), _expected(first, model), mend)


def _seen(fault: ErrorDetails) -> str:
    if fault["type"] == "missing":
        return "nothing"
    if fault["type"] == "extra_forbidden":
        return f"the unknown key {str(fault['loc'][-1])!r}"
    if isinstance(fault["input"], (dict, BaseModel)):
        return "keys that do not fit together"
    return repr(fault["input"])[:_MOST_LETTERS]


def _expected(fault: ErrorDetails, model: type[BaseModel]) -> str:
    context: dict[str, Any] = fault.get("ctx", {})
    if fault["type"] == "profile":
        return str(context["expected"])
    if fault["type"] == "missing":
        return f"a value for {fault['loc'][-1]}"
    if fault["type"] == "extra_forbidden":
        return "one of " + ", ".join(_keys(fault["loc"][:-1], model))
    return fault["msg"].lower()


def _keys(loc: tuple[int | str, ...], model: type[BaseModel]) -> list[str]:
    """Keys that stand beside the unknown one."""
    part = model
    for step in loc:
        field = part.model_fields.get(str(step))
        if field is not None:
            part = part_of(field.annotation) or part
    return keys_of(part)


def keys_of(part: type[BaseModel]) -> list[str]:
    """Keys of a part as they are written."""
    return [field.alias or name for name, field in part.model_fields.items() if not field.exclude]


def part_of(annotation: object) -> type[BaseModel] | None:
    """The part that a key holds, alone, in a list or by name; None where it holds a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (part_of(inner) for inner in get_args(annotation))
    return next((part for part in found if part), None)
