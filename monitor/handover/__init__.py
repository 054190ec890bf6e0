"""The hand-over of a shift: gathered once, shown on a page and printed on paper."""

from monitor.handover.gather import hand_over
from monitor.handover.model import HandOver

__all__ = ["HandOver", "hand_over"]
