"""Reads the rows and facts that containers, their pieces, mountings and reels are traced by."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

import pandas as pd

from monitor.figures.genealogy.doubts import Doubts
from monitor.figures.genealogy.press_spans import Span, facts_in, joined_spans
from monitor.figures.genealogy.stretches import stretches
from monitor.figures.strip import mounting_rows as strips
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.reckoning.pieces.containers import SORTED_OUT, Box, Repack
from monitor.reckoning.pieces.genealogy import DEEPEST, Mounting, Reel
from monitor.reckoning.pieces.stretches import MadeStretch, last_out
from shared.durations import DAY_US, HOUR_US

#: How long a container stands open at most, where nobody noted that it was closed [us]; common practice, no source.
STANDS_OPEN_US = 14 * DAY_US


class GenealogyReader:
    """Looks up rows and facts of one version of the ledger; remembers the coils it came by."""

    def __init__(self, snapshot: Snapshot, book: Book, sure: bool) -> None:
        self.snapshot = snapshot
        self.book = book
        self.coils: dict[str, Record] = {}
        self._doubt = Doubts(snapshot).strokes if sure else _none
        self._apart: set[str] = set()

    def sorted_out(self, containers: Collection[str], repacks: Iterable[Repack]) -> list[Repack]:
        """Return the pieces that inspections of containers found bad, or that were spent by them.

        Where pieces had been packed into the container, or over from it, they left that one, whatever pieces of the
        press they are booked to: from then on these inspections are left out of what `made` calls good.
        """
        looks = {row["inspection_id"]: row for row in self.snapshot.lookup("inspections", "container_id", containers)}
        facts = self.snapshot.facts("rejects", where=("inspection_id", set(looks)))
        lost = facts["rejected"] + facts["reworked"] - facts["released"]
        gone = lost.groupby(facts["inspection_id"]).sum()
        since: dict[str, int] = {}
        for move in repacks:
            since[move.to_container] = 0
            first = since.setdefault(move.from_container, move.time_us)
            since[move.from_container] = min(first, move.time_us)
        found = []
        for name, count in gone.items():
            us, container = looks[name]["time"], looks[name]["container_id"]
            is_apart = container in since and us >= since[container]
            self._apart |= {str(name)} if is_apart else set()
            if count > 0:
                found.append(Repack(us, container, SORTED_OUT, int(count), is_apart))
        return found

    def boxes(self, rows: Iterable[Record]) -> list[Box]:
        """Return containers as the reckoning wants them, in the order of their names."""
        found = []
        ordered = sorted(rows, key=lambda r: str(r["container_id"]))
        packed_into = self._packed_into(row["container_id"] for row in ordered)
        for row in ordered:
            press_id, from_us, to_us = row["press_id"], row["opened_at"], row["closed_at"]
            is_open = to_us is None
            if is_open:
                to_us = self._next_opened(row)
            doubts = (self._doubt(press_id, from_us), self._doubt(press_id, to_us))
            beside = self._beside(row, to_us) if row["container_id"] in packed_into else ()
            found.append(
                Box(
                    container_id=row["container_id"],
                    part_no=row["part_no"],
                    press_id=press_id,
                    from_us=from_us,
                    to_us=to_us,
                    quantity=row["quantity"],
                    out=row["out"],
                    doubts=doubts,
                    is_open=is_open,
                    beside=beside,
                )
            )
        return found

    def _packed_into(self, names: Iterable[str]) -> set[str]:
        return {row["to_container"] for row in self.snapshot.lookup("repacks", "to_container", set(names))}

    def _next_opened(self, row: Record) -> int:
        """Return when the next container of the same press, part and out was opened: then this one was full.

        One that pieces were packed into need not have stood at the press.
        """
        press_id, from_us = row["press_id"], int(row["opened_at"])
        later = records(self.snapshot.rows("containers", press_id, from_us + 1, from_us + STANDS_OPEN_US))
        same = [r for r in later if (r["part_no"], r["out"]) == (row["part_no"], row["out"])]
        packed_into = self._packed_into(r["container_id"] for r in same)
        times = (int(r["opened_at"]) for r in same if r["container_id"] not in packed_into)
        return next(times, from_us + STANDS_OPEN_US)

    def _beside(self, row: Record, to_us: int) -> tuple[Span, ...]:
        """Return when another container, which pieces only fell into, stood at the press for the same pieces [us]."""
        press_id, from_us = row["press_id"], int(row["opened_at"])
        if from_us >= to_us:
            return ()
        rows = self.snapshot.spanning(
            "containers", press_id, end="closed_at", from_us=from_us, to_us=to_us, open_us=STANDS_OPEN_US
        )
        others = [r for r in rows if r["part_no"] == row["part_no"] and _may_take(r["out"], row["out"])]
        packed_into = self._packed_into(r["container_id"] for r in others) | {row["container_id"]}
        return tuple(
            (r["opened_at"], self._next_opened(r) if r["closed_at"] is None else r["closed_at"])
            for r in others
            if r["container_id"] not in packed_into
        )

    def made(self, spans: Mapping[str, Sequence[Span]]) -> dict[str, list[MadeStretch]]:
        """Return, by press, the stretches of pieces made in some spans [us], in order."""
        asked = {press: [(begin - HOUR_US, end) for begin, end in joined_spans(some)] for press, some in spans.items()}
        pieces, rejects = (facts_in(self.snapshot, kind, asked) for kind in ("pieces", "rejects"))
        found: dict[str, list[MadeStretch]] = {press_id: [] for press_id in spans}
        for stretch in stretches(pieces, rejects[~rejects["inspection_id"].isin(self._apart)]):
            found[stretch.press_id].append(stretch)
        return found

    def strip(
        self, mounting_ids: Iterable[str]
    ) -> tuple[dict[str, Mounting], dict[str, Reel], dict[str, list[MadeStretch]]]:
        """Return the mountings named and all they lead back to: reels, the strip on those, its mountings."""
        mountings: dict[str, Mounting] = {}
        reels: dict[str, Reel] = {}
        wound: dict[str, list[MadeStretch]] = defaultdict(list)
        names = set(mounting_ids) - {""}
        for _ in range(DEEPEST):
            if not names:
                break
            found = self._mountings(names)
            mountings |= found
            new = self.reels({m.coil_id for m in found.values()} - set(reels))
            reels |= new
            for press_id, some in self.made(_wound_in(new.values())).items():
                wound[press_id] += some
            names = {made.mounting_id for some in wound.values() for made in some} - set(mountings) - {""}
        return mountings, reels, {press_id: self._last_out(some) for press_id, some in wound.items()}

    def _last_out(self, made: Iterable[MadeStretch]) -> list[MadeStretch]:
        by_day: dict[dt.date, list[MadeStretch]] = defaultdict(list)
        for stretch in made:
            by_day[self.book.day_of(stretch.from_us)].append(stretch)
        return [kept for day in sorted(by_day) for kept in last_out(by_day[day], self._lasting(day))]

    def _lasting(self, day: dt.date) -> dict[str, list[int]]:
        """Return, by die, the outs that part off last, as the plant book has them on a day."""
        return {
            die.die_id: [out.out for out in die.outs if out.station == max(o.station for o in die.outs)]
            for die in self.book.page(day).dies.values()
            if die.outs
        }

    def reels(self, names: Collection[str]) -> dict[str, Reel]:
        """Return the reels among some names, and those they were cut from."""
        found: dict[str, Reel] = {}
        wanted = set(names)
        while wanted:
            rows = self.snapshot.lookup("reels", "reel_id", wanted)
            found |= {row["reel_id"]: self._reel(row) for row in rows}
            wanted = {reel.from_reel for reel in found.values()} - set(found) - {""} - wanted
        return found

    def _reel(self, row: Record) -> Reel:
        doubt = max(self._doubt(row["press_id"], row["started_at"]), self._doubt(row["press_id"], row["ended_at"]))
        return Reel(
            row["reel_id"],
            row["press_id"],
            from_us=row["started_at"],
            to_us=row["ended_at"],
            # A reel without an entry was not turned: the contract's default.
            rewinds=row["rewinds"] or 0,
            from_reel=row["from_reel"] or "",
            from_m=row["from_m"],
            to_m=row["to_m"],
            doubt=doubt,
        )

    def _mountings(self, names: Collection[str]) -> dict[str, Mounting]:
        mounts = self.snapshot.facts("mounts", where=("mounting_id", names))
        of_coils = self.snapshot.facts("mounts", where=("coil_id", set(mounts["coil_id"]) - {""}))
        # A day that saw a coil come and go knows its use by the mounting alone.
        chain = self.snapshot.facts("mounts", where=("mounting_id", {*of_coils["mounting_id"], *names}))
        self._remember_coils(set(chain["coil_id"]) - set(self.coils))
        table = strips.mountings(chain)
        limits = self._limits(table).to_dict()
        heads = chain[chain["mounted_us"].notna()].groupby("mounting_id")["lost_mm"].sum().to_dict()
        cuts = self._cuts(chain)
        used: dict[str, float] = defaultdict(float)
        found = {}
        for name, coil_id, press_id, mounted_us, pitch, used_mm in _rows(table):
            before = used[coil_id] + heads.get(name, 0.0)
            used[coil_id] += used_mm
            if name in names:
                doubt = 0.0 if mounted_us is None else self._doubt(press_id, mounted_us)
                doubt += 1 if doubt else 0
                found[name] = Mounting(
                    name,
                    coil_id,
                    pitch_mm=pitch,
                    before_mm=before,
                    limit=limits.get(name),
                    cuts=cuts.get(name, ()),
                    doubt=doubt,
                )
        return found

    def _remember_coils(self, names: Collection[str]) -> None:
        self.coils |= {row["coil_id"]: row for row in self.snapshot.lookup("coils", "coil_id", names)}

    def _limits(self, table: pd.DataFrame) -> pd.Series:
        book = self.book.of_coils(self.coils.values())
        return strips.run_out(strips.with_start(strips.with_material(table, book, {})))

    def _cuts(self, chain: pd.DataFrame) -> dict[str, tuple[tuple[int, float], ...]]:
        """Return, by mounting, when strip was cut away in the middle of it [us] and how much beyond the die [mm]."""
        inside = chain[chain["mounted_us"].isna() & chain["removed_us"].isna() & (chain["lost_mm"] > 0)]
        found = {}
        for name, press_id, coil_id in {
            *zip(inside["mounting_id"], inside["press_id"], inside["coil_id"], strict=True)
        }:
            lost = inside.loc[inside["mounting_id"] == name, "lost_mm"].tolist()
            rows = [r for r in self.snapshot.lookup("coil_changes", "coil_id", [coil_id]) if r["press_id"] == press_id]
            since = int(name.rsplit("@", 1)[1])
            times = sorted(r["time"] for r in rows if r["event"] == "cut" and r["lost_m"] and r["time"] > since)
            found[name] = tuple(zip(times, lost, strict=False))
        return found


def _may_take(out: int | None, other: int | None) -> bool:
    return out is None or other is None or out == other


def _none(press_id: str, us: int) -> float:
    return 0.0


def _rows(table: pd.DataFrame) -> Iterable[tuple[str, str, str, int | None, float, float]]:
    mounted = [None if pd.isna(us) else int(us) for us in table["mounted_us"]]
    pitch = table["pitch_mm"].fillna(0.0).tolist()
    names = (table[name].tolist() for name in ("mounting_id", "coil_id", "press_id"))
    return zip(*names, mounted, pitch, table["used_mm"].tolist(), strict=True)


def _wound_in(reels: Iterable[Reel]) -> dict[str, list[Span]]:
    spans: dict[str, list[Span]] = defaultdict(list)
    for reel in reels:
        if not reel.from_reel:
            spans[reel.press_id].append((reel.from_us, reel.to_us))
    return spans
