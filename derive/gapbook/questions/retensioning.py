"""The pull tension that gives one bed the centre stiffness of another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gapbook.errors import fail
from gapbook.questions.cautions import Caution, caution
from gapbook.questions.shown import Shown
from gapbook.questions.subjects import Subject, score_columns, subject
from gapbook.questions.traits import amount
from gapbook.science.comparison import COVERAGE_FACTOR, Figure
from gapbook.science.tension import BEYOND_SENSE_N, COMMON_N, PULL_N, Pull, covering, interval, matching, within
from gapbook.tables.store import Store

if TYPE_CHECKING:
    from gapbook.tables.copies import Copies

CENTRE = "stiffness_centre_n_per_mm"
Outside = Literal["asked", "stiffer", "softer"]
"""Why no tension is given. Outside the range that the models cover lies the pull asked about ("asked"), or the pull that it
takes because the other bed is stiffer or softer."""


@dataclass(frozen=True)
class Retension(Shown):
    """What it takes to give one bed the centre stiffness of another.

    source: the bed with the stiffness.
    target: the bed that is to have it.
    at: the pull of `source`.
    tension: the pull of the target's mains [N], with its crosses at the ratio of `at`; None if `outside` says why.
    models: what each model gives for it [N], the linear one first; empty if `at` itself lies outside.
    stiffness: the stiffness of source and target at `at` [N/mm]; None if `at` itself lies outside.
    outside: why no tension is given; None if one is.
    """

    source: str
    target: str
    at: Pull
    tension: Figure | None
    models: tuple[Figure, ...]
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

    @property
    def dwell_percent(self) -> Figure | None:
        """How much longer a ball would stay in the target than in the source at the same pull [%]; None if that is not known.

        From half the period of a mass on a spring, π·√(m/k) (textbook). A ball is soft too, which makes the difference smaller.
        """
        gap = self.difference_percent
        if gap is None:
            return None
        ratio = 1.0 + gap.value / 100.0
        return Figure(100.0 * (ratio**-0.5 - 1.0), gap.u * ratio**-1.5 / 2.0)

    @property
    def interval(self) -> tuple[float, float] | None:
        """Least and greatest pull of the target's mains [N], at k = 2, within the range that the models cover."""
        return None if self.tension is None else interval(self.tension, self.at.ratio)

    @property
    def is_cut(self) -> bool:
        """Whether the interval ends where the range does, and not where ± would."""
        if self.tension is None or self.interval is None:
            return False
        expanded = COVERAGE_FACTOR * self.tension.u
        return self.interval != (self.tension.value - expanded, self.tension.value + expanded)

    @property
    def cautions(self) -> list[Caution]:
        """What to mind, the model's limits first."""
        found = [MODEL, HOOP, caution("arm-physician"), caution("arm-tension-matters"), caution("cut-ends")]
        pulls = [self.at.mains, self.interval[1]] if self.interval else [self.at.mains]
        greatest = max(pull * max(self.at.ratio, 1.0) for pull in pulls)
        if round(greatest) > COMMON_N[1]:
            text = ABOVE.text.format(greatest, *COMMON_N)
            found.insert(2, ABOVE._replace(text=text))
        return found

    def document(self) -> dict[str, Any]:
        """The JSON document; a value is None if there is no figure."""
        source, target = self.stiffness or (None, None)
        least, most = self.interval or (None, None)
        dwell = self.dwell_percent
        stretching = [one.value for one in self.models[1:]] if self.tension else []
        return {
            "from": self.source,
            "to": self.target,
            "at_n": self.at.mains,
            "tension_n": self.tension.value if self.tension else None,
            "u_tension_n": self.tension.u if self.tension else None,
            "least_n": least,
            "most_n": most,
            "linear_n": self.models[0].value if self.tension else None,
            "u_linear_n": self.models[0].u if self.tension else None,
            "stretching_least_n": min(stretching, default=None),
            "stretching_most_n": max(stretching, default=None),
            "stiffness_from_n_per_mm": source.value if source else None,
            "stiffness_to_n_per_mm": target.value if target else None,
            "dwell_percent": dwell.value if dwell else None,
            "u_dwell_percent": dwell.u if dwell else None,
            "crosses_at_n": self.at.crosses,
            "crosses_tension_n": self.tension.value * self.at.ratio if self.tension else None,
            "outside": self.outside,
            "cautions": [one._asdict() for one in self.cautions],
        }


