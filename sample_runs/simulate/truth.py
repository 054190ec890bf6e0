"""What must come out for one press, counted stroke by stroke and second by second."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from sample_runs.simulate import clock
from sample_runs.simulate.book import Coil, PlantPlan, PressSetup
from sample_runs.simulate.logger import LoggedReadings
from sample_runs.simulate.press import NO_STRIP, Played
from sample_runs.simulate.script import Script

ROW = ["press_id", "die_id", "part_no"]
SHIFT_ROW = ["shift_date", "shift", *ROW]
HOUR_ROW = ["hour_s", *ROW]
SECONDS = ["planned_s", "running_s", "stopped_s", "unresolved_s", "setup_s", "extra_run_s"]
STROKES = ["strokes", "setup_strokes", "strokes_without_strip"]
#: How much more of a standstill than was noted an entry explains at either end [s].
EDGE_S = 300
PIECES = ["pieces", "setup_pieces", "rejected", "reworked", "good"]


@dataclass(frozen=True)
class PressTruth:
    """Stroke, piece and second frames of one press, each with its shift, hour, die and part."""

    strokes: pd.DataFrame
    pieces: pd.DataFrame
    seconds: pd.DataFrame
    stops: pd.DataFrame
    mountings: pd.DataFrame


def spent_seconds(
    readings: LoggedReadings, from_s: int, to_s: int, stop_after_s: float, rated_spm: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Whether the press counts as running in each second of [from_s, to_s), and whether nobody saw what it did.

    Time between two readings runs when the counter rose; a stretch without a stroke counts as running too when it
    is not longer than `stop_after_s`.  Between readings further apart than that it ran only if its strokes, at the
    highest of `rated_spm` (one a second of time) in between, leave no room for a longer stop.
    """
    times, strokes = readings.time_s[~readings.glitch], readings.true_strokes[~readings.glitch]
    running, unseen = np.zeros(to_s - from_s, dtype=bool), np.zeros(to_s - from_s, dtype=bool)
    for start, end, rise in zip(times[:-1] - from_s, times[1:] - from_s, np.diff(strokes), strict=True):
        room_s = end - start - 60 * rise / rated_spm[start:end].max()
        unseen[start:end] = rise > 0 and end - start > stop_after_s and room_s > stop_after_s
        running[start:end] = rise > 0 and not unseen[start]
    for start, end in stretches(~running & ~unseen):
        if end - start <= stop_after_s:
            running[start:end] = True
    return running, unseen


def stretches(flags: np.ndarray) -> list[tuple[int, int]]:
    """First and past-last index of every stretch of true flags."""
    edges = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


def press_truth(
    book: PlantPlan,
    press: PressSetup,
    script: Script,
    played: Played,
    readings: LoggedReadings,
    from_s: int,
    to_s: int,
    frames: tuple[pd.DataFrame, pd.DataFrame] | None = None,
) -> PressTruth:
    """All frames of one press from `from_s` to `to_s`; `frames` are those of `made`, where it was called before."""
    line = clock.timeline(book, press.press_id, from_s, to_s)
    strokes, pieces = frames or made(book, press, played, from_s, to_s)
    stop_after_s = press.stop_after_s if press.stop_after_s is not None else book.stop_after_s
    rated = _rated_spm(book, press, played, from_s, to_s)
    running, unseen = spent_seconds(readings, from_s, to_s, stop_after_s, rated)
    return PressTruth(
        strokes=strokes,
        pieces=pieces,
        seconds=_seconds(book, press, played=played, readings=readings, line=line, spent=(running, unseen)),
        stops=_stops(press, script, line, _standstills(readings, running | unseen, from_s)),
        mountings=_mountings(press, played),
    )


def _rated_spm(book: PlantPlan, press: PressSetup, played: Played, from_s: int, to_s: int) -> np.ndarray:
    """The lower rated speed of press and die in each second; without a die the press's."""
    of_eras = [min(press.rated_spm, book.die(e.die_id).rated_spm if e.die_id else np.inf) for e in played.eras]
    era = np.searchsorted(np.array(played.era_from_s), np.arange(from_s, to_s), side="right") - 1
    return np.array(of_eras)[era]


