"""The command `strokeledger watch`: load what loggers put into a folder, until told to stop."""

from __future__ import annotations

import datetime as dt
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Annotated

import typer

from monitor.cli import terminal
from monitor.cli.open import LedgerFolder, open_current

app = typer.Typer()


@app.command("watch")
def watch_command(
    folder: Annotated[Path, typer.Argument(help="Folder that loggers write to; folders below it are watched too.")],
    ledger: LedgerFolder,
) -> None:
    """Load every file that appears in a folder once it is finished; stop with Ctrl+C."""
    from monitor.watch import FolderWatch

    stop = threading.Event()

    def stop_on_signal(_number: int, _frame: FrameType | None) -> None:
        if not stop.is_set():
            say("stopping; a load under way is finished first")
        stop.set()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, stop_on_signal)
    with open_current(ledger, create=True) as book:
        FolderWatch(book, folder, say).run(stop)


@contextmanager
def watching(folder: Path | None, ledger: Path) -> Iterator[None]:
    """Watch a folder in a thread of its own for as long as the block lasts; do nothing where none is named."""
    from monitor.watch import FolderWatch

    if folder is None:
        yield
        return
    with open_current(ledger, create=True) as book, beside(FolderWatch(book, folder, say).run, "strokeledger-watch"):
        yield


@contextmanager
def beside(run: Callable[[threading.Event], None], name: str) -> Iterator[None]:
    """Let something run in a thread of its own for as long as the block lasts; it ends when its event is set."""
    stop = threading.Event()
    thread = threading.Thread(target=run, args=(stop,), name=name)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


@contextmanager
def ended_by_signal() -> Iterator[None]:
    """Let SIGTERM end the block as Ctrl+C does: what it opened is closed, and no traceback is shown."""

    def end(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, end)
    try:
        yield
    except KeyboardInterrupt:
        say("stopped")


def say(text: str) -> None:
    """Print a line with the time of day; nothing in it moves the cursor or changes colours."""
    terminal.say(f"{dt.datetime.now().astimezone():%H:%M:%S}  {text}", to=terminal.ERR)
