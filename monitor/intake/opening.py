"""Opens files that somebody else put there: plain files only, never what a link points to, a pipe or a device."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

from monitor.intake.places import shown_name
from shared.errors import RefusedFile
from shared.phrases import Phrase, phrase
from shared.reasons.files import (
    A_DEVICE,
    A_FILE,
    A_FOLDER,
    A_LINK,
    BYTE_NOT_UTF_8,
    CHECK_FILE,
    FILE_LINE,
    PUT_FILE_HERE,
    SAVE_UTF_8,
    TAKE_OUT_OF_FOLDER,
    TOML_FILE,
    TOO_LARGE,
    UTF_8_TEXT,
    UTF_16_TEXT,
)

#: A plant or a profile of more bytes is none.
MOST_TOML_BYTES = 1 << 20

# A link put there after the look is not followed, and a pipe put there does not make the opening wait for a writer.
_FLAGS = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_WIDE_BOMS = (b"\xff\xfe", b"\xfe\xff")
_LINK = phrase(A_LINK), phrase(A_FILE), phrase(PUT_FILE_HERE)


def open_plain(path: Path) -> BinaryIO:
    """Return a plain file opened for reading; raises RefusedFile for a link, folder, pipe, socket or device, OSError.

    What was opened is looked at, so nothing can be put in its place between the look and the opening.
    """
    check_plain(path)
    try:
        handle = os.open(path, _FLAGS)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.EMLINK):
            raise RefusedFile(shown_name(path), *_LINK) from None
        raise
    try:
        _check_mode(os.fstat(handle).st_mode, path)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def check_plain(path: Path) -> None:
    """Raise RefusedFile where a path is anything but a plain file, and OSError where there is nothing."""
    _check_mode(os.lstat(path).st_mode, path)


def read_toml(path: Path) -> str:
    """Return the text of a TOML file without a byte order mark; raises RefusedFile where it is not UTF-8, OSError."""
    name = shown_name(path)
    with open_plain(path) as file:
        data = file.read(MOST_TOML_BYTES + 1)
    if len(data) > MOST_TOML_BYTES:
        seen = phrase(TOO_LARGE, size=f"{MOST_TOML_BYTES:,}")
        raise RefusedFile(name, seen, phrase(TOML_FILE), phrase(CHECK_FILE))
    if data.startswith(_WIDE_BOMS):
        raise RefusedFile(name, phrase(UTF_16_TEXT), phrase(UTF_8_TEXT), phrase(SAVE_UTF_8))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = phrase(FILE_LINE, file=name, line=data.count(b"\n", 0, error.start) + 1)
        seen = phrase(BYTE_NOT_UTF_8, byte=f"{data[error.start]:02X}")
        raise RefusedFile(line, seen, phrase(UTF_8_TEXT), phrase(SAVE_UTF_8)) from None


def _check_mode(mode: int, path: Path) -> None:
    if stat.S_ISLNK(mode):
        raise RefusedFile(shown_name(path), *_LINK)
    if not stat.S_ISREG(mode):
        mend = phrase(TAKE_OUT_OF_FOLDER)
        raise RefusedFile(shown_name(path), _kind(mode), phrase(A_FILE), mend)


def _kind(mode: int) -> Phrase:
    return phrase(A_FOLDER) if stat.S_ISDIR(mode) else phrase(A_DEVICE)
