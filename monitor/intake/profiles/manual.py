"""Renders the keys of a profile for the manual, from the model: `python -m monitor.intake.profiles.manual`."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from monitor.intake.profiles.faults import part_of
from monitor.intake.profiles.model import Profile

PAGE = Path(__file__).parents[3] / "docs" / "profiles.md"
MARK = "<!-- keys: written by python -m monitor.intake.profiles.manual -->"
_HEADS = {
    "constants": "[constants.NAME]",
    "columns": "[columns.NAME]",
    "drop_if": "[[drop_if]]",
    "clock_offsets": "[[time.clock_offsets]]",
}


def key_tables() -> str:
    """The keys of a profile as Markdown, a table for each part."""
    return "\n".join([MARK, "", *_part("", Profile)])


def page(text: str) -> str:
    """The page with its key tables written anew; what stands above the mark is kept."""
    return text.partition(MARK)[0] + key_tables() + "\n"


def _part(head: str, part: type[BaseModel]) -> list[str]:
    fields = [(field.alias or name, field) for name, field in part.model_fields.items() if not field.exclude]
    title = f"### `{head}`\n\n{(part.__doc__ or '').strip()}" if head else "### Top of the file"
    lines = [title, "", "| key | left out | meaning |", "|---|---|---|"]
    lines += [f"| `{key}` | {_default(field)} | {_cell(field.description or '')} |" for key, field in fields]
    for key, field in fields:
        inner = part_of(field.annotation)
        if inner:
            lines += ["", *_part(_HEADS.get(key, f"[{key}]"), inner)]
    return lines


def _default(field: FieldInfo) -> str:
    value = field.default
    if value is PydanticUndefined:
        return "must be there"
    if isinstance(value, BaseModel) or value in ("", None, (), {}, 0, False):
        return "–"
    return f"`{value}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def main() -> None:
    """Write the key tables of the page anew."""
    PAGE.write_text(page(PAGE.read_text("utf-8")), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
