"""The page *Die*: callbacks, model, view."""

from typing import Final

DIE_URL: Final = "die-url"
DIE_PICK: Final = "die-pick"
DIE_DATES: Final = "die-dates"
DIE_RANGES: Final = "die-ranges"
DIE_SHIFT: Final = "die-shift"
DIE_BODY: Final = "die-body"
DIE_HOURS: Final = "die-hours"
DIE_STOPS: Final = "die-stops"
DIE_STRIP: Final = "die-strip"
DIE_SCRAP: Final = "die-scrap"
