"""An evidence sheet: one die and cause, one line of the verdict, and everything it rests on, for whoever must be shown.

The same version of the ledger, question and language give the same bytes: nothing on it comes from a clock.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from monitor.export import as_csv
from monitor.figures.judgement.bench import Case, PlantLook, case, stations
from monitor.figures.judgement.proof import Proofs
from monitor.figures.judgement.suspects import suspects_table
from monitor.reckoning.attribution.suspects import Suspect
from monitor.report.blocks import Paper
from monitor.report.evidence.blocks import blocks, clock
from monitor.report.files import Branding
from monitor.report.formats.pdf import pdf
from monitor.verdict import names as naming
from monitor.verdict.table import table_level
from shared.durations import SECOND_US
from shared.errors import RequestError
from shared.phrases import phrase
from shared.words import Words

METHOD = "docs/method-verdict.md"
_SHOWN_OF_HASH = 16
_UNSAFE = re.compile(r"[^\w.-]+")

#: Circumstances of a row that go into the CSV beside what was counted, where a die has them.
_CIRCUMSTANCES = (
    "kind", "press_id", "shift_date", "shift", "out", "coil_id", "lot", "heat", "supplier", "setup_id", "head_m",
    "tail_m", "strokes_since_set", "speed_spm",
)  # fmt: skip


@dataclass(frozen=True)
class EvidenceQuery:
    """What an evidence sheet is asked for; without factor and level it is the strongest line."""

    die: str
    cause: str
    factor: str = ""
    level: str = ""


@dataclass(frozen=True)
class Evidence:
    """One line of the verdict with the rows on either side of it.

    `loaded_us` is when the newest file of its version was loaded [us], 0 where there is none.
    """

    look: PlantLook
    case: Case
    at: int
    bad: pd.DataFrame
    compared: pd.DataFrame
    stations: pd.DataFrame
    loaded_us: int

    @property
    def line(self) -> Suspect:
        """The line."""
        return self.case.lines[self.at]

    @cached_property
    def rows(self) -> pd.DataFrame:
        """The rows of both sides as they go into the CSV, one a stretch, moments with the plant's offset."""
        rate = _rate(self.compared)
        sides = [
            self._told(rows, side).assign(expected=np.round(rows["inspected"] * rate, 3))
            for side, rows in (("bad", self.bad), ("compared", self.compared))
        ]
        return pd.concat(sides, ignore_index=True)

    @property
    def digest(self) -> str:
        """Digest of the rows: two sheets with the same one rest on the same counts."""
        return hashlib.sha256(as_csv(self.rows).encode()).hexdigest()

    def _told(self, rows: pd.DataFrame, side: str) -> pd.DataFrame:
        local = self.look.book.calendar.local_iso
        told = pd.DataFrame(
            {
                "ledger_version": self.look.version,
                "die_id": self.case.die_id,
                "cause": self.case.cause,
                "side": side,
                "inspection_id": rows["inspection_id"],
                "from_at": local(rows["from_us"].tolist()),
                "to_at": local(rows["to_us"].tolist()),
            },
            index=rows.index,
        )
        names = [name for name in _CIRCUMSTANCES if name in rows]
        counted = rows[[*names, "worn", "inspected", "rejected"]].rename(columns={"worn": "strokes_since_sharpening"})
        if "setup_id" in counted:
            counted["setup_id"] = counted["setup_id"].map(str)
        return pd.concat([told, counted.astype({"rejected": "int64"})], axis=1)


def evidence(look: PlantLook, service: pd.DataFrame, asked: EvidenceQuery, loaded_us: int) -> Evidence:
    """Return the line asked for with its rows; raises RequestError where nobody looked, or there is no such line.

    `service`: the figure of that name for the die.
    """
    if asked.die not in look.rows:
        seen = ", ".join(sorted(look.rows)) or phrase("none")
        expected = phrase("a die with inspections in range ({dies})", dies=seen)
        raise RequestError("--die", repr(asked.die), expected, phrase("write another die"))
    told = case(look, asked.die, asked.cause)
    if not told.lines:
        known = sorted({line.cause for line in look.lines if line.die_id == asked.die})
        causes = ", ".join(known) or phrase("none")
        expected = phrase("a cause that was found on {die} ({causes})", die=asked.die, causes=causes)
        raise RequestError("--cause", repr(asked.cause), expected, phrase("write another cause"))
    at = _line_at(told.lines, asked)
    found = Proofs(told.rows).of(told.lines[at].explanation, told.lines[at].tied_with)
    none = told.rows[:0]
    bad, compared = (none, none) if found is None else (told.rows[found.bad], told.rows[found.compared])
    worn = stations(look, asked.die, asked.cause, service)
    return Evidence(look, told, at, bad=bad, compared=compared, stations=worn, loaded_us=loaded_us)


