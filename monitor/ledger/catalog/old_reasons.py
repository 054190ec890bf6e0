"""Codes and values of reasons that older releases kept as English text, found by the shape of their templates.

Until format 3 a catalogue held sentences.  They are looked at once, when such a ledger is first opened.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from string import Formatter

from shared.phrases import Joined, Phrase, Template, joined, phrase
from shared.reasons import REASONS, files, rows
from shared.reasons.expected import BOTH, EITHER, SPAN
from shared.reasons.kept import kept, recalled
from shared.reasons.rows import UNCLASSIFIED, VALUE_EXPECTED, expecting

#: A value in quotes as Python writes it, and what stands for the nth of a text while its words are looked at.
_QUOTED = re.compile(r"""(?<![^\s(])('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")(?![^\s,;:.)])""")
_VEILED = "\ue000\\d+\ue001"
_VEIL = re.compile("\ue000(\\d+)\ue001")
#: Phrases stand within phrases so deep at most; a file may hold words that look like more.
_DEEPEST = 6
#: A longer text is left as it is; reasons and refusals are a few hundred characters.
_LONGEST = 4_000
_MOST_PIECES = 40
#: Any text fits these.
_TOO_WIDE = {template.code for template in (UNCLASSIFIED, EITHER, BOTH, SPAN)}
#: What fills these gaps comes from files and tables, whatever it looks like.
_NO_WORDS = frozenset(
    {"column", "days", "file", "folder", "headings", "kind", "known", "line", "missing", "name", "names", "table"}
    | {"words", "zone"}
)


#: What a row was set aside for, and what a file was refused for; other templates are parts of these.
_REASONS = frozenset(made.code for made in vars(rows).values() if isinstance(made, Template)) - {"different_value"}
_REFUSALS = frozenset(
    made.code
    for made in (
        files.REFUSAL,
        files.NO_FILE,
        files.NOT_AS_EXPECTED,
        files.UNKNOWN_ENDING,
        files.UNKNOWN_TABLE,
        files.FILE_UNREADABLE,
        files.FOLDER_CLOSED,
    )
)


@lru_cache(maxsize=4096)
def coded_reason(text: str) -> tuple[str, str]:
    """Code and values of why a row was set aside, as `shared.reasons.kept` has them; its text where nothing fits."""
    return _coded(text, _REASONS)


def coded_refusal(text: str) -> tuple[str, str]:
    """Code and values of why a file was refused, as `shared.reasons.kept` has them; its text where nothing fits."""
    return _coded(text, _REFUSALS)


def _coded(text: str, wholes: frozenset[str]) -> tuple[str, str]:
    try:
        found = _phrases(text)
    except (ValueError, SyntaxError):  # Quotes that Python did not write.
        return kept(text)
    parts = found.parts if isinstance(found, Joined) else (found,)
    keys = [getattr(part, "key", None) for part in parts]
    whole = all(isinstance(key, Template) and key.code in wholes for key in keys)
    return kept(found) if whole and str(recalled(*kept(found))) == text else kept(text)


def _phrases(text: str) -> str:
    if len(text) > _LONGEST or _VEIL.search(text):
        return text
    veiled: list[str] = []

    def veil(found: re.Match[str]) -> str:
        veiled.append(found[0])
        return f"\ue000{len(veiled) - 1}\ue001"

    # What a file held in quotes must not be taken for words of ours.
    return _of(_QUOTED.sub(veil, text), veiled, _DEEPEST)


@dataclass(frozen=True)
class _Shape:
    """A template with gaps: the pattern its texts fit, and its longest stretch of plain text, which they all hold."""

    template: Template
    pattern: re.Pattern[str]
    quoted: frozenset[str]
    anchor: str
    weight: int

    @classmethod
    def of(cls, template: Template) -> _Shape:
        parts = list(Formatter().parse(template))
        stretches = [""]
        for plain, name, _, quoted in parts:
            stretches[-1] += re.escape(plain)
            if name and quoted:
                stretches[-1] += f"(?P<{name}>{_VEILED})"
            elif name:
                stretches.append(f"(?P<{name}>.+?)")
        # Each gap ends where its text first goes on as the template does, and is not tried again: time stays in
        # proportion.
        pattern = "".join(f"(?>{stretch})" for stretch in stretches[:-1]) + stretches[-1]
        plains = [plain for plain, *_ in parts]
        quoted_names = frozenset(name for _, name, _, quoted in parts if name and quoted)
        return cls(template, re.compile(pattern, re.DOTALL), quoted_names, max(plains, key=len), sum(map(len, plains)))

    def gaps(self, text: str) -> dict[str, str] | None:
        """What fills the gaps in a text, None where it is not made of this template."""
        found = self.pattern.fullmatch(text) if self.anchor in text else None
        return found.groupdict() if found else None


@lru_cache(maxsize=1)
def _shapes() -> tuple[dict[str, Template], tuple[_Shape, ...]]:
    """Templates without gaps by their text, and those with gaps: what says most in plain text fits the fewest."""
    known = {str(template): template for template in REASONS.values() if template.code not in _TOO_WIDE}
    plain = {text: template for text, template in known.items() if not template.gaps}
    made = [_Shape.of(template) for text, template in known.items() if text not in plain]
    return plain, tuple(sorted(made, key=lambda shape: (-shape.weight, str(shape.template))))


def _of(text: str, veiled: Sequence[str], depth: int) -> str:
    found = (_joined(text, veiled, depth) or _one(text, veiled, depth)) if depth else None
    return found or _lifted(text, veiled)


def _one(text: str, veiled: Sequence[str], depth: int) -> Phrase | None:
    plain, shapes = _shapes()
    if text in plain:
        return phrase(plain[text])
    for shape in shapes:
        gaps = shape.gaps(text)
        if gaps is not None:
            values = {name: _value(name, shape, held, veiled, depth) for name, held in gaps.items()}
            several = shape.template == VALUE_EXPECTED
            return phrase(expecting(values["expected"]) if several else shape.template, **values)
    return None


def _value(name: str, shape: _Shape, held: str, veiled: Sequence[str], depth: int) -> str:
    if name in shape.quoted:
        return str(ast.literal_eval(_lifted(held, veiled)))
    if name == "tables":
        one, several, other = held.rpartition(" or ")
        first = _value(name, shape, one, veiled, depth) if several else ""
        return phrase(EITHER, one=first, other=other) if several else _lifted(held, veiled)
    return _lifted(held, veiled) if name in _NO_WORDS else _of(held, veiled, depth - 1)


def _joined(text: str, veiled: Sequence[str], depth: int) -> Phrase | None:
    """Phrases that stand one after another, where each is one; a phrase may hold what stands between them."""
    # Reasons stand one after another with semicolons; lists with commas are parts of one.
    for joint in ("; ", ", ")[: 1 if depth == _DEEPEST else 2]:
        pieces = text.split(joint)
        if 1 < len(pieces) <= _MOST_PIECES and (spans := _spans(pieces, joint)) and len(spans) > 1:
            parts = [_one(span, veiled, depth) for span in spans]
            return joined([part for part in parts if part is not None], joint)
    return None


def _spans(pieces: Sequence[str], joint: str) -> list[str]:
    """The pieces, put together where only several of them are a phrase; none where some are no phrase at all."""
    spans, at = [], 0
    while at < len(pieces):
        ends = range(at + 1, len(pieces) + 1)
        end = next((end for end in ends if _fits(joint.join(pieces[at:end]))), None)
        if end is None:
            return []
        spans.append(joint.join(pieces[at:end]))
        at = end
    return spans


def _fits(text: str) -> bool:
    plain, shapes = _shapes()
    return text in plain or any(shape.gaps(text) is not None for shape in shapes)


def _lifted(text: str, veiled: Sequence[str]) -> str:
    return _VEIL.sub(lambda found: veiled[int(found[1])], text)
