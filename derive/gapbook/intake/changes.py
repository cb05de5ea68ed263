"""What a contribution changes in what follows from the catalogue: the openness of beds, and verdicts between frames."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.science.comparison import VERDICTS, Verdict, shared_effects, verdict
from gapbook.science.grouping import FloatArray, IntArray
from gapbook.science.zones import ZONES

PAIRS = 20_000_000
"""Pairs of frames that are compared at most. If there are more, only pairs with a frame whose beds the contribution measures
are."""
NAMED = 5
"""How many changed verdicts are named for each frame."""


class Value(NamedTuple):
    """An openness and its standard uncertainty."""

    openness: float
    u: float

    def to_json(self) -> dict[str, float]:
        """The value with the keys that programs rely on."""
        return {"openness": self.openness, "u_openness": self.u}


@dataclass(frozen=True)
class ZoneChange:
    """A bed's openness in one zone before and after; None if the zone had none, or has none any more."""

    zone: str
    before: Value | None
    after: Value | None

    @property
    def percent(self) -> float | None:
        """By how many percent the openness rises; None if either is not known."""
        if self.before is None or self.after is None:
            return None
        return 100.0 * (self.after.openness / self.before.openness - 1.0)

    def to_json(self) -> dict[str, Any]:
        """The change with the keys that programs rely on."""
        return {
            "zone": self.zone,
            "before": self.before and self.before.to_json(),
            "after": self.after and self.after.to_json(),
            "difference_percent": self.percent,
        }


@dataclass(frozen=True)
class BedChange:
    """A bed whose openness changes.

    specimen_id, frame_id: which bed it is, and of which frame
    new: whether it was not measured before
    zones: the zones in which it changes
    """

    specimen_id: str
    frame_id: str
    new: bool
    zones: tuple[ZoneChange, ...]

    @property
    def size(self) -> float:
        """The largest change in percent, without its sign; infinite if a zone is new or gone."""
        return max((abs(zone.percent) if zone.percent is not None else np.inf for zone in self.zones), default=0.0)

    def to_json(self) -> dict[str, Any]:
        """The change with the keys that programs rely on."""
        zones = [zone.to_json() for zone in self.zones]
        return {"specimen_id": self.specimen_id, "frame_id": self.frame_id, "new": self.new, "zones": zones}


class VerdictChange(NamedTuple):
    """How the verdict on a frame against another, `frame_id`, changes."""

    frame_id: str
    before: Verdict
    after: Verdict


@dataclass(frozen=True)
class FrameChange:
    """A frame, how many of its verdicts change, and the first few of these, NAMED at most."""

    frame_id: str
    changed: int
    against: tuple[VerdictChange, ...]

    def to_json(self) -> dict[str, Any]:
        """The change with the keys that programs rely on."""
        return {"frame_id": self.frame_id, "changed": self.changed, "against": [one._asdict() for one in self.against]}


@dataclass(frozen=True)
class Verdicts:
    """Verdicts on the openness of the centre.

    confidence: the probability that a verdict needs
    pairs: how many pairs of frames were compared
    changed: of how many of them the verdict changes
    frames: the changes by frame, most first
    """

    confidence: float
    pairs: int
    changed: int
    frames: tuple[FrameChange, ...]

    def to_json(self) -> dict[str, Any]:
        """The verdicts with the keys that programs rely on."""
        frames = [frame.to_json() for frame in self.frames]
        return {"confidence": self.confidence, "pairs": self.pairs, "changed": self.changed, "frames": frames}


@dataclass(frozen=True)
class Change:
    """What follows from a contribution.

    beds: the beds whose openness changes
    uncertainty_only: how many beds change in their uncertainty alone
    new_frames: frames that had no scores before
    verdicts: how verdicts between frames change
    """

    beds: tuple[BedChange, ...]
    uncertainty_only: int
    new_frames: tuple[str, ...]
    verdicts: Verdicts

    def to_json(self) -> dict[str, Any]:
        """The change with the keys that programs rely on."""
        return {
            "beds": [bed.to_json() for bed in self.beds],
            "uncertainty_only": self.uncertainty_only,
            "new_frames": list(self.new_frames),
            "verdicts": self.verdicts.to_json(),
        }


def change(before: Mapping[str, pa.Table], after: Mapping[str, pa.Table], touched: Iterable[str], confidence: float) -> Change:
    """Compare the derived tables `beds` and `scores` before and after a contribution.

    before: by name the tables before
    after: by name the tables after
    touched: the specimens that the contribution measures
    confidence: the probability that a verdict needs
    """
    beds, uncertainty_only = _bed_changes(before["beds"], after["beds"])
    known = set(before["scores"]["frame_id"].to_pylist())
    new = tuple(name for name in after["scores"]["frame_id"].to_pylist() if name not in known)
    specimens = set(touched)
    own = {row["frame_id"] for row in after["beds"].select(["specimen_id", "frame_id"]).to_pylist()
           if row["specimen_id"] in specimens}  # fmt: skip
    return Change(tuple(beds), uncertainty_only, new, _verdicts(before["scores"], after["scores"], own, confidence))


