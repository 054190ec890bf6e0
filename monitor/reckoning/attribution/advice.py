"""What to run next, in one sentence, with the pieces it takes."""

from __future__ import annotations

import math

from scipy import special

# Said wherever a sentence sends a person to the die.
SAFETY = "Stop, isolate and lock out, and block the slide before anyone looks into the die."
_MOST_PIECES = 10_000_000

_CONFIRM = {
    "lot": "Run another lot in the same die state and then {level} again",
    "coil": "Run another coil of the same lot in the same die state and then this one again",
    "heat": "Run another heat in the same die state and then {level} again",
    "supplier": "Run a coil of another supplier in the same die state and then {level} again",
    "cert": "Run coils from both ends of the certificate value in the same die state",
    "coil_position": "Check pieces from that stretch of the next coils and as many from the middle",
    "wear": "Check pieces just before the next sharpening and as many after it, on one lot",
    "press": "Run the same coil on another press and on this one",
    "shift": "Check the same coil and die state in both shifts",
    "setup": "Set the die again on the same coil and compare before and after",
    "since_set": "Check the first pieces after the next settings and as many from later in the run",
    "speed": "Run the same coil at both speeds",
    "drift": "Note what changed at that time, change one thing back and compare before and after",
}
_AT_THE_DIE = frozenset({"wear", "setup", "since_set"})


def pieces_to_tell(usual: float, bad: float, confidence: float = 0.95, power: float = 0.8) -> int | None:
    """Pieces to inspect on either side to tell two shares apart, rounded up to two digits; None where it cannot be.

    `usual`, `bad`: shares [1].  Two-sided, normal approximation.
    Source: Fleiss (1981), Statistical Methods for Rates and Proportions, chapter 3.
    """
    if not 0 <= usual < bad < 1:
        return None
    quantiles = special.ndtri((1 + confidence) / 2) + special.ndtri(power)
    pieces = quantiles**2 * (usual * (1 - usual) + bad * (1 - bad)) / (bad - usual) ** 2
    if pieces > _MOST_PIECES:
        return None
    unit = 10 ** max(math.floor(math.log10(pieces)) - 1, 0)
    return int(math.ceil(pieces / unit) * unit)


def confirm(factor: str, level: str, usual: float, bad: float) -> str:
    """Sentence for a line that acts."""
    test = _CONFIRM[factor].format(level=level)
    safety = f" {SAFETY}" if factor in _AT_THE_DIE else ""
    return f"{test}: {_each(usual, bad)}.{safety}"


def part(one: tuple[str, str], other: tuple[str, str], usual: float, bad: float) -> str:
    """Sentence for two lines that cannot be told apart, each a factor and a level."""
    factors = {one[0], other[0]}
    if factors == {"lot", "wear"}:
        lot = one[1] if one[0] == "lot" else other[1]
        test = f"Run lot {lot} on a sharp die, or another lot on the dull one"
    else:
        test = f"Run {one[0]} {one[1]} without {other[0]} {other[1]}, or the other way round"
    safety = f" {SAFETY}" if factors & _AT_THE_DIE else ""
    return f"{test}: {_each(usual, bad)}.{safety}"


def more(usual: float, ratio: float) -> str:
    """Sentence where too few pieces were looked at."""
    pieces = pieces_to_tell(usual, min(usual * ratio, 0.99))
    if pieces is None:
        return "Inspect more pieces: there are too few rejects to tell anything."
    return f"Inspect about {pieces} more pieces in each level to see a rate {ratio:.0f} times the usual."


def ruled_out(ratio: float) -> str:
    """Sentence for a factor that is clear."""
    return f"Nothing to run: a level at {ratio:.1f} times the rate would have shown."


def _each(usual: float, bad: float) -> str:
    pieces = pieces_to_tell(usual, bad)
    if pieces is None:
        return "the more pieces the better"
    return f"about {pieces} pieces on either side tell {usual:.2%} from {bad:.2%}"
