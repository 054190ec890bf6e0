"""The command `strokeledger figures`: one table, on the screen or into a file."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.export import Format, write
from monitor.figures import AVAILABLE
from shared.figures import SHARPENING_PIECES

app = typer.Typer()

FigureName = Enum("FigureName", {name: name for name in AVAILABLE}, type=str)  # type: ignore[misc]


@app.command("figures")
def figures_command(
    name: Annotated[FigureName, typer.Argument(help="Which table.")],
    ledger: LedgerFolder,
    from_: Annotated[str | None, typer.Option("--from", help="First plant day or moment, included.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Plant day or moment of the end, not included.")] = None,
    press: Annotated[str | None, typer.Option(help="Only this press.")] = None,
    die: Annotated[str | None, typer.Option(help="Only this die.")] = None,
    part: Annotated[str | None, typer.Option(help="Only this part.")] = None,
    format_: Annotated[Format, typer.Option("--format", help="How to write it.")] = Format.TABLE,
    out: Annotated[Path | None, typer.Option(help="File to write to instead of the screen.")] = None,
    sharpening_pieces: Annotated[
        float, typer.Option(help="For service: rejected pieces that one sharpening is worth.")
    ] = SHARPENING_PIECES,
) -> None:
    """Write one table of figures: output by shift or hour, stops, coils, scrap, what moves it, wear, rows set aside."""
    from monitor.figures import figure

    with open_current(ledger) as book:
        table = figure(
            book, name.value, from_=from_, to=to, press=press, die=die, part=part, sharpening_pieces=sharpening_pieces
        )
    write(table, format_, out)
