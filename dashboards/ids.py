"""Component ids that several pages have: of the shell and of the sheet for reasons; a page's own are in its folder."""

from typing import Final

URL: Final = "shell-url"
NAV: Final = "shell-nav"
PAGE: Final = "shell-page"
THEME: Final = "shell-theme"
THEME_SWITCH: Final = "shell-theme-switch"

FLOOR_ACT: Final = "floor-act"
FLOOR_ASKED: Final = "floor-asked"
FLOOR_BODY: Final = "floor-body"
FLOOR_ENTERED: Final = "floor-entered"
FLOOR_SHEET: Final = "floor-sheet"
FLOOR_TOLD: Final = "floor-told"
FLOOR_UNANSWERED: Final = "floor-unanswered"
FLOOR_WHO: Final = "floor-who"
