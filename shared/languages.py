"""The languages of screens, papers and commands; `shared.words` has their words, and takes longer to import."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

LANGUAGES: Mapping[str, str] = MappingProxyType({"en": "English", "es": "Español", "de": "Deutsch"})
"""Language code -> what its speakers call it."""
