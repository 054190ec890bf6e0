"""Texts that remember what they were made of, so that whoever reads them can be told in another language.

What says why something is refused, or why a row is set aside, is made where nobody knows who will read it.  It is
English, the key of the catalogue of `shared.words` filled with values; the catalogue finds both again, in the phrase
itself or, where only its text was stored, by the shape of its keys.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from string import Formatter

#: A value in quotes as Python writes it, and what stands for the nth of a text while its words are looked at.
_QUOTED = re.compile(r"""(?<![^\s(])('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")(?![^\s,;:.)])""")
_VEILED = "\ue000\\d+\ue001"
_VEIL = re.compile("\ue000(\\d+)\ue001")
_JOINTS = ("; ", ", ")
#: Phrases stand within phrases so deep at most; a file may hold words that look like more.
_DEEPEST = 6
#: A longer text is left as it is; reasons and refusals are a few hundred characters.
_LONGEST = 4_000


def key(text: str) -> str:
    """The text as it is, marked for the catalogue: for constants that `say` or `phrase` is given later."""
    return text


class Phrase(str):
    """An English text with the key and the values it was made of; to everything else it is that text."""

    key: str
    values: Mapping[str, object]

    __slots__ = ("key", "values")


def phrase(key: str, /, **values: object) -> Phrase:
    """The text of a key of the catalogue, its gaps filled; a value may be a phrase itself, and `{name!r}` is quoted."""
    made = Phrase(key.format(**values) if values else key)
    made.key, made.values = key, values
    return made


class _Quoted(str):
    """A value that stands in a text in its quotes; shown again as it stood there."""

    __slots__ = ()

    def __repr__(self) -> str:
        return str(self)


@dataclass(frozen=True)
class _Template:
    """A key with gaps: the pattern its texts fit, and its longest stretch of plain text, which all of them hold."""

    key: str
    pattern: re.Pattern[str]
    quoted: frozenset[str]
    anchor: str
    weight: int

    @classmethod
    def of(cls, key: str) -> _Template:
        parts = list(Formatter().parse(key))
        stretches = [""]
        for plain, name, _, quoted in parts:
            stretches[-1] += re.escape(plain)
            if name and quoted:
                stretches[-1] += f"(?P<{name}>{_VEILED})"
            elif name:
                stretches.append(f"(?P<{name}>.+?)")
        # Each gap ends where its text first goes on as the key does, and is not tried again: time stays in proportion.
        pattern = "".join(f"(?>{stretch})" for stretch in stretches[:-1]) + stretches[-1]
        plains = [plain for plain, *_ in parts]
        quoted_names = frozenset(name for _, name, _, quoted in parts if name and quoted)
        return cls(key, re.compile(pattern, re.DOTALL), quoted_names, max(plains, key=len), sum(map(len, plains)))

    def values(self, text: str) -> dict[str, str] | None:
        """What fills the gaps in a text, None where it is not made of this key."""
        found = self.pattern.fullmatch(text) if self.anchor in text else None
        return found.groupdict() if found else None


class Recall:
    """Finds the phrases in stored texts again, by the keys they may be made of."""

    def __init__(self, keys: Iterable[str]) -> None:
        names = set(keys)
        self._plain = frozenset(key for key in names if "{" not in key)
        # What says most in plain text fits the fewest texts by chance.
        self._made = sorted(map(_Template.of, names - self._plain), key=lambda made: (-made.weight, made.key))

    def of(self, text: str) -> str:
        """The text as a phrase, one of several joined, or as it is where it is made of no key."""
        if len(text) > _LONGEST or _VEIL.search(text):
            return text
        veiled: list[str] = []

        def veil(found: re.Match[str]) -> str:
            veiled.append(found[0])
            return f"\ue000{len(veiled) - 1}\ue001"

        # What a file held in quotes must not be taken for words of ours.
        return self._of(_QUOTED.sub(veil, text), veiled, _DEEPEST)

    def _of(self, text: str, veiled: Sequence[str], depth: int) -> str:
        found = (self._joined(text, veiled, depth) or self._one(text, veiled, depth)) if depth else None
        return found or _lifted(text, veiled)

    def _one(self, text: str, veiled: Sequence[str], depth: int) -> Phrase | None:
        if text in self._plain:
            return phrase(text)
        for made in self._made:
            values = made.values(text)
            if values is not None:
                known = {
                    name: _Quoted(_lifted(value, veiled)) if name in made.quoted else self._of(value, veiled, depth - 1)
                    for name, value in values.items()
                }
                return phrase(made.key, **known)
        return None

    def _joined(self, text: str, veiled: Sequence[str], depth: int) -> Phrase | None:
        """Phrases that stand one after another, where each piece is one."""
        for joint in _JOINTS:
            pieces = text.split(joint)
            if len(pieces) == 1 or not all(self._fits(piece) for piece in pieces):
                continue
            gaps = {f"p{place}": self._one(piece, veiled, depth) for place, piece in enumerate(pieces)}
            return phrase(joint.join(f"{{{name}}}" for name in gaps), **gaps)
        return None

    def _fits(self, text: str) -> bool:
        return text in self._plain or any(made.values(text) is not None for made in self._made)


def _lifted(text: str, veiled: Sequence[str]) -> str:
    return _VEIL.sub(lambda found: veiled[int(found[1])], text)
