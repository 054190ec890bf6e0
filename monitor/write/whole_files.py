"""Writes files whole or not at all: a full disk leaves no half of one, and no folder that was made for it."""

from __future__ import annotations

import errno
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from shared.errors import RequestError
from shared.phrases import phrase
from shared.reasons.ledger import FOLDER_WITH_SPACE

_PART = ".part"


def write_file(path: Path, data: bytes) -> None:
    """Write one file; raises RequestError where it cannot be written, and then what stood there stands there still."""
    if path.exists() and not path.is_file():
        _write_through(path, data)
        return
    # The file that a link points to is written, as it would be by any other program.
    target = path.resolve() if path.is_symlink() else path
    if not target.parent.is_dir():
        raise _refusal(path, FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
    write_files({target.name: data}, target.parent)


def write_files(files: Mapping[str, bytes], folder: Path) -> None:
    """Write files into a folder, all of them or none; raises RequestError where it cannot be written to."""
    parts: list[Path] = []
    made: list[Path] = []
    try:
        for name, data in files.items():
            made += _make_folder((folder / name).parent)
            parts.append(folder / f"{name}{_PART}")
            with parts[-1].open("wb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
        for part in parts:
            part.replace(part.with_name(part.name.removesuffix(_PART)))
    except BaseException as error:
        for part in parts:
            with suppress(OSError):
                part.unlink(missing_ok=True)
        for one in reversed(made):
            with suppress(OSError):
                one.rmdir()
        if isinstance(error, OSError):
            raise _refusal(folder / next(iter(files), ""), error) from None
        raise


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it; returns the ones that were not there, the outermost first."""
    lacking = [one for one in (folder, *folder.parents) if not one.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return lacking


def _write_through(path: Path, data: bytes) -> None:
    """Write to what is no file, such as a pipe or the screen."""
    try:
        with path.open("wb") as out:
            out.write(data)
    except OSError as error:
        raise _refusal(path, error) from None


def _refusal(path: Path, error: OSError) -> RequestError:
    return RequestError(
        str(path),
        phrase("{why}; nothing was written", why=error.strerror or str(error)),
        phrase(FOLDER_WITH_SPACE),
        phrase("Make room, choose another folder (--out, of a server --reports), or close the file"),
    )
