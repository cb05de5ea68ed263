"""Mass, balance and swingweight: what is impossible for any body, what is unusual, and what stringing adds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Readings, groups
from gapbook.intake.rule import Rule
from gapbook.science import mass_properties, outline
from gapbook.science.closure import shared_variance
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, count_by, sum_by
from gapbook.science.statistics import holm, student_bound, two_sided
from gapbook.tables.handling import DECLARED

NAMES = ("mass", "balance", "swingweight", "length")
UNITS = ("g", "mm", "kg.cm2", "mm")
COLUMNS = (*DECLARED, "length_mm")


class _Bodies(NamedTuple):
    """Bodies [B]: every copy as it was read, with strings and without being two bodies, and every frame as it is declared.

    subject: the number of the specimen, or of the frame, in the context's catalogue
    declared: whether it is a frame as declared
    strung: whether its figures are with strings
    value: mass [g], balance [mm] and swingweight [kg·cm²] [B, 3]; of several readings the one farthest from the package's
        median, so that a slip among them is seen
    row: the rows of these figures in the readings or the frames [B, 3]; -1 if not known
    length: the frame's length [mm]
    length_row: the row of the reading of the length; -1 if it is declared or not known
    centre: where the middle of the bed lies, from the butt [mm]
    as_strung: the figures with strings, those of a bed added if there are none [B, 3]
    """

    subject: IntArray
    declared: BoolArray
    strung: BoolArray
    value: FloatArray
    row: IntArray
    length: FloatArray
    length_row: IntArray
    centre: FloatArray
    as_strung: FloatArray

    def table(self, body: int) -> str:
        """The table that the figures of a body stand in."""
        return "frames" if self.declared[body] else "readings"


@cached
def _all_bodies(context: CheckContext) -> _Bodies:
    """Every body of which at least one figure is known."""
    read, stated = _read(context), _declared(context)
    joined = _Bodies(*(np.concatenate(columns) for columns in zip(read, stated, strict=True)))
    stated_all = mass_properties.Stated(
        joined.value, np.zeros(joined.value.shape), np.repeat(joined.strung[:, None], 3, axis=1)
    )
    strung, _ = mass_properties.as_strung(stated_all, joined.length, joined.centre)
    return joined._replace(as_strung=strung[:, [0, 1, 3]])


def _named(context: CheckContext) -> tuple[Readings, IntArray]:
    """The usable readings of the quantities in NAMES [N], and the place of each one's quantity there [N]."""
    readings = context.readings
    place = [NAMES.index(name) if name in NAMES else -1 for name in context.catalogue.quantities]
    name = np.array(place, dtype=np.int64)[readings.quantity]
    return readings.take(name >= 0), name[name >= 0]


def _read(context: CheckContext) -> _Bodies:
    """The bodies of copies, as they were read."""
    readings, name = _named(context)
    body, away = readings.specimen * 2 + readings.strung, _away(readings, name)
    ids, place = np.unique(body[name < 3], return_inverse=True)
    value, row = np.full((len(ids), 3), np.nan), np.full((len(ids), 3), -1, dtype=np.int64)
    some = name < 3
    order = np.lexsort((away[some], place, name[some]))
    at, which = place[order], name[some][order]
    value[at, which], row[at, which] = readings.value[some][order], readings.row[some][order]
    subject = ids // 2
    frame = context.catalogue.specimens.frame[subject]
    length, length_row = _declared_length(context)[frame], np.full(len(ids), -1, dtype=np.int64)
    longs = np.flatnonzero(name == 3)
    of_specimen = {int(readings.specimen[index]): index for index in longs[np.argsort(away[longs], kind="stable")].tolist()}
    for number, specimen in enumerate(subject.tolist()):
        if (index := of_specimen.get(specimen)) is not None:
            length[number], length_row[number] = readings.value[index], readings.row[index]
    centre = _centre(context, length, frame)
    return _Bodies(subject, np.zeros(len(ids), dtype=bool), ids % 2 == 1, value, row, length, length_row, centre, value)


def _away(readings: Readings, name: IntArray) -> FloatArray:
    """How far each reading lies from the median of its quantity, strung and unstrung apart [N]."""
    away = np.zeros(len(readings.value))
    for mine in groups(combine(name, readings.strung)):
        away[mine] = np.abs(readings.value[mine] - np.median(readings.value[mine]))
    return away


def _declared_length(context: CheckContext) -> FloatArray:
    return np.asarray(context.catalogue.tables["frames"]["length_mm"].cast(pa.float64()).fill_null(np.nan))


def _centre(context: CheckContext, length: FloatArray, frame: IntArray) -> FloatArray:
    """Where the middle of the bed lies, from the butt in mm; for a usual length if none is known."""
    usual = np.where(np.isnan(length), 685.0, length)
    return mass_properties.bed_centre(usual, outline.size_from_area(context.catalogue.frames.area[frame])[1])


