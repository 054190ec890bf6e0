"""The manual says what the product does: commands and options exist, and no table or figure is left out."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command

from monitor.cli.main import app
from monitor.figures import AVAILABLE
from shared.figures import FIGURES
from shared.tables import TABLES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
MANUAL = README + (ROOT / "DEVELOPERS.md").read_text("utf-8")


def section(title: str) -> str:
    """Text of a section of the README, up to the next of its rank."""
    return README.split(f"\n## {title}\n")[1].split("\n## ")[0]


def shown_commands() -> list[str]:
    blocks = re.findall(r"```\w*\n(.*?)```", MANUAL, re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if re.match(r"(\S*[/\\])?strokeledger ", line)]


@pytest.mark.parametrize("line", shown_commands())
def test_shown_command_exists_with_its_options(line: str) -> None:
    _, name, *words = shlex.split(line.replace("\\", "/"))
    command = get_command(app).commands[name]  # type: ignore[attr-defined]
    if words and words[0] in getattr(command, "commands", {}):
        command = command.commands[words[0]]
    known = {option for parameter in command.params for option in parameter.opts}
    assert {word for word in words if word.startswith("--")} <= known
    if name == "figures":
        assert words[0] in AVAILABLE


def test_every_command_is_shown() -> None:
    shown = {shlex.split(line.replace("\\", "/"))[1] for line in shown_commands()}
    assert shown == set(get_command(app).commands)  # type: ignore[attr-defined]


def test_every_input_table_is_named() -> None:
    named = set(re.findall(r"`(\w+)`", section("What it reads")))
    assert set(TABLES) <= named


def test_every_figure_is_made_and_told_of() -> None:
    text = section("How to read the figures")
    told = re.findall(r"^\| `(\w+)` \|", text, re.MULTILINE)
    assert sorted(told) == sorted(AVAILABLE) == sorted(FIGURES)


def test_closing_sums_are_those_of_the_figures() -> None:
    written = " ".join(section("How to read the figures").split())
    for figure in (FIGURES[name] for name in AVAILABLE):
        for whole, parts in figure.closes:
            if figure.name != "loads" or whole == "read":
                assert f"`{whole} = {' + '.join(parts)}`" in written


@pytest.mark.parametrize("target", sorted(set(re.findall(r"\[[^\]]*\]\(([^)#:]+)\)", MANUAL))))
def test_linked_file_is_there(target: str) -> None:
    assert (ROOT / target).is_file()
