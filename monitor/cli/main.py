"""The command `strokeledger`: finds the module of the command asked for, and tells what goes wrong."""

from __future__ import annotations

import gc
import os
import sys
from collections import UserDict
from importlib import import_module
from io import TextIOWrapper
from typing import Any

import typer
from typer.core import TyperGroup
from typer.main import get_group

from monitor.cli.terminal import ERR, say
from shared.errors import StrokeledgerError

#: The module of each command, or group of commands, in the order they are listed in.
_MODULES = {
    "load": "load",
    "figures": "figures",
    "serve": "serve",
    "demo": "serve",
    "week": "week",
    "hand-over": "handover",
    "evidence": "evidence",
    "watch": "watch",
    "enter": "enter",
    "hold": "hold",
    "set-aside": "set_aside",
    "profile": "profile",
    "upkeep": "keep",
    "check": "keep",
    "backup": "keep",
    "restore": "keep",
}


class Commands(UserDict[str, Any]):
    """Commands by name, from modules; one is imported when it is asked for, since all take longer than most run."""

    def __getitem__(self, name: str) -> Any:
        """Return a command or a group of commands."""
        module = self.data[name]
        # What an import makes stays; to look through it for garbage time and again would take a tenth of a start.
        gc.disable()
        group = get_group(import_module(f"monitor.cli.{module}").app)
        group.name = name
        gc.freeze()
        gc.enable()
        return group.commands.get(name, group)


class Strokeledger(TyperGroup):
    """The command itself."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = Commands(_MODULES)


app = typer.Typer(cls=Strokeledger, no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)


@app.callback(
    help="What the press line did, from its counters: output, stops, coil use and scrap by cause.\n\n"
    "It reads files after the event. It is no safety device and controls no press; "
    "nobody reaches into a die on its word."
)
def _strokeledger() -> None:
    """Stand for the command without a command behind it."""


def main() -> None:
    """Run the command; what goes wrong is told in one sentence, never as a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # Text that a terminal has no signs for must not end the command.
            stream.reconfigure(errors="backslashreplace")
    try:
        app(prog_name="strokeledger")
    except StrokeledgerError as error:
        say(error, to=ERR, bold=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)  # Whoever read the output has stopped reading.
    except Exception as error:
        if os.environ.get("STROKELEDGER_TRACEBACK"):
            raise
        say(_unforeseen(error), to=ERR, bold=True)
        sys.exit(1)


def _unforeseen(error: Exception) -> str:
    """Return what to tell of an error that nobody has put into words."""
    disk = getattr(error, "orig", error if isinstance(error, OSError) else None)
    if disk is not None:  # Of the disk, also by way of the catalogue.
        where = f"{disk.filename}: " if isinstance(disk, OSError) and disk.filename else ""
        why = getattr(disk, "strerror", "") or disk
        return (
            f"{where}{why}; expected a disk with free space that can be read and written to. The ledger is as it was."
        )
    told = f"{type(error).__name__}: {error}; the ledger is as it was. "
    return told + "Set STROKELEDGER_TRACEBACK=1 and run it again to see where."
