"""Runs functions in programs of their own that can be killed, starved of disk or stripped of rights, and start quickly.

They are forked from a program that has done the imports and nothing else, where the system can do that.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import NamedTuple

_WAYS = multiprocessing.get_all_start_methods()
_CONTEXT = multiprocessing.get_context("forkserver" if "forkserver" in _WAYS else "spawn")
if "forkserver" in _WAYS:
    _CONTEXT.set_forkserver_preload(["monitor.cli.load", "monitor.check", "tests.faults.work"])
_NOBODY = 65534


class Ended(NamedTuple):
    """How a program ended: its exit code and what it said on its error stream."""

    returncode: int
    stderr: str


def start(function: Callable[..., None], *given: object) -> BaseProcess:
    """Start a function in a program of its own."""
    program = _CONTEXT.Process(target=function, args=given)  # type: ignore[attr-defined]
    program.start()
    return program


def command(words: list[str], told: Path, room: int | None = None, as_nobody: bool = False) -> None:
    """Run the command `strokeledger`, with so many bytes of room in a file, or without the rights of root."""
    os.dup2(os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o666), 2)
    if room is not None:
        import resource
        import signal

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
    if as_nobody and os.geteuid() == 0:
        os.seteuid(_NOBODY)
    from monitor.cli.main import main

    sys.argv = ["strokeledger", *words]
    main()


def ended(program: BaseProcess, told: Path) -> Ended:
    """Wait for a program that `command` runs in."""
    program.join(120)
    assert program.exitcode is not None, "still running after 120 s"
    return Ended(program.exitcode, told.read_text("utf-8") if told.exists() else "")
