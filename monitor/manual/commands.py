"""Renders the manual's list of commands from the commands themselves."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from typing import Any, get_type_hints

from typer.main import get_command

from monitor.cli.figures import FigureName
from monitor.cli.main import app

MARK = "<!-- commands: written by python -m monitor.manual -->"


def commands_page(text: str) -> str:
    """The page with its list of commands written anew; what stands above the mark is kept."""
    return text.partition(MARK)[0] + "\n".join([MARK, "", *_commands("strokeledger", get_command(app))]) + "\n"


def _commands(path: str, group: Any) -> Iterator[str]:
    for name, command in group.commands.items():
        called = f"{path} {name}"
        yield from (f"{'#' * len(called.split())} {called}", "", _one_line(command.help), "")
        if hasattr(command, "commands"):
            yield from _commands(called, command)
        else:
            yield from _parameters(command)


def _parameters(command: Any) -> Iterator[str]:
    hints = get_type_hints(command.callback)
    yield from ("| given as | meaning | left out |", "|---|---|---|")
    for told in sorted(command.params, key=lambda one: one.opts[0].startswith("-")):
        name = ", ".join(f"`{opt}`" for opt in told.opts) if told.opts[0].startswith("-") else f"`{_place(told)}`"
        yield f"| {name} | {_meaning(told.help, hints.get(told.name))} | {_left_out(told)} |"
    yield ""


def _place(argument: Any) -> str:
    name = str(argument.metavar or argument.name.upper())
    return name.strip("[]…") + (" …" if argument.nargs == -1 else "")


def _meaning(text: str | None, kind: Any) -> str:
    if kind is FigureName:
        return f"{_one_line(text)} [figures.md](figures.md) has them all."
    choices = [f"`{one.value}`" for one in kind] if isinstance(kind, type) and issubclass(kind, Enum) else []
    return " ".join([_one_line(text), *(["One of " + ", ".join(choices) + "."] if choices else [])])


def _left_out(told: Any) -> str:
    if told.required:
        return "must be given"
    value = told.default.value if isinstance(told.default, Enum) else told.default
    return "–" if value is None or value is False or value in ("", ()) else f"`{value}`"


def _one_line(text: str | None) -> str:
    return " ".join((text or "").split()).replace("|", "\\|")
