"""Reasons as they are kept: their codes, and the values of each as JSON; and back to phrases.

A value is text or a whole number as it was, an amount, `{"number": …}`, or a phrase of its own,
`{"code": …, "values": …}`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from shared.phrases import Amount, Joined, Phrase, Template, joined, phrase
from shared.reasons import REASONS
from shared.reasons.files import REFUSAL
from shared.reasons.rows import UNCLASSIFIED

_JOINT = "; "


def kept(reason: str) -> tuple[str, str]:
    """The code of a reason and its values, a list in JSON; of several reasons their codes with `;` between them.

    A refusal has the code of what was seen.  What is no phrase of a template is kept as text; "" is kept as "".
    """
    if not reason:
        return "", ""
    several = isinstance(reason, Joined) and reason.joint == _JOINT
    found = [_coded(part) for part in (reason.parts if isinstance(reason, Joined) and several else (reason,))]
    return ";".join(code for code, _ in found), as_json([values for _, values in found])


def recalled(codes: str, values: str) -> Phrase:
    """The reason that was kept as codes and values; of a code that this release does not know, its values."""
    told = zip(codes.split(";"), json.loads(values), strict=True) if codes else ()
    return joined([_refused(held) or _phrase(code, held) for code, held in told], _JOINT)


def plain(reason: str) -> object:
    """A reason as a part of something that is kept as JSON."""
    return _plain(reason) if reason else ""


def from_plain(held: Any) -> str:
    """The reason that was kept as a part of JSON."""
    return str(held) if isinstance(held, str) else _value(held)


def codes_of(codes: str) -> tuple[str, ...]:
    """The codes that stand in a column `code`."""
    return tuple(codes.split(";")) if codes else ()


def as_json(value: object) -> str:
    """JSON in which a sign that is no text stands as its escape, so that any catalogue can hold it."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _coded(reason: str) -> tuple[str, dict[str, object]]:
    made = reason if isinstance(reason, Phrase) else None
    if made is None or not isinstance(made.key, Template):
        return UNCLASSIFIED.code, {"text": str(reason)}
    seen = getattr(made.values.get("seen"), "key", None) if made.key == REFUSAL else None
    code = seen.code if isinstance(seen, Template) else made.key.code
    return code, {name: _plain(value) for name, value in made.values.items()}


def _plain(value: object) -> object:
    if isinstance(value, Joined):
        return {"joint": value.joint, "parts": [_plain(part) for part in value.parts]}
    if isinstance(value, Phrase):
        if not isinstance(value.key, Template):
            return str(value)
        return {"code": value.key.code, "values": {name: _plain(one) for name, one in value.values.items()}}
    if isinstance(value, Amount):
        return {"number": float(value)}
    if hasattr(value, "item"):  # A number of numpy.
        value = value.item()
    return value if value is None or isinstance(value, (str, int, float)) else str(value)


def _refused(values: Mapping[str, Any]) -> Phrase | None:
    if values.keys() != REFUSAL.gaps:
        return None
    return phrase(REFUSAL, **{name: _value(value) for name, value in values.items()})


def _phrase(code: str, values: Mapping[str, Any]) -> Phrase:
    filled = {name: _value(value) for name, value in values.items()}
    template = REASONS.get(code)
    if template is None or template.gaps - filled.keys():
        told = ", ".join(f"{name} {value}" for name, value in filled.items())
        return phrase(UNCLASSIFIED, text=f"{code}: {told}" if told else code)
    return phrase(template, **filled)


def _value(held: Any) -> Any:
    if not isinstance(held, dict):
        return held
    if "number" in held:
        return Amount(held["number"])
    if "parts" in held:
        return joined([_value(part) for part in held["parts"]], held["joint"])
    return _phrase(held["code"], held["values"])
