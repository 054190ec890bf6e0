"""The files of an evidence sheet from a version of the ledger, for the command and for the bench alike."""

from __future__ import annotations

from pathlib import Path

from monitor.figures.judgement.bench import PlantLook
from monitor.figures.judgement.look import station_service
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.report.evidence.sheet import EvidenceQuery, evidence, file_names, lines_csv, rows_csv, sheet_pdf
from monitor.report.files import branding_of
from shared.words import Words


def evidence_files(
    snapshot: Snapshot, root: Path, seen: PlantLook, asked: EvidenceQuery, words: Words
) -> dict[str, bytes]:
    """Return the sheet, its rows and all lines of the die and cause by file name; `root`: where the logo lies.

    `seen`: the look at the plant of this very version.  Raises RequestError where nobody looked at the die and cause,
    or for a line that does not exist.
    """
    loaded = snapshot.loads()["loaded_at"]
    newest_us = int(loaded.max()) if len(loaded) else 0
    found = evidence(seen, station_service(snapshot, seen, asked.die), asked, newest_us)
    book = seen.book
    printed = sheet_pdf(found, names_of(book), branding_of(book.plant.report, root), words)
    sheet, rows, lines = file_names(asked)
    return {sheet: printed, rows: rows_csv(found), lines: lines_csv(found)}


def names_of(book: Book) -> dict[str, str]:
    """Return what dies and causes are called, by number and code."""
    dies = {str(row["die_id"]): row.get("name") or "" for row in book.tables["dies"]}
    return dies | {str(row["cause"]): row.get("name") or "" for row in book.tables["causes"]}
