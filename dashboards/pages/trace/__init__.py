"""The page *Trace*: callbacks, model, view."""

from typing import Final

TRACE_URL: Final = "trace-url"
TRACE_DATES: Final = "trace-dates"
TRACE_RANGES: Final = "trace-ranges"
TRACE_SCOPE: Final = "trace-scope"
TRACE_VALUE: Final = "trace-value"
TRACE_FIND: Final = "trace-find"
TRACE_DONE: Final = "trace-done"
TRACE_BODY: Final = "trace-body"
TRACE_FLOW: Final = "trace-flow"
TRACE_FILE: Final = "trace-file"
