"""docs/commands.md is made from the commands; what other pages show of them exists, and every setting is described."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from typer.main import get_command

from monitor.cli.main import app
from monitor.figures import AVAILABLE
from shared.plant import Plant
from tests.docs.manual import PAGES, ROOT, code, read, sections

COMMANDS: dict[str, Any] = get_command(app).commands  # type: ignore[attr-defined]


def shown() -> list[list[str]]:
    """The words of each command that a page shows."""
    lines = [line for text in PAGES for block in code(read(text), r"\w*") for line in block.splitlines()]
    return [shlex.split(line.replace("\\", "/"))[1:] for line in lines if re.match(r"(\S*[/\\])?strokeledger ", line)]


def settings(model: type[BaseModel]) -> Iterator[str]:
    """The keys of a model and of the models below it, as they are written."""
    for name, field in model.model_fields.items():
        yield field.alias or name
        for kind in (field.annotation, *get_args(field.annotation)):
            if isinstance(kind, type) and issubclass(kind, BaseModel):
                yield from settings(kind)


def test_page_has_every_command_and_option() -> None:
    text = read(ROOT / "docs" / "commands.md")
    for name, command in COMMANDS.items():
        inner: dict[str, Any] = getattr(command, "commands", {})
        for told, one in {f"{name} {sub}": one for sub, one in inner.items()}.items() or [(name, command)]:
            described = text.partition(f"# strokeledger {told}\n")[2].partition("\n#")[0]
            options = {option for parameter in one.params for option in parameter.opts if option.startswith("-")}
            assert options <= set(re.findall(r"^\| `(--[\w-]+)`", described, re.MULTILINE)), told


@pytest.mark.parametrize("words", shown(), ids=" ".join)
def test_shown_command_exists_with_its_options(words: list[str]) -> None:
    name, *rest = words
    command = COMMANDS[name]
    if rest and rest[0] in getattr(command, "commands", {}):
        command = command.commands[rest[0]]
    known = {option for parameter in command.params for option in parameter.opts}
    assert {word for word in rest if word.startswith("--")} <= known
    if name == "figures":
        assert rest[0] in AVAILABLE


def test_every_command_is_shown() -> None:
    assert {words[0] for words in shown()} == set(COMMANDS)


def test_every_setting_is_described() -> None:
    text = dict(sections(read(ROOT / "docs" / "installer.md")))["plant.toml"]
    assert set(settings(Plant)) <= set(re.findall(r"^\| `(\w+)`", text, re.MULTILINE))
