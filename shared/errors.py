"""The tree of errors; every one of ours says where, what was seen, what was expected and what to do.

What a screen may show says it in phrases, so that it can be said in the language of whoever looks.

StrokeledgerError
├── RefusedFile     a file that cannot be taken at all; nothing of it is kept
├── PlantError      plant.toml does not say what a plant needs to say
├── LedgerError     the ledger cannot be opened, read or written
│   ├── LedgerBusy      another program is writing
│   └── DamagedPart     a file of the ledger cannot be read; what does not need it goes on
└── RequestError    a question that cannot be answered as it was put
    └── Overtaken       somebody else entered something about the same thing meanwhile
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shared.phrases import Phrase, phrase
from shared.reasons.files import REFUSAL


class StrokeledgerError(Exception):
    """Something went wrong that a person can mend, told in four parts."""

    def __init__(self, where: str, seen: str, expected: str, mend: str) -> None:
        """Keep the four parts; each is a phrase without a full stop."""
        super().__init__(where, seen, expected, mend)
        self.where = where
        self.seen = seen
        self.expected = expected
        self.mend = mend

    @property
    def told(self) -> Phrase:
        """What it says, as a phrase that can be kept."""
        return phrase(REFUSAL, where=self.where, seen=self.seen, expected=self.expected, mend=self.mend)

    def __str__(self) -> str:
        return str(self.told)


class RefusedFile(StrokeledgerError):
    """A file that cannot be taken at all; nothing of it is kept."""


class PlantError(StrokeledgerError):
    """plant.toml does not say what a plant needs to say."""


class LedgerError(StrokeledgerError):
    """The ledger cannot be opened, read or written."""


class LedgerBusy(LedgerError):
    """Another program is writing to the ledger."""


class DamagedPart(LedgerError):
    """A file of the ledger is missing or cannot be read; what does not need it goes on."""


class RequestError(StrokeledgerError):
    """A question that cannot be answered as it was put."""


class Overtaken(RequestError):
    """Somebody else entered something about the same thing meanwhile.

    `by` is who, `at_us` when [us since 1970 UTC, 0 = not known], `row` what; `gone` tells that it was taken back.
    """

    def __init__(
        self,
        where: str,
        seen: str,
        expected: str,
        mend: str,
        by: str = "",
        at_us: int = 0,
        row: Mapping[str, Any] | None = None,
        gone: bool = False,
    ) -> None:
        super().__init__(where, seen, expected, mend)
        self.by = by
        self.at_us = at_us
        self.row = dict(row or {})
        self.gone = gone
