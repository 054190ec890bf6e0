"""Holds on any page: model, words, view."""

from typing import Final

TRACE_WHY: Final = "trace-why"
TRACE_WHO: Final = "trace-who"
TRACE_PLACE: Final = "trace-place"
TRACE_LIFT: Final = "trace-lift"
TRACE_TAGS: Final = "trace-tags"
TRACE_HELD: Final = "trace-held"
TRACE_FROM: Final = "trace-from"
TRACE_TO: Final = "trace-to"
TRACE_STRETCH: Final = "trace-stretch"
