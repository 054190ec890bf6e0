"""What must come out of the sample fortnight, as files beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from sample_runs.simulate import files, truth
from sample_runs.simulate.fortnight.book import BOOK, FAULTS, REASONS, SERVICES, ZONE
from sample_runs.simulate.fortnight.checks import PlayedPress
from sample_runs.simulate.fortnight.plan import Fortnight, at
from sample_runs.simulate.press import NO_STRIP


def trace(fortnight: Fortnight, seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """Pieces made and good by container and coil, for clips all the way back through their reel."""
    frames = []
    for press_id, one in seen.items():
        if not one.desk.contents:
            continue
        coil = _coil_of_pieces(fortnight, press_id, one.truth.pieces)
        good = one.truth.pieces["good"].to_numpy()
        for box in one.desk.containers:
            name, part_no = str(box["container_id"]), str(box["part_no"])
            inside = one.desk.contents[name]
            of_coil = pd.DataFrame({"coil_id": coil[inside], "made": 1, "pieces": good[inside]})
            sums = of_coil.groupby("coil_id", as_index=False).sum()
            frames.append(sums.assign(container_id=name, part_no=part_no))
    frame = pd.concat(frames, ignore_index=True)
    frame["lot"] = [fortnight.coils[coil].lot for coil in frame["coil_id"]]
    frame["heat"] = [fortnight.coils[coil].heat for coil in frame["coil_id"]]
    return frame[["container_id", "part_no", "coil_id", "lot", "heat", "made", "pieces"]]


def _coil_of_pieces(fortnight: Fortnight, press_id: str, pieces: pd.DataFrame) -> np.ndarray:
    mountings = fortnight.played[press_id].mountings
    number, place = pieces["mounting"].to_numpy(), pieces["place"].to_numpy()
    names = np.array([mounting.coil_id for mounting in mountings], dtype=object)
    coil = names[number]
    fed_before: dict[str, int] = {}
    for index, mounting in enumerate(mountings):
        if mounting.coil_id in fortnight.reels:
            here = number == index
            before = fed_before.get(mounting.coil_id, 0)
            coil[here] = fortnight.reels[mounting.coil_id].coil_at(place[here] + before)
            fed_before[mounting.coil_id] = before + mounting.fed
    return np.asarray(coil)


def with_box_of_boxes(frame: pd.DataFrame, repacks: pd.DataFrame) -> pd.DataFrame:
    """The trace with what the repacked box holds."""
    inside = frame[frame["container_id"].isin(repacks["from_container"])]
    row = ["part_no", "coil_id", "lot", "heat"]
    box = inside.groupby(row, as_index=False)[["made", "pieces"]].sum()
    return pd.concat([frame, box.assign(container_id="R-0001")[frame.columns]], ignore_index=True)


def coils(fortnight: Fortnight, seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """The `coils` figure; a reel has no weight, and rejects are left empty where one count covers several coils."""
    frame = truth.coils([one.truth for one in seen.values()], BOOK, fortnight.coils)
    known = ["lot", "heat", "supplier", "material"]
    for name in known:
        frame[name] = [getattr(fortnight.coils[coil], name) for coil in frame["coil_id"]]
    reel = frame["coil_id"].isin(list(fortnight.reels))
    frame.loc[reel, "material"] = ""
    frame.loc[reel, ["used_kg", "start_kg", "remaining_kg"]] = np.nan
    mixed = [
        number in seen[press_id].desk.shared
        for press_id, number in zip(frame["press_id"], frame["mounting"], strict=True)
    ]
    counts = ["rejected", "reworked", "good"]
    frame[counts] = frame[counts].astype("Int64")
    frame.loc[mixed, counts] = pd.NA
    weights = ["used_m", "used_kg", "start_kg", "remaining_kg"]
    frame[weights] = frame[weights].astype(float).round(6)
    frame["mounted_at"] = _text(frame["mounted_s"])
    frame["removed_at"] = _text(frame["removed_s"])
    first = ["coil_id", *known, "press_id", "die_id", "mounted_at", "removed_at", "strokes", *weights]
    return frame[[*first, "pieces", "unfinished", "setup_pieces", *counts]]


def stops(seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """The `stops` figure, with the part of each that lies in planned time."""
    frame = pd.concat([one.truth.stops for one in seen.values()], ignore_index=True)
    frame["kind"] = frame["reason"].map({reason: kind for reason, _, kind in REASONS}).fillna("")
    frame["start_at"], frame["end_at"] = _text(frame["start_s"]), _text(frame["end_s"])
    return frame[
        ["stop", "press_id", "start_at", "end_at", "seconds", "planned_s", "shift_date", "shift", "reason", "kind"]
    ]


def hours(seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """The `hours` figure without rejects, which a container may spread over hours."""
    frame = truth.hours([one.truth for one in seen.values()])
    frame.insert(0, "hour_start", _text(frame["hour_s"]))
    return frame.drop(columns=["hour_s", "rejected", "reworked", "good"])


def service(fortnight: Fortnight, seen: dict[str, PlayedPress]) -> pd.DataFrame:
    """Strokes with strip since all cutting stations of a die were last sharpened; empty where that is not known."""
    rows = []
    for die in BOOK.dies:
        moments = [at(when) for name, when, _, station, _ in SERVICES if name == die.die_id and station is None]
        since: int | None = 0 if moments else None
        for press_id, one in seen.items():
            played, strokes = fortnight.played[press_id], one.truth.strokes
            of_die = (strokes["die_id"] == die.die_id).to_numpy() & (strokes["mounting"] != NO_STRIP).to_numpy()
            if moments:
                after = np.asarray(played.stroke_s) > max(moments)
                since = (since or 0) + int((of_die & after).sum())
        rows.append((die.die_id, since, die.sharpen_every_strokes))
    names = ["die_id", "strokes_since_sharpening", "sharpen_every_strokes"]
    return pd.DataFrame(rows, columns=names).astype(dict.fromkeys(names[1:], "Int64"))


def planted() -> str:
    """What was planted, as TOML."""
    lines = ["# What was planted in the fortnight, and how strongly: the rate is that many times the usual one.", ""]
    for die_id, faults in FAULTS.items():
        for fault in faults:
            lines += ["[[fault]]", f'die_id = "{die_id}"', f'cause = "{fault.cause}"', f"usual_rate = {fault.rate}"]
            if fault.bad_lot:
                lines += ['factor = "lot"', f'level = "{fault.bad_lot}"', f"times = {fault.lot_factor}"]
            if fault.worn_strokes:
                lines += ['factor = "wear"', f"times = {fault.worn_factor}", f"at_strokes = {fault.worn_strokes:.0f}"]
                lines.append('shape = "1 + (times - 1) * (strokes / at_strokes)^2"')
            if fault.head_m:
                lines += ['factor = "coil_position"', 'level = "head"', f"times = {fault.head_factor}"]
                lines.append(f"up_to_m = {fault.head_m}")
            lines.append("")
    return "\n".join(lines)


def write(folder: Path, fortnight: Fortnight, seen: dict[str, PlayedPress], repacks: pd.DataFrame) -> None:
    """Write all of the truth."""
    folder.mkdir(parents=True, exist_ok=True)
    frames = {
        "shifts": truth.shifts([one.truth for one in seen.values()]),
        "hours": hours(seen),
        "stops": stops(seen),
        "coils": coils(fortnight, seen),
        "trace": with_box_of_boxes(trace(fortnight, seen), repacks),
        "service": service(fortnight, seen),
    }
    for name, frame in frames.items():
        files.write_csv(folder / f"{name}.csv", frame)
    (folder / "planted.toml").write_text(planted(), encoding="utf-8")


def _text(seconds: pd.Series) -> list[str]:
    known = seconds.notna().to_numpy()
    text = np.full(len(seconds), "", dtype=object)
    text[known] = files.time_text(seconds[known].to_numpy(np.int64), ZONE, files.OFFSET)
    return [str(one) for one in text]
