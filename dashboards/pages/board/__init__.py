"""The page *Board*: callbacks, model, view."""

from typing import Final

BOARD_URL: Final = "board-url"
BOARD_TICK: Final = "board-tick"
BOARD_STAMP: Final = "board-stamp"
BOARD_BODY: Final = "board-body"
