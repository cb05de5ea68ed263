"""How well readings repeat and how well people agree: a gauge study of each quantity and kind of instrument, and biases."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.layers import CATALOGUE, catalogue_layer, read_layers
from gapbook.intake.readings import Passes
from gapbook.questions.shown import SCREENS, above
from gapbook.science import gauge_rr, pitches
from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import BoolArray, Distinct, FloatArray, IntArray, combine, count_by, distinct, sum_by
from gapbook.science.lines import points_of
from gapbook.science.repeats import FREEDOM_NEEDED
from gapbook.science.statistics import student_quantile
from gapbook.science.zones import LEAST_COVERAGE
from gapbook.tables.package import Package
from gapbook.tables.reader import texts
from gapbook.tables.units import codes

MARK_FREEDOM = 2.0 / 3.0
"""What one gap between marks counts for. Neighbouring gaps share a mark, so their errors are correlated by −1/2, and their
variance is known only as well as by two thirds as many independent gaps."""


class Sample(NamedTuple):
    """Readings of one quantity [R].

    quantity, unit: what was read, and in which unit
    part: number of the thing that was read
    person: who read it, a number of `people`
    kind: the kind of instrument, by number
    value: in the unit
    people: contributor ids
    worth: how many independent readings each counts for: 1, or MARK_FREEDOM
    """

    quantity: str
    unit: str
    part: IntArray
    person: IntArray
    kind: IntArray
    value: FloatArray
    people: list[str]
    worth: FloatArray


class Quantified(NamedTuple):
    """A gauge study of one quantity and instrument kind.

    quantity, unit: what was read, and in which unit
    instrument_kind: what it was read with
    variation: the components of variance
    freedom: degrees of freedom of the repeatability
    """

    quantity: str
    unit: str
    instrument_kind: str
    variation: gauge_rr.Variation
    freedom: float

    @property
    def repeatability(self) -> float | None:
        """Standard deviation of readings by one person; None if it has fewer than FREEDOM_NEEDED degrees of freedom."""
        return _known(self.variation.ev) if self.freedom >= FREEDOM_NEEDED else None

    @property
    def reproducibility(self) -> float | None:
        """Standard deviation between people and their instruments; None if two people have read too few parts."""
        return _known(self.variation.av) if self.repeatability is not None else None

    def to_json(self) -> dict[str, Any]:
        """The study with the keys that programs rely on."""
        variation, known = self.variation, self.reproducibility is not None
        return {
            "quantity": self.quantity,
            "unit": self.unit,
            "instrument_kind": self.instrument_kind,
            "readings": variation.readings,
            "parts": variation.parts,
            "shared_parts": variation.shared,
            "people": variation.people,
            "repeatability": self.repeatability,
            "repeatability_freedom": round(self.freedom, 1),
            "reproducibility": self.reproducibility,
            "reproducibility_freedom": variation.av_freedom if known else None,
            "interaction": _known(variation.interaction) if known else None,
            "grr": _known(variation.grr) if known else None,
            "part_variation": _known(variation.pv) if self.repeatability is not None else None,
            "total_variation": _known(variation.tv) if known else None,
            "grr_percent": _known(100.0 * variation.grr / variation.tv) if known and variation.tv > 0.0 else None,
            "distinct_categories": variation.categories if known else None,
        }


class Bias(NamedTuple):
    """How one person's readings of a quantity lie beside those of others.

    contributor_id: the person
    quantity, unit: what was read, and in which unit
    bias, low, high: the difference and its interval; None if there are too few readings to say
    freedom: degrees of freedom of the interval
    shared_parts: how many things both the person and others read
    against: the others
    """

    contributor_id: str
    quantity: str
    unit: str
    bias: float | None
    low: float | None
    high: float | None
    freedom: int
    shared_parts: int
    against: list[str]

    def to_json(self) -> dict[str, Any]:
        """The bias with the keys that programs rely on."""
        return self._asdict()


class Steadiness(NamedTuple):
    """How well one person's readings of a quantity with a kind of instrument repeat.

    contributor_id: the person
    quantity, unit: what was read, and in which unit
    instrument_kind: what it was read with
    repeatability: standard deviation of their readings of one thing; None below FREEDOM_NEEDED degrees of freedom
    freedom: degrees of freedom
    readings: how many readings
    others: the same of all other people together
    """

    contributor_id: str
    quantity: str
    unit: str
    instrument_kind: str
    repeatability: float | None
    freedom: float
    readings: int
    others: float | None

    def to_json(self) -> dict[str, Any]:
        """The same with the keys that programs rely on."""
        return self._asdict()


class People(NamedTuple):
    """How far people differ in the offset of a gap that they read with one kind of instrument, as the budget of beds takes it.

    instrument_kind: what they read with
    seen: standard deviation between them that mean gaps show [mm]; None if too few read the same
    freedom: degrees of freedom behind it
    used: the one that is used, drawn towards the default [mm]
    """

    instrument_kind: str
    seen: float | None
    freedom: int
    used: float

    def to_json(self) -> dict[str, Any]:
        """The same with the keys that programs rely on."""
        return self._asdict()


class Against(NamedTuple):
    """How what one kind of instrument reads lies beside what another reads on the same parts, whoever read.

    instrument_kind, against: the two kinds
    quantity, unit: what was read, and in which unit
    difference, low, high: the first less the second, and its interval; None for fewer than PARTS_NEEDED shared parts
    scatter: standard deviation of the parts' differences
    shared_parts: how many parts were read with both
    """

    instrument_kind: str
    against: str
    quantity: str
    unit: str
    difference: float | None
    low: float | None
    high: float | None
    scatter: float | None
    shared_parts: int

    def to_json(self) -> dict[str, Any]:
        """The same with the keys that programs rely on."""
        return self._asdict()


class Agreement(NamedTuple):
    """Agreement in a package.

    studies: a gauge study of each quantity and kind of instrument
    repeatability: how well each person's readings repeat, by quantity and kind of instrument
    people: how far people differ in a gap, by kind of instrument that spacings were read with
    placement: how far strings lie from where they would rest, as the budget of beds takes it [mm]
    biases: the bias of each person in each quantity
    against: photographs beside a calliper, if beds were read with both
    faults: how many findings of structure kept rows out of them
    """

    studies: list[Quantified]
    repeatability: list[Steadiness]
    people: list[People]
    placement: float
    biases: list[Bias]
    against: list[Against]
    faults: int

    def __str__(self) -> str:
        return str(above(SCREENS).as_text(self))

    def _repr_html_(self) -> str:
        return str(above(SCREENS).as_html(self))

    def to_json(self) -> dict[str, Any]:
        """Both with the keys that programs rely on."""
        return {
            "confidence": CONFIDENCE,
            "studies": [one.to_json() for one in self.studies],
            "repeatability": [one.to_json() for one in self.repeatability],
            "people": [one.to_json() for one in self.people],
            "placement": _known(self.placement),
            "biases": [one.to_json() for one in self.biases],
            "against": [one.to_json() for one in self.against],
            "faults": self.faults,
        }


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(f"{value:.6g}")


def agreement_of(package: Package) -> Agreement:
    """The agreement of a data package. Rows that `gapbook check` finds unsound are left out and counted."""
    return agreement(CheckContext(package, read_layers(package, [catalogue_layer(package)]), CATALOGUE, datetime.date.today()))


def agreement(context: CheckContext) -> Agreement:
    """Studies and biases of all quantities in the context's usable rows, spacings first."""
    kinds = context.package.schema("instruments").field("kind").enum
    samples = [*_of_spacings(context), *_of_readings(context)]
    studies: list[Quantified] = []
    steadiness: list[Steadiness] = []
    biases: list[Bias] = []
    against: list[Against] = []
    for sample in samples:
        for kind in np.unique(sample.kind).tolist():
            mine = sample.kind == kind
            variation = gauge_rr.gauge_study(sample.part[mine], sample.person[mine], sample.value[mine])
            worth = float(sample.worth[mine].mean())
            studies.append(Quantified(sample.quantity, sample.unit, kinds[kind], variation, worth * variation.ev_freedom))
            steadiness += _steadiness(sample, mine, kinds[kind])
        if sample.quantity != "gap":
            biases += _biases(sample)
        if sample.quantity in ("gap", "pitch"):
            against += _against(sample, kinds, "photo", "calliper")
    faults = sum(len(some) for some in context.read.findings.values())
    placed = context.gathered.pooled.placement.deviation
    return Agreement(studies, steadiness, _people(context), placed, biases, against, faults)