MODEL = Caution(
    "model",
    "Two models of geometry and tension: a linear model of taut strings that do not stretch, and one of strings that do "
    "(axial stiffness 3.5 to 6 kN: common practice, no source), pressed in by 5, 15 and 25 mm. In both, both beds have lost "
    "30 % of their pull. What is given covers the readings and both models. It is not a reading of any machine, and how stiff "
    "your own string is does not enter.",
    "gapbook's net models; a loss of about 30 % just after stringing: Cross & Bower 2001, Sports Engineering 4",
)
HOOP = Caution(
    "printed-range",
    "The range printed on the frame and a qualified stringer decide. Mains and crosses pulled far apart can distort a hoop.",
    "common practice, no source",
)
ABOVE = Caution(
    "above-common-use",
    "Up to {:.0f} N is above the {:.0f} to {:.0f} N in common use: harder on hoop, string and arm.",
    "Cross 2000, Sports Engineering 3, 111-122 (pull tensions in common use); what it is hard on: common practice, no source",
)


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
        return Retension(source, target, at, None, (), None, "asked")
    first, second = (_stiffness(store, one, at) for one in subjects)
    same = len({identity(one.kind, one.name) for one in subjects}) == 1 and subjects[0].kind != "frame"
    linear = matching(at, first, second, same)
    models = (linear, *_stretching(store, subjects, at, 0.0 if same else linear.u / linear.value))
    tension = Figure(at.mains, 0.0) if same else covering(models)
    if within(at._replace(mains=tension.value)):
        return Retension(source, target, at, tension, models, (first, second), None)
    outside: Outside = "stiffer" if second.value > first.value else "softer"
    return Retension(source, target, at, None, models, (first, second), outside)


def _stretching(store: Store, subjects: list[Subject], at: Pull, relative_u: float) -> list[Figure]:
    """The target's pull [N] as strings that stretch give it, solved from the copies of both beds."""
    from gapbook.science.stretching import matching_pulls  # late: see stiffness_of_copy

    try:
        source, target = (_copies(store, one).strings() for one in subjects)
        return matching_pulls(source, target, at, relative_u)
    except ArithmeticError:
        fix = "Check the readings of both beds: gapbook check"
        raise fail("no-rest", "the net of stretching strings of these beds cannot be solved", fix=fix) from None


def _copies(store: Store, one: Subject, pooled: bool = False) -> Copies:
    """The measured copies of a bed: those of a frame, or the one copy.

    pooled: as of `copies_of`
    """
    from gapbook.tables.contribution import joined, only_one
    from gapbook.tables.copies import copies_of  # late: numpy and pyarrow, which advice on frames does not need

    if one.kind == "folder":
        with joined(store.package, Path(one.name)) as (package, own):
            return copies_of(package, [only_one(Path(one.name), own)], pooled)
    if one.kind == "specimen":
        return copies_of(store.package, [one.name], pooled)
    beds = store.load("beds", ["specimen_id", "frame_id"])
    rows = store.rows(f"SELECT specimen_id FROM {beds} WHERE frame_id = ? ORDER BY 1", [one.name])
    return copies_of(store.package, [row[0] for row in rows], pooled)


def _stiffness(store: Store, one: Subject, at: Pull) -> Figure:
    """The bed's centre stiffness at a pull [N/mm]."""
    figure = _of_frame(store, one, at) if one.kind == "frame" else stiffness_of_copy(store, one, (at.mains, at.crosses))
    if figure is None:
        raise fail("zone-blank", f"the stiffness of {one.name} in the centre is not known", fix="Read the centre of its bed")
    return figure


def stiffness_of_copy(store: Store, one: Subject, pulls: tuple[float, float]) -> Figure | None:
    """Centre stiffness of a copy [N/mm] at these pull tensions of mains and crosses [N]. The net of its own readings is solved
    anew. None if no crossing lies under the load.
    """
    struck = _copies(store, one, pooled=True).centre(pulls)[0]
    return Figure(*struck) if math.isfinite(struck.stiffness) else None


def _of_frame(store: Store, one: Subject, at: Pull) -> Figure | None:
    """From mechanics.csv, linear in the tension. The effect of a ratio of crosses to mains is computed from the copies."""
    if "mechanics" not in store.package.resources:
        raise fail(
            "no-table",
            "this package has no table of stiffness",
            fix="Describe mechanics in its datapackage.json and run gapbook derive, or name specimens",
        )
    table, frame_id = store.load("mechanics"), one.name
    rows = store.rows(f"SELECT {CENTRE}, u_{CENTRE} FROM {table} WHERE frame_id = ?", [frame_id])
    if not rows:
        raise fail("not-derived", f"no stiffness has been derived yet of {frame_id}", fix="Run gapbook derive")
    if rows[0][0] is None:
        return None
    scale = at.mains / PULL_N * (1.0 if at.ratio == 1.0 else _effect_of_ratio(_copies(store, one), at.ratio))
    return Figure(rows[0][0] * scale, rows[0][1] * scale)


def _effect_of_ratio(copies: Copies, ratio: float) -> float:
    """Stiffness with crosses at `ratio` times the mains' tension, over that at equal tensions; geometric mean of copies."""
    pairs = zip(copies.centre((PULL_N, PULL_N * ratio)), copies.centre((PULL_N, PULL_N)), strict=True)
    logs = [math.log(one.stiffness / equal.stiffness) for one, equal in pairs if math.isfinite(one.stiffness)]
    return math.exp(math.fsum(logs) / len(logs))
