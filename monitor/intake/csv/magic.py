"""Files that are not text whatever they are called, told by their first bytes."""

from __future__ import annotations

from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import (
    BZIP2_ARCHIVE,
    DATABASE,
    GZIP_ARCHIVE,
    OLD_DOCUMENT,
    PARQUET_FILE,
    PDF_DOCUMENT,
    PLAIN_TEXT,
    SEVEN_ZIP_ARCHIVE,
    UNPACK_IT,
    XZ_ARCHIVE,
    ZIP_ARCHIVE,
    ZIP_OR_SPREADSHEET,
    ZSTD_ARCHIVE,
)

MAGIC_BYTES = 16

_KINDS = {
    b"PK\x03\x04": phrase(ZIP_OR_SPREADSHEET),
    b"PK\x05\x06": phrase(ZIP_ARCHIVE),
    b"\x1f\x8b": phrase(GZIP_ARCHIVE),
    b"BZh91AY": phrase(BZIP2_ARCHIVE),
    b"\xfd7zXZ": phrase(XZ_ARCHIVE),
    b"7z\xbc\xaf\x27": phrase(SEVEN_ZIP_ARCHIVE),
    b"\x28\xb5\x2f\xfd": phrase(ZSTD_ARCHIVE),
    b"PAR1\x15": phrase(PARQUET_FILE),
    b"%PDF-1.": phrase(PDF_DOCUMENT),
    b"\xd0\xcf\x11\xe0": phrase(OLD_DOCUMENT),
    b"SQLite format 3\0": phrase(DATABASE),
}


def refuse_binary(first: bytes, name: str) -> None:
    """Raise RefusedFile where the first bytes of a file are those of an archive, spreadsheet or document."""
    for begin, kind in _KINDS.items():
        if first.startswith(begin):
            mend = phrase(UNPACK_IT)
            raise RefusedFile(name, kind, phrase(PLAIN_TEXT), mend)
