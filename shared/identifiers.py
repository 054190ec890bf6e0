"""The one rule for identifiers: what names a press, die, coil, lot, part, cause or anything else in the tables.

An identifier may hold any sign that prints: `;`, quotes and spaces inside too.  Case is kept.  Blanks at either end are
no part of it, a blank of another width (no-break, thin, ideographic) is a space, and signs composed of several are one:
an export of a Mac and one of Windows name the same press.  It may hold nothing that does not print: controls, marks of
direction, zero widths, signs that no font has.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable

#: Blanks of other widths than a space.
_BLANKS = re.compile("[\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]")
#: Letters and marks that draw nothing, though they count as printable.
_DRAWN_AS_NOTHING = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u3164\uffa0")


def as_identifier(text: str) -> str:
    """The identifier that a text stands for; `hidden_in` says what of it no identifier may hold."""
    if text.isascii():
        return text.strip()
    return unicodedata.normalize("NFC", _BLANKS.sub(" ", text)).strip()


def hidden_in(text: str) -> str:
    """The signs of an identifier that do not print, "" where all do."""
    if text.isprintable() and _DRAWN_AS_NOTHING.isdisjoint(text):
        return ""
    return "".join(sign for sign in text if not sign.isprintable() or sign in _DRAWN_AS_NOTHING)


def joined(names: Iterable[object]) -> str:
    """The `;`-list of names that readers of an export are shown; inside, lists of names are tuples."""
    return ";".join(map(str, names))


def listed(text: str, known: Collection[str]) -> list[str]:
    """The identifiers in a `;`-list as figures show it, where those that may stand in it are known.

    An identifier may hold a `;` itself: of several ways to cut, the one with the longest first is taken.  What is not
    known is cut at every `;`.
    """
    parts, found = text.split(";"), list[str]()
    while parts:
        ends = (end for end in range(len(parts), 1, -1) if ";".join(parts[:end]) in known)
        end = next(ends, 1)
        found.append(";".join(parts[:end]))
        parts = parts[end:]
    return [name for name in found if name]
