"""The frames nearest to a bed that a player knows, in all zones and in handling at once: how probable it is that each is within
what the player names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.questions import chances
from gapbook.questions.advice import changes
from gapbook.questions.advice_facts import Facts, Player, advised, stiffness_of, stiffness_of_frames
from gapbook.questions.answer import PackageName
from gapbook.questions.chances import Found
from gapbook.questions.comparing import Bed, handling_of, with_handling
from gapbook.questions.neighbours import BED_ZONES, Known, Near, Neighbours, TargetPull, zones_known
from gapbook.questions.retensioning import retension
from gapbook.questions.subjects import IDENTITY, Subject, of_row, subject
from gapbook.questions.tolerances import Tolerance
from gapbook.science.comparison import CONFIDENCE, Figure
from gapbook.science.outline import U_DECLARED_AREA
from gapbook.science.tension import PULL_N, Pull
from gapbook.tables.store import Store

LISTED = 5
"""So many frames are told of each list if no other number is asked for."""
MOST_PULLS = 10
"""Pulls are given for so many frames at most, because each has to be solved."""
U_LENGTH_MM = 1.0
"""Standard uncertainty of a declared length [mm]. Common practice, no source."""
SHARED = (
    "The zones of a bed share a part of their error: any two are taken to be correlated as centre and sides are by the "
    "uncertainty of its side opening. What instruments and people did to both beds cancels, as in compare; the figures of "
    "handling are taken as independent."
)
"""What is assumed where probabilities are joined."""

_FRAME = ("maker", "model", "length_mm")
_HANDLING = ("mass_g", "balance_mm", "balance_points", "swingweight_kgcm2")


class _Frames(NamedTuple):
    """All frames of a package.

    subjects: with their scores.
    rows: the rows of frames.csv by id: maker, model and length.
    handling: the rows of handling.csv by id.
    stiffness: centre stiffness by id [N/mm].
    """

    subjects: list[Subject]
    rows: dict[str, dict[str, Any]]
    handling: dict[str, dict[str, Any]]
    stiffness: dict[str, Figure]


def _columns() -> list[str]:
    names = [*(f"openness_{zone}" for zone in BED_ZONES), "side_opening"]
    return [*(column for name in names for column in (name, "u_" + name)), "shared"]


def near(
    store: Store,
    name: str,
    within: Sequence[Tolerance],
    at_n: float = PULL_N,
    limit: int = LISTED,
    confidence: float = CONFIDENCE,
    pulls: int = MOST_PULLS,
) -> Neighbours:
    """The frames nearest to a bed. GapbookError for an unknown bed, or if none of the tolerances can be judged of it.

    store: the derived tables.
    name: a frame, specimen, folder or pattern.
    within: the tolerances that count.
    at_n: the pull of the bed [N].
    limit: how many frames are told of each list.
    confidence: how sure a verdict must be that the line on changes rests on.
    pulls: for how many frames the pull is solved.
    """
    frames = _frames(store)
    known = subject(store, name, _columns())
    bed = with_handling(store, known, frames.handling.get(known.frame_id))
    length = frames.rows.get(known.frame_id, {}).get("length_mm")
    figures = _figures(bed, bed.handling or {}, length, _u_area(bed))
    judged = [one for one in within if _is_known(one, figures)]
    if not judged:
        raise fail("nothing-known", f"nothing of what was asked is known of {bed.name}", fix="Measure it, or name a frame")
    common = chances.common([one.scores.get("shared") for one in frames.subjects], known.scores.get("shared"))
    found = chances.judged([_of_frame(frames, one) for one in frames.subjects], figures, judged, common)
    own = bed.frame_id if bed.kind == "frame" else None
    order = sorted(range(len(found)), key=lambda place: (-found[place].probability, frames.subjects[place].frame_id))
    others = [place for place in order if frames.subjects[place].frame_id != own]
    whole = [place for place in others if not found[place].unknown]
    partly = [place for place in others if found[place].unknown and found[place].parts]
    tell = _Teller(store, frames, bed, stiffness_of(store, bed, frames.stiffness), at_n, confidence)
    itself = next((place for place in order if frames.subjects[place].frame_id == bed.frame_id), None)
    return Neighbours(
        reference=_known(bed, figures),
        within=judged,
        left_out=_left_out(within, judged, figures),
        at_n=at_n,
        searched=len(others),
        itself=None if itself is None else tell.near(itself, found[itself]),
        matches=[tell.near(place, found[place], number < pulls) for number, place in enumerate(whole[:limit])],
        partly_known=[tell.near(place, found[place]) for place in partly[:limit]],
        counts={"matches": len(whole), "partly_known": len(partly)},
        package=PackageName(name=store.package.name, version=store.package.version),
    )


def _frames(store: Store) -> _Frames:
    columns = _columns()
    wanted = [*IDENTITY, *columns]
    rows = store.rows(f"SELECT {', '.join(wanted)} FROM {store.load('scores', wanted)} ORDER BY frame_id")
    subjects = [of_row(row, columns) for row in rows]
    table = store.load("frames", ["frame_id", *_FRAME])
    declared = {
        row[0]: dict(zip(_FRAME, row[1:], strict=True))
        for row in store.rows(f"SELECT frame_id, {', '.join(_FRAME)} FROM {table}")
    }
    handling = handling_of(store, None)
    return _Frames(subjects, declared, handling, stiffness_of_frames(store))


def _of_frame(frames: _Frames, one: Subject) -> dict[str, float | None]:
    length = frames.rows.get(one.frame_id, {}).get("length_mm")
    return _figures(one, frames.handling.get(one.frame_id, {}), length, U_DECLARED_AREA)


def _u_area(bed: Subject) -> float:
    """The relative standard uncertainty of a head area: that of a declared one, or the spread of those it is assumed from."""
    return U_DECLARED_AREA if bed.assumed_head is None else bed.assumed_head.spread_percent / 100.0


def _figures(bed: Subject, handling: Mapping[str, Any], length: float | None, u_area: float) -> dict[str, float | None]:
    """Everything of a bed that can be near, by column, and the u_ of each."""
    found: dict[str, float | None] = {name: value for name, value in bed.scores.items() if name != "shared"}
    for column in _HANDLING:
        found[column], found["u_" + column] = handling.get(column), handling.get("u_" + column)
    found["length_mm"], found["u_length_mm"] = length, None if length is None else U_LENGTH_MM
    found["head_area_cm2"], found["u_head_area_cm2"] = bed.head_area_cm2, bed.head_area_cm2 * u_area
    return found


def _known(bed: Bed, figures: dict[str, float | None]) -> Known:
    names = ("name", "frame_id", "kind", "basis", "mains", "crosses", "head_area_cm2", "assumed_head")
    shared = {name: getattr(bed, name) for name in names}
    return Known(**shared, figures=figures, handling_own=list(bed.handling_own))


def _is_known(one: Tolerance, figures: Mapping[str, float | None]) -> bool:
    return bool(zones_known(figures)) if one.name == "bed" else figures.get(one.column) is not None


def _left_out(within: Sequence[Tolerance], judged: Sequence[Tolerance], figures: Mapping[str, float | None]) -> list[str]:
    """The measures, and if the bed is judged the zones, that are asked for and not known of the bed."""
    known = zones_known(figures)
    zones = [zone for zone in BED_ZONES if zone not in known] if any(one.name == "bed" for one in judged) else []
    return [*zones, *(one.name for one in within if one not in judged)]


class _Teller(NamedTuple):
    """Tells of single frames what is not a probability.

    store: the derived tables.
    frames: all frames.
    bed: the bed they are held against.
    stiffness: its stiffness in the centre [N/mm]; None if it is not known.
    at_n: its pull [N].
    confidence: how sure a verdict must be.
    """

    store: Store
    frames: _Frames
    bed: Subject
    stiffness: Figure | None
    at_n: float
    confidence: float

    def near(self, place: int, found: Found, pulled: bool = False) -> Near:
        """One frame beside the bed, with its pull if `pulled`."""
        one = self.frames.subjects[place]
        row = self.frames.rows.get(one.frame_id, {})
        stiffness = self.frames.stiffness.get(one.frame_id)
        same = self.bed.kind == "frame" and self.bed.frame_id == one.frame_id
        changes = {} if same else self._changes(one, stiffness)
        return Near(
            frame_id=one.frame_id,
            maker=row.get("maker") or "",
            model=row.get("model") or "",
            basis=one.basis,
            mains=one.mains,
            crosses=one.crosses,
            head_area_cm2=one.head_area_cm2,
            probability=found.probability,
            probability_bed=found.probability_bed,
            parts=found.parts,
            unknown=found.unknown,
            pull=self._pull(one.frame_id) if pulled and self.stiffness and stiffness else None,
            changes="; ".join(dict.fromkeys(changes.values())),
            codes=list(changes),
        )

    def _pull(self, frame_id: str) -> TargetPull | None:
        try:
            found = retension(self.store, self.bed.name, frame_id, Pull(self.at_n))
        except GapbookError:  # its net cannot be solved
            return None
        tension, u = found.tension or (None, None)
        return TargetPull(tension_n=tension, u_tension_n=u, outside=found.outside)

    def _changes(self, one: Subject, stiffness: Figure | None) -> dict[str, str]:
        """What the frame may change for a player who knows the bed, by rules of advice in their short form."""
        beds = advised(one, stiffness), advised(self.bed, self.stiffness)
        return changes(Facts(*beds, None, Player(), self.confidence))
