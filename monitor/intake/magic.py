"""Files that are not text whatever they are called, told by their first bytes."""

from __future__ import annotations

from shared.errors import RefusedFile

_KINDS = {
    b"PK\x03\x04": "a zip archive or a spreadsheet",
    b"PK\x05\x06": "a zip archive",
    b"\x1f\x8b": "a gzip archive",
    b"BZh": "a bzip2 archive",
    b"\xfd7zXZ": "an xz archive",
    b"7z\xbc\xaf": "a 7z archive",
    b"\x28\xb5\x2f\xfd": "a zstd archive",
    b"PAR1": "a Parquet file",
    b"%PDF": "a PDF document",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet or document",
    b"SQLite f": "a database",
}


def refuse_binary(first: bytes, name: str) -> None:
    """Raise RefusedFile where the first bytes of a file are those of an archive, spreadsheet or document."""
    for begin, kind in _KINDS.items():
        if first.startswith(begin):
            raise RefusedFile(name, kind, "plain text", "Unpack it or save it as text, or give it its own ending")
