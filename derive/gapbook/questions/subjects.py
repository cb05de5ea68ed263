"""A bed that a question can name, with its figures: a frame, a specimen, or the folder of a contribution."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal
from weakref import WeakKeyDictionary

from gapbook.errors import GapbookError, fail
from gapbook.questions.counted import EXAMPLE, AssumedHead, counted_bed, counts_of, own_bed
from gapbook.questions.names import pieces
from gapbook.questions.question import reference_text
from gapbook.questions.traits import ZONES
from gapbook.science.comparison import Build, Figure, SharedFigure, build_from_even, shared_effects
from gapbook.tables.store import Store

if TYPE_CHECKING:
    from gapbook.tables.contribution import OwnCopy

OFFERED = 3
"""At most so many nearest ids are named if one is unknown."""
BUILD_SCORES = ("openness_even", "drilling_main", "drilling_cross", "openness_centre")


@dataclass(frozen=True)
class Subject:
    """One bed to compare.

    name: the name it was asked for by.
    frame_id: the frame it is or is a copy of.
    kind: frame, specimen, folder, or a pattern that is named by its counts alone.
    basis: measured or counted.
    specimens: how many copies its figures rest on.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its declared head area [cm²].
    scores: its scores and their uncertainties (u_...) by column, what it shares, and what else was asked for; None if blank.
    assumed_head: how its head area was assumed; None if it was declared or named.
    """

    name: str
    frame_id: str
    kind: Literal["frame", "specimen", "folder", "pattern"]
    basis: str
    specimens: int
    mains: int
    crosses: int
    head_area_cm2: float
    scores: Mapping[str, Any]
    assumed_head: AssumedHead | None = None

    def figure(self, score: str) -> Figure | None:
        """A score with its standard uncertainty, or None if it is blank."""
        value, u = self.scores.get(score), self.scores.get("u_" + score)
        return None if value is None or u is None else Figure(value, u)

    def openness(self, zone: str) -> SharedFigure | None:
        """Openness in a zone (`even`: of even drilling) with what other beds may share, or None if it is not known."""
        known = self.figure(f"openness_{zone}")
        return known and SharedFigure.of(known, shared_effects(self.scores.get("shared"), zone))

    @cached_property
    def _builds(self) -> dict[str, Build | None]:
        return {}

    def build(self, zone: str) -> Build | None:
        """What the openness in `zone` is made of: head size, counts, drilling; None if that is not known."""
        if zone not in self._builds:
            self._builds[zone] = self._build(zone)
        return self._builds[zone]

    def _build(self, zone: str) -> Build | None:
        even = self.figure("openness_even")
        if even is None:
            return None
        if zone == "even":
            return build_from_even(even, self.mains, self.crosses, (None, None), None)
        ratio = None
        there, centre = self.openness(zone), self.openness("centre")
        if zone != "centre" and there is not None and centre is not None:
            ratio = self._over_centre(zone, there, centre)
        drilling = (self.figure("drilling_main"), self.figure("drilling_cross"))
        return build_from_even(even, self.mains, self.crosses, drilling, ratio)

    def _over_centre(self, zone: str, there: Figure, centre: Figure) -> Figure:
        """Openness in a zone over that in the centre; for the sides, with the uncertainty of side opening."""
        opening = self.figure("side_opening") if zone == "sides" else None
        relative = (there.u / there.value) ** 2 + (centre.u / centre.value) ** 2
        return Figure(there.value / centre.value, opening.u if opening else there.value / centre.value * relative**0.5)


def score_columns(zone: str) -> list[str]:
    """The score columns that comparing in `zone` needs."""
    names = [f"openness_{zone}", *BUILD_SCORES, *(["side_opening"] if zone == "sides" else [])]
    return [*dict.fromkeys(column for name in names for column in (name, "u_" + name)), "shared"]


IDENTITY = ("frame_id", "basis", "specimens", "mains", "crosses", "head_area_cm2")


def all_score_columns() -> list[str]:
    """The score columns that comparing in any zone needs."""
    return list(dict.fromkeys(column for zone in ZONES for column in score_columns(zone)))


def subject(store: Store, name: str, columns: list[str]) -> Subject:
    """The frame, specimen, contribution folder or pattern called `name`, with these score columns.

    GapbookError, with the nearest ids, if there is none.
    """
    if is_path(name) and (Path(name).is_dir() or counts_of(store, name) is None):
        return _folder(store, name, columns)
    for spelling in spellings(name):
        known = _frame(store, spelling, columns) or _specimen(store, spelling, columns)
        if known is not None:
            return known
    if Path(name).is_dir():
        return _folder(store, name, columns)
    return _pattern(store, name, columns)


def is_path(name: str) -> bool:
    """Whether `name` is written as a path, such as ./mine."""
    return any(sign in name for sign in "/\\") or name in (".", "..")


def spellings(name: str) -> list[str]:
    """`name` as it was typed, as a question reads it (ids in lower case), and as an id is written: `Fern 98` as fern-98."""
    joined = [] if is_path(name) else ["-".join(piece.text for piece in pieces(name))]
    return list(dict.fromkeys((name, reference_text(name.strip()), *joined)))


def unknown(store: Store, name: str) -> GapbookError:
    """The error for an id that does not exist, with the nearest ones."""
    ids = [row[0] for row in store.rows(f"SELECT frame_id FROM {store.load('scores', ['frame_id'])}")]
    specimens = [row[0] for row in store.rows(f"SELECT specimen_id FROM {store.load('specimens', ['specimen_id'])}")]
    near = difflib.get_close_matches(name.lower(), ids, OFFERED, 0.5)
    near = near or difflib.get_close_matches(name.lower(), specimens, OFFERED, 0.5)
    if any(spelling in specimens for spelling in spellings(name)):
        return fail("not-measured", f"no bed was measured of the specimen {name}", fix="Name its frame instead")
    fix = "Nearest: " + ", ".join(near) if near else f"See gapbook find for every frame; a pattern is written {EXAMPLE}"
    return fail("unknown-frame", "no frame, specimen or folder of this name", found=name, fix=fix)


def _frame(store: Store, name: str, columns: list[str]) -> Subject | None:
    wanted = [*IDENTITY, *columns]
    table = store.load("scores", wanted)
    rows = store.rows(f"SELECT {', '.join(wanted)} FROM {table} WHERE frame_id = ?", [name])
    return of_row(rows[0], columns) if rows else None


def of_row(row: tuple[object, ...], columns: list[str]) -> Subject:
    """A frame from a row of IDENTITY and `columns`."""
    frame_id, basis, specimens, mains, crosses, area, *values = row
    return Subject(
        name=str(frame_id),
        frame_id=str(frame_id),
        kind="frame",
        basis=str(basis),
        specimens=int(specimens),  # type: ignore[call-overload]
        mains=int(mains),  # type: ignore[call-overload]
        crosses=int(crosses),  # type: ignore[call-overload]
        head_area_cm2=float(area),  # type: ignore[arg-type]
        scores=dict(zip(columns, values, strict=True)),
    )


def _specimen(store: Store, name: str, columns: list[str]) -> Subject | None:
    beds = store.load("beds", ["specimen_id", "frame_id", *columns])
    frames = store.load("scores", ["frame_id", "mains", "crosses", "head_area_cm2"])
    picked = ", ".join(f"b.{column}" for column in columns)
    rows = store.rows(
        f"SELECT frame_id, f.mains, f.crosses, f.head_area_cm2, {picked} "
        f"FROM {beds} b JOIN {frames} f USING (frame_id) WHERE specimen_id = ?",
        [name],
    )
    if not rows:
        return None
    frame_id, mains, crosses, area, *values = rows[0]
    return Subject(name, frame_id, "specimen", "measured", 1, mains, crosses, area, dict(zip(columns, values, strict=True)))


_OWN: WeakKeyDictionary[Store, dict[tuple[object, ...], OwnCopy]] = WeakKeyDictionary()


def _own_copy(store: Store, folder: Path) -> OwnCopy:
    """The bed in a contribution folder; it is scored again only if one of its files has changed."""
    from gapbook.tables.contribution import own_copy, tables_in  # late: only a folder needs it

    states = [path.stat() for path in tables_in(folder).values()]
    key = (folder.resolve(), *((state.st_mtime_ns, state.st_size, state.st_ino) for state in states))
    known = _OWN.setdefault(store, {})
    if key not in known:
        known[key] = own_copy(store.package, folder)
    return known[key]


def _folder(store: Store, name: str, columns: list[str]) -> Subject:
    copy = _own_copy(store, Path(name))
    bed = own_bed(store, copy)
    values = {column: bed.scores.get(column) for column in columns}
    measured = 1 if copy.basis == "measured" else 0
    counts = copy.mains, copy.crosses
    return Subject(name, copy.frame_id, "folder", copy.basis, measured, *counts, bed.area, values, bed.assumed)


def _pattern(store: Store, name: str, columns: list[str]) -> Subject:
    counts = counts_of(store, name)
    if counts is None:
        raise unknown(store, name)
    bed = counted_bed(store, counts)
    values = {column: bed.scores.get(column) for column in columns}
    return Subject(
        counts.name, counts.name, "pattern", "counted", 0, counts.mains, counts.crosses, bed.area, values, bed.assumed
    )
