"""The command `strokeledger evidence`: a sheet of what one line of the verdict rests on, to be taken away."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import ERR, say
from shared.errors import RequestError
from shared.languages import LANGUAGES

app = typer.Typer()


@app.command("evidence")
def evidence_command(
    ledger: LedgerFolder,
    die: Annotated[str, typer.Option(help="The die.", show_default=False)],
    cause: Annotated[str, typer.Option(help="The cause of scrap.", show_default=False)],
    out: Annotated[Path, typer.Option(help="Folder to write the sheet and its rows to.", show_default=False)],
    from_: Annotated[str | None, typer.Option("--from", help="First plant day or moment, included.")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Plant day or moment of the end, not included.")] = None,
    factor: Annotated[str, typer.Option(help="Factor of the line; the strongest line if left out.")] = "",
    level: Annotated[str, typer.Option(help="Level of the line, as suspects writes it.")] = "",
    language: Annotated[str, typer.Option(help=f"One of {', '.join(LANGUAGES)}.")] = "en",
    version: Annotated[int | None, typer.Option(help="Version of the ledger; the newest if left out.")] = None,
) -> None:
    """Write what one line of the verdict rests on: a sheet as PDF, its rows and all lines as CSV."""
    from monitor.figures.judgement.look import look
    from monitor.report.evidence.files import evidence_files
    from monitor.report.evidence.sheet import EvidenceQuery
    from monitor.report.files import write
    from shared.words import words

    if language not in LANGUAGES:
        raise RequestError("--language", repr(language), f"one of {', '.join(LANGUAGES)}", "choose one of these")
    with open_current(ledger) as opened:
        snapshot = opened.snapshot(version)
        seen = look(snapshot, from_=from_, to=to)
        files = evidence_files(snapshot, ledger, seen, EvidenceQuery(die, cause, factor, level), words(language))
    write(files, out)
    for name in files:
        say(str(out / name), to=ERR)