def _steadiness(sample: Sample, mine: BoolArray, kind: str) -> Iterator[Steadiness]:
    """How well each person's readings of a sample with one kind of instrument (`mine`) repeat, by name."""
    people, worth = len(sample.people), float(sample.worth[mine].mean())
    found = gauge_rr.repeatability_of_people(sample.part[mine], sample.person[mine], sample.value[mine], people)
    squares = np.nan_to_num(found.deviation) ** 2 * found.freedom
    rest = squares.sum() - squares, found.freedom.sum() - found.freedom
    for person in sorted(np.flatnonzero(found.readings).tolist(), key=lambda number: sample.people[number]):
        own, others = (float(one) for one in (found.freedom[person], rest[1][person]))
        yield Steadiness(
            sample.people[person],
            sample.quantity,
            sample.unit,
            kind,
            _known(float(found.deviation[person])) if worth * own >= FREEDOM_NEEDED else None,
            round(worth * own, 1),
            int(found.readings[person]),
            _known(float(np.sqrt(rest[0][person] / others))) if worth * others >= FREEDOM_NEEDED else None,
        )


def _people(context: CheckContext) -> list[People]:
    """How far people differ, for the kinds of instruments that gaps and marks were read with."""
    pooled, tools = context.gathered.pooled.people, context.catalogue.instruments
    used = sorted({kind for part in context.gathered.blocks for kind in tools.kind[part.of_run.instrument].tolist()})
    found = []
    for kind in used:
        seen, free = _known(float(pooled.seen[kind])), int(pooled.freedom[kind])
        found.append(People(tools.kinds[kind], seen, free, float(f"{pooled.deviation[kind]:.6g}")))
    return found


