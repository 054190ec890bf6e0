"""The page *Handover*: callbacks, model, view."""

from typing import Final

HANDOVER_URL: Final = "handover-url"
HANDOVER_TICK: Final = "handover-tick"
HANDOVER_STAMP: Final = "handover-stamp"
HANDOVER_VIEW: Final = "handover-view"
HANDOVER_BODY: Final = "handover-body"
HANDOVER_PAPER: Final = "handover-paper"
HANDOVER_FILE: Final = "handover-file"
HANDOVER_PRESS: Final = "handover-press"
HANDOVER_NOTE: Final = "handover-note"
HANDOVER_WRITE: Final = "handover-write"