def _bed_changes(before: pa.Table, after: pa.Table) -> tuple[list[BedChange], int]:
    """The beds whose openness changes, and how many change in their uncertainty alone. New beds come first, then the largest
    changes.
    """
    wanted = ["specimen_id", "frame_id", *(f"{u}openness_{zone}" for zone in ZONES for u in ("", "u_"))]
    old = {row["specimen_id"]: row for row in before.select(wanted).to_pylist()}
    changed: list[BedChange] = []
    uncertainty_only = 0
    for row in after.select(wanted).to_pylist():
        was = old.get(row["specimen_id"])
        if row == was:
            continue
        zones = tuple(one for zone in ZONES if (one := _zone_change(zone, was or {}, row)) is not None)
        if zones:
            changed.append(BedChange(row["specimen_id"], row["frame_id"], was is None, zones))
        elif was is not None:
            uncertainty_only += 1
    return sorted(changed, key=lambda bed: (not bed.new, -bed.size, bed.specimen_id)), uncertainty_only


def _zone_change(zone: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> ZoneChange | None:
    name = f"openness_{zone}"
    if before.get(name) == after[name]:
        return None
    return ZoneChange(zone, _value(before, name), _value(after, name))


def _value(row: Mapping[str, Any], name: str) -> Value | None:
    return None if row.get(name) is None else Value(row[name], row["u_" + name])


class _Frames(NamedTuple):
    """Frames with an openness in the centre, before and after.

    ids: of the frames
    log: logarithm of the openness [F]
    u: standard uncertainty of that [F]
    shared: how one standard uncertainty of each cause that frames share changes it [F, causes]
    """

    ids: list[str]
    log: tuple[FloatArray, FloatArray]
    u: tuple[FloatArray, FloatArray]
    shared: tuple[FloatArray, FloatArray]

    def verdicts(self, rows: IntArray, when: int, confidence: float) -> IntArray:
        """The number of the verdict on each of `rows` against every frame [rows, F]; `when` is 0 for before, 1 for after."""
        log, u, shared = self.log[when], self.u[when], self.shared[when]
        variance = u[rows, None] ** 2 + u[None, :] ** 2 - 2.0 * shared[rows] @ shared.T
        return verdict(log[rows, None] - log[None, :], np.sqrt(np.maximum(variance, 0.0)), confidence)


def _frames(before: pa.Table, after: pa.Table) -> _Frames:
    old, new = (_by_frame(table) for table in (before, after))
    ids = [name for name, (value, *_) in new.items() if value is not None and old.get(name, (None,))[0] is not None]
    both = [np.array([table[name][:2] for name in ids], dtype=float).reshape(-1, 2) for table in (old, new)]
    logs, us = zip(*((np.log(pair[:, 0]), pair[:, 1] / pair[:, 0]) for pair in both), strict=True)
    then, now = (_effects([shared_effects(table[name][2], "centre") for name in ids]) for table in (old, new))
    return _Frames(ids, logs, us, (then, now))


def _by_frame(scores: pa.Table) -> dict[str, tuple[float | None, float | None, str | None]]:
    """Openness in the centre, its uncertainty and what it shares, by frame; a table derived without the last shares nothing."""
    shared = scores["shared"].to_pylist() if "shared" in scores.column_names else [None] * scores.num_rows
    columns = (scores[name].to_pylist() for name in ("frame_id", "openness_centre", "u_openness_centre"))
    return {name: (value, u, text) for name, value, u, text in zip(*columns, shared, strict=True)}


def _effects(each: list[dict[str, float]]) -> FloatArray:
    """Effects by cause of each frame, as a table [F, causes]."""
    causes = {cause: place for place, cause in enumerate(sorted({cause for one in each for cause in one}))}
    table = np.zeros((len(each), len(causes)))
    for row, one in enumerate(each):
        for cause, effect in one.items():
            table[row, causes[cause]] = effect
    return table


def _verdicts(before: pa.Table, after: pa.Table, touched: set[str], confidence: float) -> Verdicts:
    """Which verdicts change. Only pairs with a frame whose figures changed are compared, because no other can; 256 frames at a
    time, so that the arrays stay small.
    """
    frames = _frames(before, after)
    number = len(frames.ids)
    moved = np.flatnonzero((frames.log[0] != frames.log[1]) | (frames.u[0] != frames.u[1]))
    if len(moved) * number > PAIRS:
        moved = np.array([row for row in moved.tolist() if frames.ids[row] in touched], dtype=np.int64)
    place = np.full(number, number)
    place[moved] = np.arange(len(moved))
    pairs = changed = 0
    counts = np.zeros(number, dtype=np.int64)
    named: dict[int, list[VerdictChange]] = {}
    for start in range(0, len(moved), 256):
        rows = moved[start : start + 256]
        then, now = (frames.verdicts(rows, when, confidence) for when in (0, 1))
        differs = then != now
        once = place[None, :] > place[rows][:, None]  # a pair of two frames that both changed comes up twice
        pairs += int(once.sum())
        changed += int((differs & once).sum())
        counts[rows] += differs.sum(axis=1)
        counts += (differs & (place == number)[None, :]).sum(axis=0)
        for line, other in np.argwhere(differs).tolist():
            _name(named, frames, int(rows[line]), other, int(then[line, other]), int(now[line, other]))
            if place[other] == number:
                _name(named, frames, other, int(rows[line]), -int(then[line, other]), -int(now[line, other]))
    order = sorted(np.flatnonzero(counts).tolist(), key=lambda row: (-counts[row], frames.ids[row]))
    listed = tuple(FrameChange(frames.ids[row], int(counts[row]), tuple(named[row])) for row in order)
    return Verdicts(confidence, pairs, changed, listed)


def _name(named: dict[int, list[VerdictChange]], frames: _Frames, row: int, other: int, then: int, now: int) -> None:
    those = named.setdefault(row, [])
    if len(those) < NAMED:
        those.append(VerdictChange(frames.ids[other], VERDICTS[then], VERDICTS[now]))