def _line_at(lines: Sequence[Suspect], asked: EvidenceQuery) -> int:
    if not asked.factor and not asked.level:
        return 0
    names = [(line.explanation.factor, table_level(line.explanation)) for line in lines]
    for at, (factor, level) in enumerate(names):
        if asked.factor in ("", factor) and asked.level in ("", level):
            return at
    seen = "; ".join(f"{factor}: {level}" for factor, level in names)
    raise RequestError(
        "--factor, --level",
        f"{asked.factor}: {asked.level}",
        phrase("a line of this die and cause ({lines})", lines=seen),
        phrase("copy one"),
    )


def _rate(rows: pd.DataFrame) -> float:
    looked = float(rows["inspected"].sum())
    return float(rows["rejected"].sum()) / looked if looked else 0.0


def rows_csv(found: Evidence) -> bytes:
    """Return the rows as CSV; a mark at the beginning says to spreadsheets that it is UTF-8."""
    return ("\ufeff" + as_csv(found.rows)).encode()


def lines_csv(found: Evidence) -> bytes:
    """Return all lines of the die and cause as CSV, with the columns of the figure `suspects`."""
    return ("\ufeff" + as_csv(suspects_table(found.case.lines))).encode()


def sheet_pdf(found: Evidence, names: Mapping[str, str], branding: Branding, words: Words) -> bytes:
    """Return the sheet as PDF; `names`: what die and cause are called, by their number or code."""
    style = branding.style
    called = [f"{code} {names.get(code, '')}".strip() for code in (found.case.die_id, found.case.cause)]
    paper = Paper(
        language=words.language,
        page=style.page,
        colour=branding.colour,
        title=words.say("Evidence sheet"),
        subtitle=words.say("{cause} on {die}", die=called[0], cause=called[1]),
        week=naming.named(found.line.explanation, words),
        range=_range(found, words),
        version=words.say(
            "Ledger version {version} · rows {digest}",
            version=found.look.version,
            digest=found.digest[:_SHOWN_OF_HASH],
        ),
        sender=style.name or found.look.book.plant.name or "strokeledger",
        address=style.address,
        page_of=words.say("page {n} of {of}"),
        contents=words.say("Contents"),
        rows=words.say("{n} rows"),
        logo=branding.logo,
        logo_kind=style.logo.rpartition(".")[2].lower(),
        logo_alt=words.say("Logo of {name}", name=style.name),
        blocks=blocks(found, called, command(found), words),
    )
    return pdf(paper, _stamp(found))


def _range(found: Evidence, words: Words) -> str:
    first, last = (clock(moment) for moment in span(found))
    zone = found.look.book.plant.timezone
    return words.say("{from_} to {to} (end not included), plant time {zone}", from_=first, to=last, zone=zone)


def span(found: Evidence) -> tuple[str, str]:
    """Return the range as it was asked for, or else from the first to the last piece looked at."""
    rows = found.case.rows
    first, last = found.look.book.calendar.local_iso([int(rows["from_us"].min()), int(rows["to_us"].max())])
    from_, to = found.look.asked
    return from_ or first, to or last


def command(found: Evidence) -> str:
    """Return the command that makes this very sheet again."""
    parts = ["strokeledger evidence --ledger LEDGER", f"--die {_quoted(found.case.die_id)}"]
    parts.append(f"--cause {_quoted(found.case.cause)}")
    from_, to = found.look.asked
    parts += [f"--from {from_}"] if from_ else []
    parts += [f"--to {to}"] if to else []
    shown = found.line.explanation
    parts.append(f"--factor {_quoted(shown.factor)} --level {_quoted(table_level(shown))}")
    return " ".join([*parts, f"--version {found.look.version}", "--out FOLDER"])


def _quoted(text: str) -> str:
    return text if re.fullmatch(r"[\w.-]+", text) else '"' + text.replace('"', "'") + '"'


def file_names(asked: EvidenceQuery) -> tuple[str, str, str]:
    """Return names for the sheet, its rows and its lines, fit for any system."""
    stem = _UNSAFE.sub("-", f"evidence-{asked.die}-{asked.cause}")[:80].strip("-.")
    return f"{stem}.pdf", f"{stem}-rows.csv", f"{stem}-lines.csv"


def _stamp(found: Evidence) -> int:
    """Return the moment the version was stored [s since 1970 UTC]: a clock would make every copy another one."""
    return found.loaded_us // SECOND_US
