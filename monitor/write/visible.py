"""Makes text from files harmless to whatever shows it line by line: nothing in it is obeyed."""

from __future__ import annotations

import re

#: Signs that a screen obeys instead of showing: controls, those that turn the direction of reading or take no room, and
#: bytes of a file name that are no text.
_OBEYED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff"
    "\U000e0000-\U000e007f]"
)


def visible(value: object) -> str:
    """Return text in one line with a blot for each sign that a screen would obey instead of showing."""
    return _OBEYED.sub("\N{REPLACEMENT CHARACTER}", str(value))


def visible_lines(text: str) -> str:
    """Return text of several lines, each made visible; tabs are kept."""
    return "\n".join("\t".join(map(visible, line.split("\t"))) for line in text.split("\n"))
