"""Texts that remember what they were made of, so that whoever reads them can be told in another language.

What says why something is refused, or why a row is set aside, is made where nobody knows who will read it.  It is
English, the key of the catalogue of `shared.words` filled with values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from string import Formatter


def key(text: str) -> str:
    """The text as it is, marked for the catalogue: for constants that `say` or `phrase` is given later."""
    return text


class Template(str):
    """The English key of phrases that are kept, with the code by which they are kept, counted and asked for."""

    code: str

    __slots__ = ("code",)

    def __new__(cls, code: str, text: str) -> Template:
        """The key `text` under a code such as `value_missing`; the code stays when the text is improved."""
        made = super().__new__(cls, text)
        made.code = code
        return made

    @property
    def gaps(self) -> frozenset[str]:
        """Names of the values that fill it."""
        return frozenset(name for _, name, _, _ in Formatter().parse(self) if name)


class Phrase(str):
    """An English text with the key and the values it was made of; to everything else it is that text."""

    key: str
    values: Mapping[str, object]

    __slots__ = ("key", "values")


class Joined(Phrase):
    """Phrases one after another, and what stands between them."""

    parts: tuple[Phrase, ...]
    joint: str

    __slots__ = ("joint", "parts")


class Amount(float):
    """A number in a phrase: in English `1,000.5`, elsewhere as the language of the viewer writes it."""

    def __format__(self, spec: str) -> str:
        return super().__format__(spec or ",.10g")

    def __str__(self) -> str:
        return format(self)


def phrase(key: str, /, **values: object) -> Phrase:
    """The text of a key of the catalogue, its gaps filled; a value may be a phrase itself, and `{name!r}` is quoted."""
    made = Phrase(key.format(**values) if values else key)
    made.key, made.values = key, values
    return made


def joined(parts: Iterable[Phrase], joint: str = "; ") -> Phrase:
    """Phrases one after another as one; a single one stays as it is."""
    told = tuple(parts)
    if len(told) == 1:
        return told[0]
    made = Joined(joint.join(told))
    made.key, made.values, made.parts, made.joint = str(made), {}, told, joint
    return made
