"""The commands `strokeledger profile …`: try a column profile on a file, or draft one for it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from monitor.cli.terminal import say
from shared.errors import RequestError, StrokeledgerError

if TYPE_CHECKING:
    from monitor.intake import Profile
    from shared.plant import Plant

app = typer.Typer(no_args_is_help=True, help="Column profiles: how the files of a logger are to be read.")

LogFile = Annotated[Path, typer.Argument(metavar="FILE", help="The logger's file.")]


@app.command("try")
def try_command(
    file: LogFile,
    profile: Annotated[
        Path | None, typer.Option("--profile", help="The profile; else those beside the file are tried.")
    ] = None,
    timezone: Annotated[
        str | None, typer.Option("--timezone", help="Plant time; else that of a plant.toml beside the file, else UTC.")
    ] = None,
) -> None:
    """Say in words what the first 200 rows of a file mean by a profile; nothing is loaded."""
    from monitor.intake import read_profile
    from monitor.intake.profiles import read_back
    from shared.calendar import Calendar
    from shared.plant import Plant

    _check(file)
    told = read_profile(profile)[0] if profile else _beside(file)
    plant = Plant(timezone=timezone) if timezone else _plant_beside(file)
    for part in told.parts:
        say(f"profile {part.label}, table {part.table}, plant time {plant.timezone}")
        for sentence in read_back(file.resolve(), part, plant.timezone, calendar=Calendar(plant)):
            say(sentence)


@app.command("draft")
def draft_command(file: LogFile) -> None:
    """Propose a profile for a file; lines with `# ?` say what the file does not show."""
    from monitor.intake.drafts.draft import draft

    _check(file)
    say(*draft(file).splitlines())


def _check(file: Path) -> None:
    if not file.is_file():
        raise RequestError(str(file), "no file", "a file that a logger wrote", "name one")


def _beside(file: Path) -> Profile:
    from monitor.intake import read_profile
    from monitor.intake.profiles import profile_for

    found = sorted(file.parent.glob("profile-*.toml"))
    if not found:
        raise RequestError(
            str(file.name), "no profile beside it", "profile-NAME.toml, or --profile FILE", "Draft one: profile draft"
        )
    return profile_for(file, [read_profile(path)[0] for path in found])


def _plant_beside(file: Path) -> Plant:
    from monitor.intake import read_toml
    from shared.plant import Plant

    try:
        return Plant.from_toml(read_toml(file.parent / "plant.toml"))
    except (OSError, StrokeledgerError):
        return Plant(timezone="UTC")
