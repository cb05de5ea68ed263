"""The pull tension that gives one bed the centre stiffness of another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from gapbook.errors import fail
from gapbook.questions.subjects import Subject, score_columns, subject
from gapbook.questions.traits import amount
from gapbook.science.comparison import Figure
from gapbook.science.tension import BEYOND_SENSE_N, PULL_N, Pull, matching, within
from gapbook.tables.store import Store

CENTRE = "stiffness_centre_n_per_mm"
Outside = Literal["asked", "stiffer", "softer"]
"""Why no tension is given. Outside the range that the model covers lies the pull asked about ("asked"), or the pull that it
takes because the other bed is stiffer or softer."""


@dataclass(frozen=True)
class Retension:
    """What it takes to give one bed the centre stiffness of another.

    source: the bed with the stiffness.
    target: the bed that is to have it.
    at: the pull of `source`.
    tension: the pull of the target's mains [N], with its crosses at the ratio of `at`; None if `outside` says why.
    stiffness: the stiffness of source and target at `at` [N/mm]; None if `at` itself lies outside.
    outside: why no tension is given; None if one is.
    """

    source: str
    target: str
    at: Pull
    tension: Figure | None
    stiffness: tuple[Figure, Figure] | None
    outside: Outside | None

    @property
    def difference_percent(self) -> Figure | None:
        """How much stiffer the target is than the source at the same pull [%]; None if that is not known."""
        if self.stiffness is None:
            return None
        source, target = self.stiffness
        ratio = target.value / source.value
        same = self.tension is not None and self.tension.u == 0.0
        relative = 0.0 if same else math.hypot(source.u / source.value, target.u / target.value)
        return Figure(100.0 * (ratio - 1.0), 100.0 * ratio * relative)

    def document(self) -> dict[str, Any]:
        """The JSON document; a value is None if there is no figure."""
        source, target = self.stiffness or (None, None)
        return {
            "from": self.source,
            "to": self.target,
            "at_n": self.at.mains,
            "tension_n": self.tension.value if self.tension else None,
            "u_tension_n": self.tension.u if self.tension else None,
            "stiffness_from_n_per_mm": source.value if source else None,
            "stiffness_to_n_per_mm": target.value if target else None,
            "crosses_at_n": self.at.crosses,
            "crosses_tension_n": self.tension.value * self.at.ratio if self.tension else None,
            "outside": self.outside,
        }


def pull_of(at: str, crosses: str | None) -> Pull:
    """Pull tensions as typed: one for both families, or one each for mains and crosses. GapbookError for no tension."""
    mains = tension_of(at, "the tension", "24kg")
    other = mains if crosses is None else tension_of(crosses, "the tension of the crosses", "23kg")
    return Pull(mains, other / mains)


def tension_of(text: str, what: str, example: str) -> float:
    """A pull tension as typed, in N. `what` names it in errors. GapbookError if it is no tension, or beyond all use."""
    newtons = amount(text, "N", what, example)
    if not 0.0 < newtons <= BEYOND_SENSE_N:
        expected = f"more than 0 N and at most {BEYOND_SENSE_N:.0f} N, e.g. {example}"
        raise fail("bad-amount", "no bed is strung at this tension", found=repr(text), expected=expected)
    return newtons


def identity(kind: str, name: str) -> tuple[str, str]:
    """A key that is equal for two names of one bed: a folder has the same key by any path."""
    return kind, str(Path(name).resolve()) if kind == "folder" else name


def retension(store: Store, source: str, target: str, at: Pull) -> Retension:
    """The pull tension that gives one bed the centre stiffness of another. GapbookError if one is unknown or not measured.

    store: the derived tables.
    source: the bed with the stiffness: a frame, specimen or contribution folder.
    target: the bed that is to have it, likewise.
    at: the pull of `source`.
    """
    subjects = [subject(store, name, score_columns("centre")) for name in (source, target)]
    for one in subjects:
        if one.basis == "counted":
            message = f"nobody measured a bed of {one.name}, and its stiffness does not follow from counts"
            raise fail("not-measured", message, fix="Name a measured frame, or the folder of your own readings")
    if not within(at):
        return Retension(source, target, at, None, None, "asked")
    first, second = (_stiffness(store, one, at) for one in subjects)
    same = len({identity(one.kind, one.name) for one in subjects}) == 1 and subjects[0].kind != "frame"
    tension = matching(at, first, second, same)
    if within(at._replace(mains=tension.value)):
        return Retension(source, target, at, tension, (first, second), None)
    return Retension(source, target, at, None, (first, second), "stiffer" if second.value > first.value else "softer")


def _stiffness(store: Store, one: Subject, at: Pull) -> Figure:
    """The bed's centre stiffness at a pull [N/mm]."""
    figure = _of_frame(store, one.name, at) if one.kind == "frame" else stiffness_of_copy(store, one, (at.mains, at.crosses))
    if figure is None:
        raise fail("zone-blank", f"the stiffness of {one.name} in the centre is not known", fix="Read the centre of its bed")
    return figure


def stiffness_of_copy(store: Store, one: Subject, pulls: tuple[float, float]) -> Figure | None:
    """Centre stiffness of a copy [N/mm] at these pull tensions of mains and crosses [N]. The net of its own readings is solved
    anew. None if no crossing lies under the load.
    """
    from gapbook.tables.contribution import joined, only_one
    from gapbook.tables.copies import copies_of  # late: numpy and pyarrow, which advice on frames does not need

    if one.kind == "specimen":
        struck = copies_of(store.package, [one.name]).centre(pulls)[0]
    else:
        with joined(store.package, Path(one.name)) as (package, own):
            struck = copies_of(package, [only_one(Path(one.name), own)]).centre(pulls)[0]
    return Figure(*struck) if math.isfinite(struck.stiffness) else None


def _of_frame(store: Store, frame_id: str, at: Pull) -> Figure | None:
    """From mechanics.csv, linear in the tension. The effect of a ratio of crosses to mains is computed from the copies."""
    if "mechanics" not in store.package.resources:
        raise fail(
            "no-table",
            "this package has no table of stiffness",
            fix="Describe mechanics in its datapackage.json and run gapbook derive, or name specimens",
        )
    table = store.load("mechanics")
    rows = store.rows(f"SELECT {CENTRE}, u_{CENTRE} FROM {table} WHERE frame_id = ?", [frame_id])
    if not rows:
        raise fail("not-derived", f"no stiffness has been derived yet of {frame_id}", fix="Run gapbook derive")
    if rows[0][0] is None:
        return None
    scale = at.mains / PULL_N * (1.0 if at.ratio == 1.0 else _effect_of_ratio(store, frame_id, at.ratio))
    return Figure(rows[0][0] * scale, rows[0][1] * scale)


def _effect_of_ratio(store: Store, frame_id: str, ratio: float) -> float:
    """Stiffness with crosses at `ratio` times the mains' tension, over that at equal tensions; geometric mean of copies."""
    from gapbook.tables.copies import copies_of  # late: see stiffness_of_copy

    beds = store.load("beds", ["specimen_id", "frame_id"])
    specimens = [row[0] for row in store.rows(f"SELECT specimen_id FROM {beds} WHERE frame_id = ? ORDER BY 1", [frame_id])]
    copies = copies_of(store.package, specimens, pooled=False)
    pairs = zip(copies.centre((PULL_N, PULL_N * ratio)), copies.centre((PULL_N, PULL_N)), strict=True)
    logs = [math.log(one.stiffness / equal.stiffness) for one, equal in pairs if math.isfinite(one.stiffness)]
    return math.exp(math.fsum(logs) / len(logs))
