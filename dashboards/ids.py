"""Every component id, beginning with the page it is on: unique over the whole app."""

from typing import Final

URL: Final = "shell-url"
NAV: Final = "shell-nav"
PAGE: Final = "shell-page"
THEME: Final = "shell-theme"
THEME_SWITCH: Final = "shell-theme-switch"

BOARD_URL: Final = "board-url"
BOARD_TICK: Final = "board-tick"
BOARD_STAMP: Final = "board-stamp"
BOARD_BODY: Final = "board-body"

DIE_URL: Final = "die-url"
DIE_PICK: Final = "die-pick"
DIE_DATES: Final = "die-dates"
DIE_SHIFT: Final = "die-shift"
DIE_BODY: Final = "die-body"
DIE_HOURS: Final = "die-hours"
DIE_STOPS: Final = "die-stops"
DIE_STRIP: Final = "die-strip"
DIE_SCRAP: Final = "die-scrap"