def made(
    book: PlantPlan, press: PressSetup, played: Played, from_s: int, to_s: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The strokes and the pieces of one press, a row each; no piece is rejected yet."""
    strokes = _strokes(book, press, played, clock.timeline(book, press.press_id, from_s, to_s))
    return strokes, _pieces(book, played, strokes)


def _labels(line: clock.Timeline, seconds: np.ndarray) -> dict[str, np.ndarray]:
    where = line.shift_at(seconds)
    dates, shifts = np.array(line.names, dtype=object).T
    return {"shift_date": dates[where], "shift": shifts[where]}


def _strokes(book: PlantPlan, press: PressSetup, played: Played, line: clock.Timeline) -> pd.DataFrame:
    # A stroke at second s is done in (s - 1, s], so it belongs to what holds from s - 1 on.
    second = np.asarray(played.stroke_s, dtype=np.int64) - 1
    era = np.asarray(played.stroke_era, dtype=np.int64)
    mounting = np.asarray(played.stroke_mounting, dtype=np.int64)
    setting = np.array([e.setting for e in played.eras])[era]
    return pd.DataFrame(
        {
            **_labels(line, second),
            "hour_s": clock.hour_starts_s(book.timezone, second),
            "press_id": press.press_id,
            "die_id": np.array([e.die_id for e in played.eras], dtype=object)[era],
            "part_no": np.array([e.lead_part for e in played.eras], dtype=object)[era],
            "mounting": mounting,
            "setting": setting,
            "strokes": 1,
            "setup_strokes": setting.astype(np.int64),
            "strokes_without_strip": (mounting == NO_STRIP).astype(np.int64),
        }
    )


def _pieces(book: PlantPlan, played: Played, strokes: pd.DataFrame) -> pd.DataFrame:
    made_at = np.asarray(played.piece_stroke, dtype=np.int64)
    frame = strokes[["shift_date", "shift", "hour_s", "press_id", "die_id", "setting"]].iloc[made_at]
    frame = frame.reset_index(drop=True)
    out = np.asarray(played.piece_out, dtype=np.int64)
    frame["out"] = out
    frame["part_no"] = _parts_of_outs(book, played)[np.asarray(played.stroke_era)[made_at], out]
    progression = np.asarray(played.piece_progression, dtype=np.int64)
    frame["mounting"] = np.asarray(played.progression_mounting, dtype=np.int64)[progression]
    frame["place"] = np.asarray(played.progression_place, dtype=np.int64)[progression]
    frame["second"] = np.asarray(played.stroke_s, dtype=np.int64)[made_at]
    frame["stroke"] = made_at
    frame["pieces"] = 1
    frame["setup_pieces"] = frame["setting"].astype(np.int64)
    frame[["rejected", "reworked"]] = 0
    frame["good"] = 1 - frame["setup_pieces"]
    return frame


def _parts_of_outs(book: PlantPlan, played: Played) -> np.ndarray:
    """Part number by era and out (1 = first)."""
    widest = max(len(die.outs) for die in book.dies)
    parts = np.full((len(played.eras), widest + 1), "", dtype=object)
    for number, era in enumerate(played.eras):
        if era.die_id:
            outs = book.die(era.die_id).outs
            parts[number, 1 : len(outs) + 1] = [out.part_no for out in outs]
    return parts


def spoil(pieces: pd.DataFrame, which: list[int], fate: str) -> None:
    """Move good pieces, given by their rows, to the column `fate`: rejected or reworked."""
    if (pieces.loc[which, "good"] != 1).any():
        raise ValueError("only a good piece can be spoiled")
    pieces.loc[which, fate] = 1
    pieces.loc[which, "good"] = 0


def _seconds(
    book: PlantPlan,
    press: PressSetup,
    played: Played,
    readings: LoggedReadings,
    line: clock.Timeline,
    spent: tuple[np.ndarray, np.ndarray],
) -> pd.DataFrame:
    """One row a stretch of equal seconds, summed over shift, hour, die and part."""
    running, unseen = spent
    second = np.arange(line.from_s, line.to_s, dtype=np.int64)
    era = np.searchsorted(np.array(played.era_from_s), second, side="right") - 1
    setting = np.array([e.setting for e in played.eras])[era]
    extra = running & ~line.planned
    planned = (line.planned & _read_shifts(line, readings)[line.shift_of]) | extra
    frame = pd.DataFrame(
        {
            "shift_index": line.shift_of,
            "hour_s": clock.hour_starts_s(book.timezone, second),
            "era": era,
            "planned_s": planned,
            "running_s": running,
            "unresolved_s": planned & unseen,
            "setup_s": setting & planned & ~unseen,
            "extra_run_s": extra,
        }
    )
    frame = frame.groupby(["shift_index", "hour_s", "era"], as_index=False).sum()
    frame["stopped_s"] = frame["planned_s"] - frame["running_s"] - frame["unresolved_s"]
    frame["press_id"] = press.press_id
    frame["die_id"] = [played.eras[number].die_id for number in frame["era"]]
    frame["part_no"] = [played.eras[number].lead_part for number in frame["era"]]
    frame["shift_date"] = [line.names[number][0] for number in frame["shift_index"]]
    frame["shift"] = [line.names[number][1] for number in frame["shift_index"]]
    return frame.drop(columns=["shift_index", "era"])


def _read_shifts(line: clock.Timeline, readings: LoggedReadings) -> np.ndarray:
    """Whether the counter was read in each shift; a reading on its very start belongs to the one before."""
    inside = readings.time_s[(readings.time_s > line.from_s) & (readings.time_s <= line.to_s)] - 1
    read = np.zeros(len(line.names), dtype=bool)
    read[line.shift_at(inside)] = True
    return read


def _standstills(readings: LoggedReadings, other: np.ndarray, from_s: int) -> list[tuple[int, int]]:
    """Stretches in which the press stood; before the first and after the last reading nobody knows."""
    known = np.zeros(len(other), dtype=bool)
    known[readings.time_s[0] - from_s : readings.time_s[-1] - from_s] = True
    return stretches(~other & known)


def _stops(press: PressSetup, script: Script, line: clock.Timeline, standstills: list[tuple[int, int]]) -> pd.DataFrame:
    """Every stretch of a stop with one shift and one entered reason ("" where nobody entered one)."""
    reasons = _entered(script, line, standstills)
    rows = []
    for number, (start, end) in enumerate(standstills):
        changes = np.diff(line.shift_of[start:end]).astype(bool) | np.diff(reasons[start:end]).astype(bool)
        cuts = (np.flatnonzero(changes) + start + 1).tolist()
        for one, two in zip([start, *cuts], [*cuts, end], strict=True):
            reason = script.standings[reasons[one]].reason if reasons[one] >= 0 else ""
            planned_s = int(line.planned[one:two].sum())
            rows.append(
                (
                    number,
                    one + line.from_s,
                    two + line.from_s,
                    two - one,
                    planned_s,
                    *line.names[line.shift_of[one]],
                    reason,
                )
            )
    names = ["stop", "start_s", "end_s", "seconds", "planned_s", "shift_date", "shift", "reason"]
    return pd.DataFrame(rows, columns=names).assign(press_id=press.press_id)


def _entered(script: Script, line: clock.Timeline, standstills: list[tuple[int, int]]) -> np.ndarray:
    """Number of the entry that explains each second, -1 where none does.

    An entry belongs to the standstill it shares most seconds with, an open one to the one it lies in.  It explains
    five minutes more of it at either end, up to where another begins; a longer rest stays unexplained.
    """
    entry = np.full(line.to_s - line.from_s, -1, dtype=np.int32)
    for number, stood in sorted(enumerate(script.standings), key=lambda one: one[1].from_s):
        start, end = stood.from_s - line.from_s, (stood.to_s or line.to_s) - line.from_s
        shared = [min(end, two) - max(start, one) for one, two in standstills]
        met = [place for place, seconds in enumerate(shared) if seconds > 0]
        if met:
            one, two = standstills[met[0] if stood.to_s is None else max(met, key=lambda place: shared[place])]
            entry[max(start, one) : min(end, two)] = number
    for one, two in standstills:
        _round_up(entry[one:two])
    return entry


def _round_up(entry: np.ndarray) -> None:
    """Let the entries of a standstill explain the short rests beside them, the earlier one where there are two."""
    for start, end in stretches(entry < 0):
        if end - start <= EDGE_S and end - start < len(entry):
            entry[start:end] = entry[start - 1] if start else entry[end]


def _mountings(press: PressSetup, played: Played) -> pd.DataFrame:
    rows = [
        (number, m.coil_id, press.press_id, m.die_id, m.mounted_s, m.removed_s, m.weighed_kg, m.rest_kg,
         m.fed, m.fed - m.finished, m.lost_m)
        for number, m in enumerate(played.mountings)
    ]  # fmt: skip
    names = ["mounting", "coil_id", "press_id", "die_id", "mounted_s", "removed_s", "weighed_kg", "rest_kg",
             "strokes", "unfinished", "lost_m"]  # fmt: skip
    return pd.DataFrame(rows, columns=names).astype({"removed_s": "Int64"})


def shifts(presses: list[PressTruth]) -> pd.DataFrame:
    """The `shifts` figure: one row a press, shift, die and part in which anything stands."""
    return _summed(presses, SHIFT_ROW, SECONDS)


def hours(presses: list[PressTruth]) -> pd.DataFrame:
    """The `hours` figure, with the start of the hour in seconds since 1970 UTC."""
    frame = _summed(presses, HOUR_ROW, ["running_s", "unresolved_s"])
    return frame[
        [*HOUR_ROW, "running_s", "unresolved_s", "strokes", "pieces", "setup_pieces", "rejected", "reworked", "good"]
    ]


def _summed(presses: list[PressTruth], row: list[str], seconds: list[str]) -> pd.DataFrame:
    parts, made = [], []
    for press in presses:
        parts.append(press.seconds.groupby(row)[seconds].sum())
        parts.append(press.strokes.groupby(row)[STROKES].sum())
        made.append(press.pieces.groupby(row)[PIECES].sum())
    values = [*seconds, *STROKES, *PIECES]
    frame = pd.concat([*parts, *made]).reindex(columns=values).fillna(0).groupby(level=row).sum().astype("Int64")
    # Strokes and time stand with the first running out alone; those of the other outs nobody counts.
    others = ~frame.index.isin(pd.concat(parts).index)
    frame.loc[others, [*seconds, *STROKES]] = pd.NA
    return frame[(frame.fillna(0) != 0).any(axis=1)].reset_index()


def coils(presses: list[PressTruth], book: PlantPlan, coils_by_id: Mapping[str, Coil]) -> pd.DataFrame:
    """The `coils` figure: one row a mounting, over all presses in order of time."""
    frames = []
    for press in presses:
        made = press.pieces.groupby("mounting")[PIECES].sum()
        frames.append(press.mountings.join(made, on="mounting"))
    frame = pd.concat(frames, ignore_index=True).sort_values(["mounted_s", "press_id"], ignore_index=True)
    frame[PIECES] = frame[PIECES].fillna(0).astype(np.int64)
    left: dict[str, float | None] = {}
    rows_of: list[Any] = list(frame.itertuples())
    rows = [_weights(row, book, coils_by_id[row.coil_id], left) for row in rows_of]
    return frame.join(pd.DataFrame(rows, columns=["used_m", "used_kg", "start_kg", "remaining_kg"]))


def _weights(
    row: Any, book: PlantPlan, coil: Coil, left: dict[str, float | None]
) -> tuple[float, float, float | None, float | None]:
    """Metres and kilograms of one mounting; `left` keeps what is left of each coil after it."""
    pitch_mm = book.die(row.die_id).pitch_mm if row.die_id else 0.0
    used_m = row.strokes * pitch_mm / 1000
    used_kg = used_m * book.densities_kg_m3[coil.material] * coil.width_mm * coil.thickness_mm * 1e-6
    start_kg = row.weighed_kg if pd.notna(row.weighed_kg) else left.get(coil.coil_id, coil.weight_kg)
    reckoned = None if start_kg is None else start_kg - used_kg
    remaining_kg = row.rest_kg if pd.notna(row.rest_kg) else reckoned
    left[coil.coil_id] = remaining_kg
    return used_m, used_kg, start_kg, remaining_kg
