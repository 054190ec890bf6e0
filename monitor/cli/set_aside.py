"""The commands `strokeledger set-aside …`: see, export, mend and let in rows that were set aside."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli.open import LedgerFolder, open_current
from monitor.cli.terminal import say
from monitor.write.whole_files import write_file
from shared.errors import RequestError

if TYPE_CHECKING:
    import pandas as pd

    from monitor.ledger import Ledger

app = typer.Typer(no_args_is_help=True, help="Rows set aside: list, export, mend and let in.")

TableName = Annotated[str | None, typer.Option("--table", help="Only rows of this table.")]
FileName = Annotated[str | None, typer.Option("--file", help="Only rows of files whose name holds this.")]
LoadId = Annotated[int | None, typer.Option("--load", help="Only rows of this load.")]
Reason = Annotated[str | None, typer.Option("--reason", help="Only rows with this kind of reason, as list names it.")]
Press = Annotated[str | None, typer.Option("--press", help="Only rows of this press.")]


@app.command("list")
def list_command(
    ledger: LedgerFolder,
    table: TableName = None,
    file: FileName = None,
    load: LoadId = None,
    reason: Reason = None,
    press: Press = None,
    most: Annotated[int, typer.Option(help="How many rows to show one by one.", min=0)] = 20,
) -> None:
    """Count the rows set aside by reason, and show the first of them as they came."""
    from monitor.load.set_aside import grouped

    rows = _chosen(ledger, table, file=file, load=load, reason=reason, press=press)
    for group in grouped(rows).to_dict("records"):
        where = f"{group['rows']:>7,} rows of {group['table']} in {group['files']} files"
        say(f"{where}, {group['code']}: {group['reason']}")
    for row in rows.head(most).to_dict("records"):
        say("", f"{row['id']}  {row['file']} line {row['line']} ({row['table']}, load {row['load_id']})")
        say(f"    {row['reason']}", f"    {row['row']}")
    if len(rows) > most:
        say("", f"{len(rows) - most:,} more: --most, or set-aside export")
    if rows.empty:
        say("no rows are set aside")


@app.command("export")
def export_command(
    ledger: LedgerFolder,
    out: Annotated[Path, typer.Option(help="CSV file to write.", show_default=False)],
    table: TableName = None,
    file: FileName = None,
    load: LoadId = None,
    reason: Reason = None,
    press: Press = None,
) -> None:
    """Write rows set aside as CSV, to be mended in a spreadsheet and let in with `release --from`."""
    from monitor.load.set_aside import export

    rows = _chosen(ledger, table, file=file, load=load, reason=reason, press=press)
    write_file(out, export(rows).encode("utf-8-sig"))
    say(f"{len(rows):,} rows written to {out}")


@app.command("release")
def release_command(
    ledger: LedgerFolder,
    ids: Annotated[list[str] | None, typer.Argument(metavar="ID…", help="Rows as list shows them: 7 or 12-20.")] = None,
    value: Annotated[
        list[str] | None, typer.Option("--value", metavar="COLUMN=VALUE", help="Put this in the row first.")
    ] = None,
    from_: Annotated[Path | None, typer.Option("--from", help="Mended CSV that export has written.")] = None,
    correct: Annotated[bool, typer.Option("--correct", help="Replace stored rows that they contradict.")] = False,
    by: Annotated[str, typer.Option(help="Who lets them in; the user of this computer where left out.")] = "",
) -> None:
    """Let rows in that were set aside, after mending them; those that still do not hold stay, with the reason."""
    from monitor.load.release import release

    with open_current(ledger) as book:
        rows = _wanted(book, ids or [], value or [], from_)
        done = release(book, rows, by=by, correct=correct)
    for number, reason in done.stay.items():
        say(f"stays  {number}: {reason}")
    for number in done.unknown:
        say(f"no row {number} is set aside")
    say(f"{done.taken:,} rows let in, {len(done.stay):,} stay; ledger version {done.version}")
    if done.stay or done.unknown:
        raise typer.Exit(1)


def _wanted(book: Ledger, ids: list[str], pairs: list[str], source: Path | None) -> dict[int, str | None]:
    from monitor.load.set_aside import as_values, edited_row, read_back

    if source is not None:
        return dict(read_back(_text(source), source.name))
    wanted = dict.fromkeys(number for text in ids for number in _numbers(text))
    if not wanted:
        raise RequestError("set-aside release", "no row named", "ids, or --from FILE", "see them with set-aside list")
    if not pairs:
        return dict(wanted)
    held = book.snapshot().set_aside_rows()
    held = held[held["id"].isin(list(wanted))]
    changed = {row["id"]: edited_row(row["row"], as_values(row["table"], pairs)) for row in held.to_dict("records")}
    return {number: changed.get(number) for number in wanted}


def _numbers(text: str) -> range:
    first, dash, last = text.partition("-")
    if not first.isdigit() or (dash and not last.isdigit()):
        raise RequestError(f"set-aside release {text[:30]}", "no number", "7 or 12-20", "see them with set-aside list")
    return range(int(first), int(last or first) + 1)


def _text(source: Path) -> str:
    try:
        return source.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RequestError(str(source), str(error), "a CSV file in UTF-8", "save the export as CSV UTF-8") from None


def _chosen(
    ledger: Path, table: str | None, file: str | None, load: int | None, reason: str | None, press: str | None
) -> pd.DataFrame:
    from monitor.load.set_aside import chosen, known_code

    with open_current(ledger) as book:
        rows = book.snapshot().set_aside_rows()
    code = known_code(reason, rows) if reason else None
    return chosen(rows, table=table, file=file, load=load, reason=code, press=press)
