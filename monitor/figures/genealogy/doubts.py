"""How many strokes lie between the two readings around a moment: by so much its place in the strip is uncertain."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from monitor.ledger import Snapshot
from monitor.reckoning.press.counters import Ints
from shared.durations import DAY_US, HOUR_US


class Doubts:
    """Finds how many strokes were counted between the two readings around a moment."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._snapshot = snapshot
        self._read: dict[tuple[str, int], tuple[Ints, Ints]] = {}

    def strokes(self, press_id: str, us: int) -> float:
        """Return the strokes between the readings before and after a moment [us]; 0 where a reading is of it."""
        times, counters = self._readings(press_id, us // DAY_US)
        after = int(np.searchsorted(times, us, side="right"))
        if after == 0 or after == len(times) or times[after - 1] == us:
            return 0.0
        return float(max(0, counters[after] - counters[after - 1]))

    def _readings(self, press_id: str, day: int) -> tuple[Ints, Ints]:
        if (press_id, day) not in self._read:
            rows = self._snapshot.strokes(press_id, day * DAY_US - HOUR_US, (day + 1) * DAY_US + HOUR_US)
            times, counters = rows.column("time").cast(pa.int64()), rows.column("counter")
            self._read[press_id, day] = np.asarray(times), np.asarray(counters)
        return self._read[press_id, day]
