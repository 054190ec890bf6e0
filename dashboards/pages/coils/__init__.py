"""The page *Coils*: callbacks, model, view."""

from typing import Final

COILS_URL: Final = "coils-url"
COILS_DATES: Final = "coils-dates"
COILS_RANGES: Final = "coils-ranges"
COILS_PRESS: Final = "coils-press"
COILS_SHOW: Final = "coils-show"
COILS_FIND: Final = "coils-find"
COILS_BODY: Final = "coils-body"
COILS_YIELDS: Final = "coils-yields"
COILS_ROWS: Final = "coils-rows"
