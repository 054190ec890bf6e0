"""What happens at one press: stretches of strokes, and events between them.

Times are whole seconds since 1970 UTC.  A stroke at s is done in (s - 1, s]; an event at s comes after it.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Run:
    """The press strokes steadily from `from_s` to `to_s`; with `strip` off, the feed stands (dry hits)."""

    from_s: int
    to_s: int
    spm: int
    strip: bool = True

    def seconds(self) -> list[int]:
        """The second of every stroke: the k-th comes 60 k / spm after the start."""
        strokes = (self.to_s - self.from_s) * self.spm // 60
        return [self.from_s - (-60 * k // self.spm) for k in range(1, strokes + 1)]


@dataclass(frozen=True)
class CoilChangeNote:
    """A row of `coil_changes`."""

    at_s: int
    event: str
    coil_id: str
    weight_kg: float | None = None
    lost_m: float | None = None


@dataclass(frozen=True)
class DieChangeNote:
    """A row of `die_changes`; `outs_running` empty means that every out runs."""

    at_s: int
    event: str
    die_id: str
    part_no: str = ""
    order_id: str = ""
    outs_running: tuple[int, ...] = ()


@dataclass(frozen=True)
class StopNote:
    """A row of `stops`: somebody entered why the press stood."""

    from_s: int
    to_s: int | None
    reason: str


@dataclass
class Script:
    """Everything that happens at one press, in order of time."""

    press_id: str
    runs: list[Run] = field(default_factory=list)
    events: list[CoilChangeNote | DieChangeNote] = field(default_factory=list)
    standings: list[StopNote] = field(default_factory=list)

    def check(self) -> None:
        """Raise ValueError when runs overlap or anything is out of order."""
        for before, after in zip(self.runs, self.runs[1:], strict=False):
            if before.to_s > after.from_s:
                raise ValueError(f"{self.press_id}: run {after} begins before {before} has ended")
        moments = [event.at_s for event in self.events]
        if moments != sorted(moments):
            raise ValueError(f"{self.press_id}: events are not in order of time")
