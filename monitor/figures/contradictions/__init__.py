"""Sets of rows that cannot all be true, which figures they affect, and what to correct.

What nobody can know, such as what happened before the first reading of a press, is no contradiction.
"""

from monitor.figures.contradictions.contradictions import contradicting, found_in
from monitor.figures.contradictions.found import AFFECTS, KINDS, Contradiction

__all__ = ["AFFECTS", "KINDS", "Contradiction", "contradicting", "found_in"]
