"""What a command says to a person: every line goes through `say`, so nothing from a file is obeyed by the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from monitor.write.visible import visible

#: Where results are said, and where what goes on beside them is.
OUT = Console(highlight=False, soft_wrap=True)
ERR = Console(stderr=True, highlight=False, soft_wrap=True)


def say(*lines: object, to: Console = OUT, bold: bool = False) -> None:
    """Print lines as they are, each in a line of its own: neither markup, nor what moves the cursor, does anything."""
    for line in lines:
        to.print(Text(visible(line), style="bold" if bold else ""))


def label(text: object) -> str:
    """Return a short text for a progress bar, which takes markup."""
    return escape(visible(text)[:40])
