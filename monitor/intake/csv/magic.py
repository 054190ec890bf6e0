"""Files that are not text whatever they are called, told by their first bytes."""

from __future__ import annotations

from shared.errors import RefusedFile
from shared.phrases import phrase

MAGIC_BYTES = 16

_KINDS = {
    b"PK\x03\x04": phrase("a zip archive or a spreadsheet"),
    b"PK\x05\x06": phrase("a zip archive"),
    b"\x1f\x8b": phrase("a gzip archive"),
    b"BZh91AY": phrase("a bzip2 archive"),
    b"\xfd7zXZ": phrase("an xz archive"),
    b"7z\xbc\xaf\x27": phrase("a 7z archive"),
    b"\x28\xb5\x2f\xfd": phrase("a zstd archive"),
    b"PAR1\x15": phrase("a Parquet file"),
    b"%PDF-1.": phrase("a PDF document"),
    b"\xd0\xcf\x11\xe0": phrase("an old spreadsheet or document"),
    b"SQLite format 3\0": phrase("a database"),
}


def refuse_binary(first: bytes, name: str) -> None:
    """Raise RefusedFile where the first bytes of a file are those of an archive, spreadsheet or document."""
    for begin, kind in _KINDS.items():
        if first.startswith(begin):
            mend = phrase("Unpack it or save it as text, or give it its own ending")
            raise RefusedFile(name, kind, phrase("plain text"), mend)