def _declared(context: CheckContext) -> _Bodies:
    """The bodies of frames, as they are declared."""
    table = context.catalogue.tables["frames"]
    columns = [np.asarray(table[name].cast(pa.float64()).fill_null(np.nan)) for name in DECLARED]
    value = np.stack(columns, axis=1)
    known = np.flatnonzero(~np.isnan(value).all(axis=1))
    rows = context.usable_rows("frames")[known]
    strung = np.asarray(table["strung"].combine_chunks().fill_null(True).to_numpy(zero_copy_only=False), dtype=bool)[known]
    value, length = value[known], _declared_length(context)[known]
    row = np.where(np.isnan(value), -1, rows[:, None])
    none = np.full(len(known), -1, dtype=np.int64)
    centre = _centre(context, length, known)
    return _Bodies(known, np.ones(len(known), dtype=bool), strung, value, row, length, none, centre, value)


def _strangest(every: _Bodies, rows: IntArray) -> IntArray:
    """For each of the bodies `rows` [R] which of mass, balance and swingweight is farthest from what is usual in the package,
    or in the trade if the package holds too few. The finding stands at this figure.
    """
    spread = mass_properties.middle_of(every.as_strung, mass_properties.LEAST_SPREAD[:3])
    own = spread.figures >= mass_properties.FEWEST
    middle, width = (
        np.where(own, spread.middle, mass_properties.USUAL[0]),
        np.where(own, spread.spread, mass_properties.USUAL[1]),
    )
    away = np.abs(every.as_strung[rows] - middle) / width
    bare = np.abs(every.value[rows] - middle) / width
    away = np.where(np.isnan(away), bare, away)
    return np.asarray(np.argmax(np.nan_to_num(away, nan=-1.0), axis=1))


def _about(context: CheckContext, every: _Bodies, body: int) -> str:
    ids = context.catalogue.frames.ids if every.declared[body] else context.catalogue.specimens.ids
    return ids[int(every.subject[body])]


def _finding(context: CheckContext, every: _Bodies, body: int, which: int, said: str, expected: str) -> Finding:
    """A finding at figure `which` of a body."""
    declared = bool(every.declared[body])
    row = int(every.row[body, which])
    others = (*every.row[body].tolist(), int(every.length_row[body]))
    also = tuple(dict.fromkeys(int(one) for one in others if one >= 0 and one != row))
    column = COLUMNS[which] if declared else "value"
    return Finding(every.table(body), column, said, expected, about=_about(context, every, body), rows=(row, *also))


def _figures(every: _Bodies, body: int) -> str:
    """The figures of a body in words."""
    known = [place for place in range(3) if not np.isnan(every.value[body, place])]
    words = ", ".join(f"{NAMES[place]} {every.value[body, place]:.4g} {UNITS[place]}" for place in known)
    return f"{words}, {'strung' if every.strung[body] else 'unstrung'}"


def _impossible(context: CheckContext) -> Iterator[Finding]:
    """Bodies with figures that no body can have."""
    every = _all_bodies(context)
    wrong = mass_properties.impossible(every.value, every.length)
    inertia = mass_properties.inertia_centre(every.value)
    most = mass_properties.greatest_inertia(every.value, every.length)
    bad = np.flatnonzero(wrong.balance | wrong.negative | wrong.great)
    for body, which in zip(bad.tolist(), _strangest(every, bad).tolist(), strict=True):
        if wrong.balance[body]:
            which, expected = 1, f"a balance point between the butt and {every.length[body]:.0f} mm"
        elif wrong.negative[body]:
            expected = f"no less than 0 kg.cm2 about the balance point, and not {inertia[body]:.0f}"
        else:
            expected = f"at most {most[body]:.0f} kg.cm2 about the balance point, and not {inertia[body]:.0f}"
        yield _finding(context, every, body, which, _figures(every, body), expected)


def _unusual(context: CheckContext) -> Iterator[Finding]:
    """Bodies far from the median of the package in one of their figures, or in their radius of gyration."""
    every = _all_bodies(context)
    figures = np.hstack([every.as_strung, mass_properties.gyration(every.as_strung)[:, None]])
    usual = mass_properties.middle_of(figures, mass_properties.LEAST_SPREAD)
    away = np.where(usual.figures >= mass_properties.FEWEST, np.abs(figures - usual.middle) / usual.spread, np.nan)
    known = ~np.isnan(away)
    away = np.where(known, away, 0.0)
    bound = student_bound(int(known.sum()), mass_properties.EFFICIENCY * usual.figures)
    bad = np.flatnonzero((away > bound).any(axis=1))
    strange = _strangest(every, bad)
    for body, which in zip(bad.tolist(), strange.tolist(), strict=True):
        place = int(np.argmax(away[body] / bound))
        at = which if place == 3 else place
        if place == 3:
            expected = (
                f"a radius of gyration of {usual.middle[3]:.0f} ± {bound[3] * usual.spread[3]:.0f} mm, as the others have, and "
                f"not {figures[body, 3]:.0f} mm"
            )
        else:
            expected = f"{usual.middle[at]:.0f} ± {bound[at] * usual.spread[at]:.0f} {UNITS[at]} strung, as the others have"
        yield _finding(context, every, body, at, _figures(every, body), expected)


class _Pairs(NamedTuple):
    """Specimens read with strings and without [M]: how much a quantity is greater with them, and the variance of that."""

    specimen: IntArray
    added: FloatArray
    variance: FloatArray


