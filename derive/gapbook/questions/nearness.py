"""The frames nearest to a bed that a player knows, in all zones and in handling at once: how probable it is that each is within
what the player names.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from gapbook.errors import GapbookError, fail
from gapbook.questions.advice import said_of
from gapbook.questions.advice_facts import STIFFNESS, Facts, Player
from gapbook.questions.advice_facts import Bed as AdvisedBed
from gapbook.questions.answer import PackageName
from gapbook.questions.comparing import Bed, handling_of, with_handling
from gapbook.questions.counted import AssumedHead
from gapbook.questions.portrait import is_derived
from gapbook.questions.ranges import Frozen
from gapbook.questions.retensioning import retension, stiffness_of_copy
from gapbook.questions.subjects import IDENTITY, Subject, of_row, subject
from gapbook.questions.traits import NUMBER, UNIT_WORDS, plain, unit_factor, unit_names
from gapbook.science import nearness
from gapbook.science.comparison import CONFIDENCE, Figure
from gapbook.science.grouping import FloatArray
from gapbook.science.outline import U_DECLARED_AREA
from gapbook.science.tension import PULL_N, Pull
from gapbook.tables.store import Store

BED_ZONES = ("centre", "sides", "tip", "throat")
"""Zones in which beds are near or not; the sides are left and right together."""
LISTED = 5
"""So many frames are told of each list if no other number is asked for."""
MOST_PULLS = 10
"""Pulls are given for so many frames at most, because each has to be solved."""
U_LENGTH_MM = 1.0
"""Standard uncertainty of a declared length [mm]. Common practice, no source."""
SHARED = (
    "The zones of a bed share a part of their error: any two are taken to be correlated as centre and sides are by the "
    "uncertainty of its side opening. The two beds, and the figures of handling, are taken as independent."
)
"""What is assumed where probabilities are joined."""


class Measure(NamedTuple):
    """Something that frames can be near in.

    name: its name in answers; with two hyphens before it, its option.
    units: codes of the units a tolerance may have, the usual one first.
    usual: the tolerance if none is named, in the usual unit; None if it then does not count.
    column: its column, in the tables below or of a bed; empty for the bed itself.
    decimals: how many decimals a difference is shown with.
    """

    name: str
    units: tuple[str, ...]
    usual: float | None
    column: str
    decimals: int


MEASURES: dict[str, Measure] = {
    one.name: one
    for one in (
        Measure("bed", ("%",), 3.0, "", 1),
        Measure("mass", ("g", "[oz_av]", "kg"), 5.0, "mass_g", 1),
        Measure("balance", ("points", "mm", "cm", "[in_i]"), 1.0, "balance_points", 1),
        Measure("swingweight", ("kg.cm2",), 5.0, "swingweight_kgcm2", 1),
        Measure("length", ("mm", "cm", "[in_i]"), None, "length_mm", 1),
        Measure("head", ("[sin_i]", "cm2"), None, "head_area_cm2", 1),
    )
}
"""Everything that frames can be near in, by name."""
BALANCE_MM = "balance_mm"
ANY = "any"
"""Typed in place of a tolerance, it leaves a measure out."""


class Tolerance(Frozen):
    """How far a frame may be from the bed.

    name: of which measure.
    value: how far, in `unit`.
    unit: the code of the unit.
    named: whether it was named; if not, it is the usual one.
    """

    name: str
    value: float
    unit: str
    named: bool

    @property
    def column(self) -> str:
        """The column it is about; that of balance depends on the unit."""
        return BALANCE_MM if self.name == "balance" and self.unit != "points" else MEASURES[self.name].column

    @property
    def base(self) -> float:
        """How far, in the unit of the column."""
        return self.value * float(unit_factor(self.unit))


class Part(Frozen):
    """One figure of a frame against that of the bed.

    name: a zone of the bed (centre, sides, tip, throat), or the name of a tolerance.
    unit: the code of the unit of both differences: that of the tolerance.
    difference: how much more the frame has.
    u_difference: the standard uncertainty of that.
    probability: how probable it is that the frame is within the tolerance in this figure.
    """

    name: str
    unit: str
    difference: float
    u_difference: float
    probability: float


class TargetPull(Frozen):
    """The pull at which a frame has the centre stiffness of the bed, as `retension` gives it.

    tension_n: the pull [N]; None if it lies outside the range that the model covers.
    u_tension_n: its standard uncertainty [N].
    outside: why no pull is given, as of Retension; None if one is.
    """

    tension_n: float | None
    u_tension_n: float | None
    outside: str | None


class Near(Frozen):
    """A frame beside the bed.

    frame_id: the frame.
    maker: who makes it.
    model: its name.
    basis: measured or counted.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its head area [cm²].
    probability: how probable it is that it is within every tolerance of which it is known.
    probability_bed: the same of the bed alone, in all zones that are known; None if bed is left out or no zone is known.
    parts: figure by figure.
    unknown: the zones and measures that are asked for, known of the bed, and not known of the frame.
    pull: the pull for the bed's centre stiffness; None if the stiffness of one of the two is not known, and below the first
        MOST_PULLS matches.
    changes: what the bed may change for a player, in one line, from the rules of advice.
    codes: the rules that say so.
    """

    frame_id: str
    maker: str
    model: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float
    probability: float
    probability_bed: float | None
    parts: list[Part]
    unknown: list[str]
    pull: TargetPull | None
    changes: str
    codes: list[str]


class Known(Frozen):
    """The bed that frames are held against.

    name: the name it was asked for by.
    frame_id: the frame it is, or is a copy of.
    kind: frame, specimen, folder or pattern.
    basis: measured or counted.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its head area [cm²].
    figures: its figures by column, each followed by its u_; None if not known.
    handling_own: of a folder, which of mass, balance and swingweight were read on the copy.
    assumed_head: how its head area was assumed; None if it was declared or named.
    """

    name: str
    frame_id: str
    kind: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float
    figures: dict[str, float | None]
    handling_own: list[str]
    assumed_head: AssumedHead | None


class Neighbours(Frozen):
    """The frames nearest to a bed.

    reference: the bed.
    within: the tolerances that count.
    left_out: what was asked for, or is usual, but is not known of the bed itself: measures, and zones of the bed.
    at_n: the pull of the bed from which the frames' pulls follow [N].
    searched: how many frames were held against it.
    itself: another copy of the bed's own frame, which shows how probable nearness can be; None for a pattern.
    matches: frames of which everything asked is known, the most probable first.
    partly_known: frames of which something is not known, judged by the rest, the most probable first.
    counts: how many there are of each, whatever the limit.
    package: the data package it comes from.
    """

    reference: Known
    within: list[Tolerance]
    left_out: list[str]
    at_n: float
    searched: int
    itself: Near | None
    matches: list[Near]
    partly_known: list[Near]
    counts: dict[str, int]
    package: PackageName

    def __repr__(self) -> str:
        told = ", ".join(f"{one.frame_id} {100 * one.probability:.0f} %" for one in self.matches[:3])
        return f"<Neighbours of {self.reference.name}: {told or 'none'}>"

    def __str__(self) -> str:
        return repr(self)


def tolerances(named: Mapping[str, str | None]) -> list[Tolerance]:
    """The tolerances that count: those named, as typed, and the usual ones of the others. GapbookError if one is no tolerance,
    or if all are left out.
    """
    found = []
    for name, measure in MEASURES.items():
        text = named.get(name)
        if text is None:
            if measure.usual is not None:
                found.append(Tolerance(name=name, value=measure.usual, unit=measure.units[0], named=False))
        elif plain(text).strip() != ANY:
            value, unit = _tolerance(text, measure)
            found.append(Tolerance(name=name, value=value, unit=unit, named=True))
    if not found:
        raise fail("no-tolerance", "nothing is left that a frame could be near in", fix="Name one, such as --bed 3%")
    return found


_TYPED = re.compile(rf"\s*(?:\+/-|±)?\s*({NUMBER})\s*(\S.{{0,30}})?")


def _tolerance(text: str, measure: Measure) -> tuple[float, str]:
    """A tolerance as typed, and the code of its unit; the usual one if it has none."""
    words = " or ".join(UNIT_WORDS[code][0] for code in measure.units)
    expected = f"above 0, in {words}, such as {measure.usual or 5:g} {UNIT_WORDS[measure.units[0]][0]}; or {ANY}"
    match = _TYPED.fullmatch(plain(text).strip())
    unit = measure.units[0] if match is None or not match[2] else unit_names().get(match[2].strip(), "")
    if match is None or unit not in measure.units:
        raise fail("bad-tolerance", f"--{measure.name} does not take this", found=text[:60], expected=expected)
    value = float(match[1])
    most = 100.0 if unit == "%" else 1000.0
    if not 0.0 < value < most:
        raise fail("bad-tolerance", f"--{measure.name} does not take this", found=text[:60], expected=expected)
    return value, unit


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
    return [column for name in names for column in (name, "u_" + name)]


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
    found = _judged(frames, figures, judged)
    own = bed.frame_id if bed.kind == "frame" else None
    order = sorted(range(len(found)), key=lambda place: (-found[place].probability, frames.subjects[place].frame_id))
    others = [place for place in order if frames.subjects[place].frame_id != own]
    whole = [place for place in others if not found[place].unknown]
    partly = [place for place in others if found[place].unknown and found[place].parts]
    tell = _Teller(store, frames, bed, _stiffness(store, bed, frames.stiffness), at_n, confidence)
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
    return _Frames(subjects, declared, handling, _all_stiffness(store))


def _all_stiffness(store: Store) -> dict[str, Figure]:
    if not is_derived(store.package, "mechanics"):
        return {}
    columns = ["frame_id", STIFFNESS, "u_" + STIFFNESS]
    rows = store.rows(f"SELECT {', '.join(columns)} FROM {store.load('mechanics', columns)}")
    return {name: Figure(value, u) for name, value, u in rows if value is not None and u is not None}


def _stiffness(store: Store, bed: Subject, of_frames: Mapping[str, Figure]) -> Figure | None:
    if bed.basis == "counted":
        return None
    return of_frames.get(bed.frame_id) if bed.kind == "frame" else stiffness_of_copy(store, bed, (PULL_N, PULL_N))


def _u_area(bed: Subject) -> float:
    """The relative standard uncertainty of a head area: that of a declared one, or the spread of those it is assumed from."""
    return U_DECLARED_AREA if bed.assumed_head is None else bed.assumed_head.spread_percent / 100.0


def _figures(bed: Subject, handling: Mapping[str, Any], length: float | None, u_area: float) -> dict[str, float | None]:
    """Everything of a bed that can be near, by column, and the u_ of each."""
    found: dict[str, float | None] = dict(bed.scores)
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


def zones_known(figures: Mapping[str, float | None]) -> list[str]:
    """Those of BED_ZONES in which the openness of a bed is known."""
    return [zone for zone in BED_ZONES if figures.get(f"openness_{zone}") is not None]


def _left_out(within: Sequence[Tolerance], judged: Sequence[Tolerance], figures: Mapping[str, float | None]) -> list[str]:
    """The measures, and if the bed is judged the zones, that are asked for and not known of the bed."""
    known = zones_known(figures)
    zones = [zone for zone in BED_ZONES if zone not in known] if any(one.name == "bed" for one in judged) else []
    return [*zones, *(one.name for one in within if one not in judged)]


class _Found(NamedTuple):
    """How near one frame is; the fields are those of `Near`."""

    probability: float
    probability_bed: float | None
    parts: list[Part]
    unknown: list[str]


def _judged(frames: _Frames, figures: Mapping[str, float | None], within: Sequence[Tolerance]) -> list[_Found]:
    """How near each frame is."""
    everyone = [
        _figures(
            bed, frames.handling.get(bed.frame_id, {}), frames.rows.get(bed.frame_id, {}).get("length_mm"), U_DECLARED_AREA
        )
        for bed in frames.subjects
    ]
    probability = np.ones(len(everyone))
    in_bed = np.full(len(everyone), np.nan)
    parts: list[list[Part]] = [[] for _ in everyone]
    unknown: list[list[str]] = [[] for _ in everyone]
    for one in within:
        named = _zones(everyone, figures, one) if one.name == "bed" else _single(everyone, figures, one)
        joint = named.joint
        for name, difference, u, chance in named.columns:
            for place, values in enumerate(zip(difference.tolist(), u.tolist(), chance.tolist(), strict=True)):
                if values[2] == values[2]:
                    pair = {"difference": values[0], "u_difference": values[1], "probability": values[2]}
                    parts[place].append(Part(name=name, unit=one.unit, **pair))
                else:
                    unknown[place].append(name)
        probability *= np.where(np.isnan(joint), 1.0, joint)
        in_bed = joint if one.name == "bed" else in_bed
    each = zip(probability.tolist(), in_bed.tolist(), parts, unknown, strict=True)
    return [_Found(whole, zones if zones == zones else None, some, none) for whole, zones, some, none in each]


class _Chances(NamedTuple):
    """Chances of all frames in one measure.

    joint: in all of its figures [F]; NaN if none is known.
    columns: figure by figure: name, difference, its standard uncertainty and the chance [F], in the tolerance's unit.
    """

    joint: FloatArray
    columns: list[tuple[str, FloatArray, FloatArray, FloatArray]]


def _array(everyone: Sequence[Mapping[str, float | None]], column: str) -> FloatArray:
    return np.array([np.nan if one.get(column) is None else one[column] for one in everyone], dtype=float)


def _single(everyone: Sequence[Mapping[str, float | None]], figures: Mapping[str, float | None], one: Tolerance) -> _Chances:
    """Chances in a figure that is compared by its difference."""
    known = _array([figures], one.column)[0], _array([figures], "u_" + one.column)[0]
    difference = _array(everyone, one.column) - known[0]
    u = np.hypot(_array(everyone, "u_" + one.column), known[1])
    chance = nearness.within(difference, u, -one.base, one.base)
    factor = float(unit_factor(one.unit))
    return _Chances(chance, [(one.name, difference / factor, u / factor, chance)])


def _zones(everyone: Sequence[Mapping[str, float | None]], figures: Mapping[str, float | None], one: Tolerance) -> _Chances:
    """Chances in the zones of the bed that are known of it, compared by their ratio."""
    zones = zones_known(figures)
    low, high = np.log1p(-one.base), np.log1p(one.base)
    both = [_logs(everyone, zones), _logs([figures], zones)]
    difference = both[0].value - both[1].value
    variance = both[0].variance + both[1].variance
    joint = nearness.all_within(difference, variance, both[0].shared + both[1].shared, low, high)
    u = np.sqrt(variance)
    chance = nearness.within(difference, u, low, high)
    percent = 100.0 * np.expm1(difference)
    columns = [(zone, percent[:, n], (100.0 + percent[:, n]) * u[:, n], chance[:, n]) for n, zone in enumerate(zones)]
    return _Chances(np.where(np.isnan(chance).all(axis=1), np.nan, joint), columns)


class _Logs(NamedTuple):
    """Logarithms of openness [F, Z], their variances [F, Z], and the part of these that the zones of a bed share [F, Z]."""

    value: FloatArray
    variance: FloatArray
    shared: FloatArray


def _logs(everyone: Sequence[Mapping[str, float | None]], zones: Sequence[str]) -> _Logs:
    names = [f"openness_{zone}" for zone in zones]
    value = np.stack([_array(everyone, name) for name in names], axis=1)
    relative = np.stack([_array(everyone, "u_" + name) for name in names], axis=1) / value
    centre, sides = (
        _array(everyone, f"u_openness_{zone}") / _array(everyone, f"openness_{zone}") for zone in ("centre", "sides")
    )
    ratio = _array(everyone, "u_side_opening") / (1.0 + _array(everyone, "side_opening"))
    part = nearness.correlation(centre**2, sides**2, ratio**2)
    return _Logs(np.log(value), relative**2, part[:, None] * relative**2)


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

    def near(self, place: int, found: _Found, pulled: bool = False) -> Near:
        """One frame beside the bed, with its pull if `pulled`."""
        one = self.frames.subjects[place]
        row = self.frames.rows.get(one.frame_id, {})
        stiffness = self.frames.stiffness.get(one.frame_id)
        same = self.bed.kind == "frame" and self.bed.frame_id == one.frame_id
        changes, codes = ("", []) if same else self._changes(one, stiffness)
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
            changes=changes,
            codes=codes,
        )

    def _pull(self, frame_id: str) -> TargetPull | None:
        try:
            found = retension(self.store, self.bed.name, frame_id, Pull(self.at_n))
        except GapbookError:  # its net cannot be solved
            return None
        tension, u = found.tension or (None, None)
        return TargetPull(tension_n=tension, u_tension_n=u, outside=found.outside)

    def _changes(self, one: Subject, stiffness: Figure | None) -> tuple[str, list[str]]:
        """What the frame may change for a player who knows the bed: what each rule says before its colon or full stop."""
        facts = Facts(_advised(one, stiffness), _advised(self.bed, self.stiffness), None, Player(), self.confidence)
        package = PackageName(name=self.store.package.name, version=self.store.package.version)
        said = [item for item in said_of(facts, package).expect if "too close to call" not in item.text.lower()]
        words = [re.split(r"[:;]|\.(?: |$)", item.text)[0].strip() for item in said]
        return "; ".join(dict.fromkeys(words)), [item.code for item in said]


def _advised(one: Subject, stiffness: Figure | None) -> AdvisedBed:
    figures = (one.openness("centre"), one.openness("sides"), one.figure("side_opening"))
    counts = one.mains, one.crosses, one.head_area_cm2
    return AdvisedBed(one.name, one.kind, one.basis, 1, *counts, *figures, stiffness)
