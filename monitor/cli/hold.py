"""The commands `strokeledger hold …`: place and release holds, list what they bear on, print tags."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import say
from monitor.export import Format, write
from monitor.write.whole_files import write_file
from shared.errors import RequestError
from shared.languages import LANGUAGES
from shared.tables import TABLES

if TYPE_CHECKING:
    import pandas as pd

    from monitor.figures.genealogy.holds import HeldPieces
    from monitor.ledger import Ledger

app = typer.Typer(no_args_is_help=True, help="Holds: place, release, list what they bear on, print tags.")

Scope = Enum("Scope", {name: name for name in TABLES["holds"].field("scope").choices}, type=str)  # type: ignore[misc]
Language = Enum("Language", {name: name for name in LANGUAGES}, type=str)  # type: ignore[misc]
HoldId = Annotated[str, typer.Argument(metavar="HOLD", help="Number of the hold.")]
By = Annotated[str, typer.Option(help="Who does it; the user of this computer where left out.")]


@app.command("place")
def place_command(
    scope: Annotated[Scope, typer.Argument(help="What is held; range is a press over some time.")],
    value: Annotated[str, typer.Argument(help="Which coil, lot, heat, die, container; for a range, the press.")],
    ledger: LedgerFolder,
    reason: Annotated[str, typer.Option(help="Why it is held.", show_default=False)],
    from_: Annotated[str | None, typer.Option("--from", help="Made from this moment on (die, range).")] = None,
    to: Annotated[str | None, typer.Option("--to", help="Made up to this moment (die, range).")] = None,
    by: By = "",
) -> None:
    """Place a hold and say what it bears on: containers, shipments and coils."""
    from monitor.enter.holds import calendar_of, place
    from monitor.figures.genealogy.holds import held_pieces
    from monitor.figures.scope import scope as read_range

    with open_current(ledger) as book:
        asked = read_range(calendar_of(book), from_, to)
        hold_id = place(book, scope.value, value=value, reason=reason, span=(asked.from_us, asked.to_us), by=by)
        found = held_pieces(book, scope.value, value, (asked.from_us, asked.to_us))
    say(f"hold {hold_id} placed on {scope.value} {value}")
    _print_held(found)


@app.command("release")
def release_command(
    hold_id: HoldId,
    ledger: LedgerFolder,
    outcome: Annotated[str, typer.Option(help="How it ended.", show_default=False)],
    by: By = "",
) -> None:
    """Lift a hold; that it stood, and since when, is kept."""
    from monitor.enter.holds import lift

    with open_current(ledger) as book:
        lift(book, hold_id, outcome, by)
    say(f"hold {hold_id} lifted")


@app.command("list")
def list_command(
    ledger: LedgerFolder,
    hold_id: Annotated[str | None, typer.Argument(metavar="[HOLD]", help="What this hold bears on.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Lifted ones too.")] = False,
    coils: Annotated[bool, typer.Option("--coils", help="The coils of a hold instead of its containers.")] = False,
    format_: Annotated[Format, typer.Option("--format", help="How to write it.")] = Format.TABLE,
    out: Annotated[Path | None, typer.Option(help="File to write to instead of the screen.")] = None,
) -> None:
    """List the holds that stand, or the containers and coils that one bears on."""
    from monitor.enter.holds import calendar_of, held_pieces_of
    from monitor.figures.bounds import local_times
    from monitor.figures.genealogy.holds import holds
    from monitor.figures.genealogy.trace import MOMENTS

    with open_current(ledger) as book:
        if hold_id is None:
            table = _shown(book, holds(book.snapshot(), everything=everything))
        else:
            found = held_pieces_of(book, hold_id)
            boxes = local_times(found.boxes, MOMENTS, calendar_of(book))
            table = found.coils if coils else boxes.drop(columns=["shipments", "customers"])
    write(table, format_, out)


@app.command("tags")
def tags_command(
    hold_id: HoldId,
    ledger: LedgerFolder,
    out: Annotated[Path, typer.Option(help="PDF to write.", show_default=False)],
    language: Annotated[Language, typer.Option(help="Language of the tags.")] = Language["en"],
) -> None:
    """Write tags to print: one for each container still here and each coil not used up."""
    from monitor.enter.holds import tags_of
    from monitor.enter.tags import tags_pdf
    from shared.words import words

    chosen = words(language.value)
    with open_current(ledger) as book:
        tags = tags_of(book, hold_id, chosen)
    if not tags:
        raise RequestError(f"hold {hold_id}", "no container and no coil here", "something to tie a tag to", "see list")
    write_file(out, tags_pdf(tags, chosen))
    say(f"{len(tags)} tags written to {out}")


def _shown(book: Ledger, table: pd.DataFrame) -> pd.DataFrame:
    from monitor.enter.holds import calendar_of
    from monitor.figures.bounds import local_times

    table = local_times(table, ("placed_at", "lifted_at", "from", "to"), calendar_of(book))
    return table.fillna("")


def _print_held(found: HeldPieces) -> None:
    for state, some in found.boxes.groupby("state", sort=True):
        say(f"{len(some)} containers {state}, {int(some['here'].sum()):,} pieces")
    sent: Any = found.boxes[found.boxes["state"] == "sent"]
    for (customer, shipment), some in sent.groupby(["customer", "shipment_id"], sort=True):
        say(f"  shipment {shipment} to {customer or 'nobody named'}: {int(some['here'].sum()):,} pieces")
    for row in found.coils.to_dict("records"):
        say(f"coil {row['coil_id']} {row['state']} {row['press_id']}".rstrip())
    if found.boxes.empty and found.coils.empty:
        say("nothing in the ledger is of it yet; what comes will be")