def _pairs(context: CheckContext, quantity: str) -> tuple[_Pairs, FloatArray]:
    """The pairs of a quantity, and its mean without strings by specimen [S]."""
    means, count = context.catalogue.readings, len(context.catalogue.specimens.ids)
    mine = means.take(means.quantity == context.catalogue.quantities.index(quantity))
    number, mean, variance = np.zeros((2, count)), np.full((2, count), np.nan), np.zeros((2, count))
    sign = np.where(mine.strung, 1.0, -1.0)
    for state in (0, 1):
        some = mine.take(mine.strung == bool(state))
        number[state] = count_by(some.specimen, count)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean[state] = sum_by(some.specimen, some.value, count) / number[state]
            variance[state] = sum_by(some.specimen, some.variance, count) / number[state] ** 2
    effect = sign / number[mine.strung.astype(np.int64), mine.specimen]
    shared = shared_variance(mine.specimen, mine.instrument, effect, context.catalogue.instruments.u_error, count)
    both = np.flatnonzero((number > 0).all(axis=0))
    return _Pairs(both, (mean[1] - mean[0])[both], (variance.sum(axis=0) + shared)[both]), mean[0]


def _shifted(context: CheckContext) -> Iterator[Finding]:
    """What stringing added beside what a string bed adds; one finding a specimen, for its most improbable quantity."""
    pairs = [_pairs(context, name) for name in NAMES[:3]]
    bare = np.stack([mean for _, mean in pairs], axis=1)
    known = np.where(np.isnan(bare), mass_properties.USUAL[0], bare)
    shift = mass_properties.strung_shift(known, _centres(context))
    chance, at = [], []
    for place, (pair, _) in enumerate(pairs):
        u = np.sqrt(pair.variance + shift.u[pair.specimen, place] ** 2)
        chance.append(two_sided((pair.added - shift.value[pair.specimen, place]) / u))
        at += list(zip(pair.specimen.tolist(), [place] * len(u), pair.added.tolist(), u.tolist(), strict=True))
    chances = np.concatenate(chance)
    (readings, name), seen = _named(context), set()
    for index in sorted(np.flatnonzero(holm(chances)).tolist(), key=lambda one: chances[one]):
        specimen, place, added, u = at[index]
        if specimen in seen:
            continue
        seen.add(specimen)
        mine = (readings.specimen == specimen) & (name == place)
        strung, other = (np.sort(readings.row[mine & (readings.strung == state)]).tolist() for state in (1, 0))
        yield Finding(
            "readings",
            "value",
            f"{NAMES[place]} {added:+.1f} {UNITS[place]} by stringing",
            f"{shift.value[specimen, place]:+.1f} ± {2.0 * u:.1f} {UNITS[place]}, for a bed of 16 ± 2 g",
            about=context.catalogue.specimens.ids[specimen],
            rows=(*strung, *other),
        )


def _centres(context: CheckContext) -> FloatArray:
    """Where the middle of each specimen's bed lies, from the butt [S] in mm; as in a usual frame if it was not read."""
    every = _all_bodies(context)
    centre = np.full(len(context.catalogue.specimens.ids), 512.0)
    read = np.flatnonzero(~every.declared)
    centre[every.subject[read]] = every.centre[read]
    return centre


_LIKELY = ("likely-unit", "unit-dimension", "balance-points")
RULES = (
    Rule(
        "impossible-body",
        Severity.error,
        "mass, balance and swingweight that no body has",
        "The moment of inertia about the balance point, swingweight less m·(b - 10 cm)², is never negative, and never more "
        "than that of all mass at the two ends, m·b·(L - b). Real frames lie far inside.",
        "Bhatia & Davis 2000, American Mathematical Monthly 107, 353-357; parallel-axis theorem",
        "Read mass, balance and swingweight again; see that balance is from the butt and the swingweight's axis 10 cm from it",
        _impossible,
        _LIKELY,
    ),
    Rule(
        "unusual-body",
        Severity.warning,
        "a mass, balance, swingweight or spread of mass unlike the package's other frames",
        "Figures far from those of all other frames (strung, or with a bed of 16 g added) are more often slips than frames. "
        "Distance from the median in spreads (median absolute deviation), at a level of 1 % over all figures of the package.",
        "common practice, no source; median absolute deviation: Rousseeuw & Croux 1993, Journal of the American Statistical "
        "Association 88, 1273-1283",
        "Read it again; an unusual frame is accepted with a written reason",
        _unusual,
        ("impossible-body", *_LIKELY),
    ),
    Rule(
        "strung-shift",
        Severity.warning,
        "strung and unstrung figures that no string bed lies between",
        "Stringing adds 16 ± 2 g at the head's centre, which moves balance and swingweight with it. Judged by the uncertainty "
        "of readings and bed, at a level of 1 % over the package (Holm).",
        "common practice, no source; JCGM 100:2008 (GUM), 5.1.2",
        "See which of the two was read strung, and whether grip or weights were changed between",
        _shifted,
        ("impossible-body", "unusual-body", *_LIKELY),
    ),
)