def _against(sample: Sample, kinds: Sequence[str], first: str, second: str) -> Iterator[Against]:
    """One kind of instrument beside another: means of parts that were read with both."""
    means = []
    for kind in (first, second):
        mine = sample.kind == kinds.index(kind)
        each = distinct(sample.part[mine])
        means.append(dict(zip(sample.part[mine][each.first].tolist(), _means(each, sample.value[mine]), strict=True)))
    shared = sorted(means[0].keys() & means[1].keys())
    if not shared:
        return
    away = np.array([means[0][part] - means[1][part] for part in shared])
    known = len(away) >= gauge_rr.PARTS_NEEDED
    scatter = float(away.std(ddof=1)) if known else float("nan")
    half = student_quantile(CONFIDENCE, len(away) - 1) * scatter / len(away) ** 0.5 if known else float("nan")
    mean = float(away.mean()) if known else float("nan")
    low, high = _known(mean - half), _known(mean + half)
    yield Against(first, second, sample.quantity, sample.unit, _known(mean), low, high, _known(scatter), len(away))


def _means(each: Distinct, value: FloatArray) -> list[float]:
    return (sum_by(each.number, value, len(each.first)) / count_by(each.number, len(each.first))).tolist()


def _biases(sample: Sample) -> Iterator[Bias]:
    """The bias of each person in a sample, against those who are linked with them by parts that both have read."""
    biases = gauge_rr.biases(sample.part, sample.person, sample.value, len(sample.people), CONFIDENCE)
    for person in sorted(np.unique(sample.person).tolist(), key=lambda number: sample.people[number]):
        beside = np.flatnonzero((biases.group == biases.group[person]) & (np.arange(len(sample.people)) != person))
        bias, half = float(biases.bias[person]), float(biases.half[person])
        yield Bias(
            sample.people[person],
            sample.quantity,
            sample.unit,
            _known(bias),
            _known(bias - half),
            _known(bias + half),
            biases.freedom if len(beside) else 0,
            int(biases.parts[person]),
            sorted(sample.people[other] for other in beside.tolist()),
        )


def _of_spacings(context: CheckContext) -> Iterator[Sample]:
    """Two samples of the beds that can be laid out: single gaps, and the pitch of each family in the centre."""
    passes = context.passes
    usable = np.zeros(len(context.catalogue.specimens.ids), dtype=bool)
    usable[context.gathered.where.specimen] = True
    passes = passes.take(np.flatnonzero(usable[passes.specimen]))
    if not len(passes.first):
        return
    data = context.tables["spacings"]["contributor_id"]
    person = codes(data)[passes.first]
    kind = context.catalogue.instruments.kind[passes.instrument]
    gaps, read = _gaps(passes)
    level = np.unique(passes.station, return_inverse=True)[1].astype(np.int64)
    number, no = np.nonzero(read)
    part = combine(passes.specimen[number], passes.family[number], level[number], no)
    worth = np.where(passes.is_mark, MARK_FREEDOM, 1.0)
    yield Sample("gap", "mm", part, person[number], kind[number], gaps[number, no], texts(data), worth[number])
    pitch = _pitches(passes, read)
    at = np.flatnonzero(~np.isnan(pitch))
    part = combine(passes.specimen[at], passes.family[at])
    yield Sample("pitch", "mm", part, person[at], kind[at], pitch[at], texts(data), np.ones(len(at)))


def _gaps(passes: Passes) -> tuple[FloatArray, BoolArray]:
    """Gap k between strings k and k + 1 in column k [P, K - 1] in mm, and whether it was read; edge gaps count as not read."""
    with np.errstate(invalid="ignore"):
        gaps = np.where(passes.is_mark[:, None], np.diff(passes.value, axis=1), passes.value[:, :-1])
    number = np.arange(gaps.shape[1])[None, :]
    return gaps, (number >= 1) & (number < passes.strings[:, None]) & ~np.isnan(gaps)


def _pitches(passes: Passes, read: BoolArray) -> FloatArray:
    """Pitch in the centre window by each pass alone [P] in mm, about the middle of its own edges or outer strings; NaN if the
    pass is not whole or not at station 0.
    """
    pitch = np.full(len(passes.first), np.nan)
    whole = np.flatnonzero((passes.station == 0.0) & (read.sum(axis=1) == passes.strings - 1))
    passes = passes.take(whole)
    rows, strings = np.arange(len(whole)), passes.strings
    known = ~np.isnan(passes.value)
    edges = known[:, 0] & known[rows, np.where(passes.is_mark, strings + 1, strings)]
    points = points_of(np.nan_to_num(passes.value), passes.is_mark)
    first, last = np.where(edges, 0, 1), np.where(edges, strings + 1, strings)
    middle = (points[rows, first] + points[rows, last]) / 2.0
    centre = pitches.pitch(points - middle[:, None], strings, 0.0)
    pitch[whole] = np.where(centre.coverage >= LEAST_COVERAGE, centre.pitch, np.nan)
    return pitch


def _of_readings(context: CheckContext) -> Iterator[Sample]:
    """Whole-frame readings, a sample for each quantity. A frame with strings and the same frame without are two parts."""
    data = context.readings
    units = context.package.schema("readings").field("quantity").units
    kind = context.catalogue.instruments.kind[data.instrument]
    people = texts(context.catalogue.tables["readings"]["contributor_id"])
    for number, name in enumerate(context.catalogue.quantities):
        mine = data.take(np.flatnonzero(data.quantity == number))
        if len(mine.row):
            part = distinct(mine.specimen, mine.strung).number
            of_mine = kind[data.quantity == number]
            yield Sample(name, units[name], part, mine.person, of_mine, mine.value, people, np.ones(len(part)))
