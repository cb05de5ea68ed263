"""Mass, balance and swingweight: what no body can have, what is unusual, and what stringing adds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.bodies import COLUMNS, NAMES, UNITS, Bodies, all_bodies, flat_readings, strangest
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.science import bodies
from gapbook.science.closing import shared_variance
from gapbook.science.grouping import FloatArray, IntArray, count_by, sum_by
from gapbook.science.levels import holm, student_bound, two_sided


def _about(context: CheckContext, found: Bodies, body: int) -> str:
    ids = context.catalogue.frames.ids if found.declared[body] else context.catalogue.specimens.ids
    return ids[int(found.subject[body])]


def _finding(context: CheckContext, found: Bodies, body: int, which: int, said: str, expected: str, fix: str = "") -> Finding:
    """A finding at one figure of a body."""
    declared = bool(found.declared[body])
    row = int(found.row[body, which])
    others = (*found.row[body].tolist(), int(found.length_row[body]))
    also = tuple(dict.fromkeys(int(one) for one in others if one >= 0 and one != row))
    column = COLUMNS[which] if declared else "value"
    return Finding(found.table(body), column, said, expected, fix, about=_about(context, found, body), rows=(row, *also))


def _figures(found: Bodies, body: int) -> str:
    """The figures of a body in words."""
    known = [place for place in range(3) if not np.isnan(found.value[body, place])]
    words = ", ".join(f"{NAMES[place]} {found.value[body, place]:.4g} {UNITS[place]}" for place in known)
    return f"{words}, {'strung' if found.strung[body] else 'unstrung'}"


def _impossible(context: CheckContext) -> Iterator[Finding]:
    found = all_bodies(context)
    wrong = bodies.impossible(found.value, found.length)
    inertia = bodies.inertia_centre(found.value)
    most = bodies.greatest_inertia(found.value, found.length)
    bad = np.flatnonzero(wrong.balance | wrong.negative | wrong.great)
    for body, which in zip(bad.tolist(), strangest(found, bad).tolist(), strict=True):
        if wrong.balance[body]:
            which, expected = 1, f"a balance point between the butt and {found.length[body]:.0f} mm"
        elif wrong.negative[body]:
            expected = f"no less than 0 kg.cm2 about the balance point, and not {inertia[body]:.0f}"
        else:
            expected = f"at most {most[body]:.0f} kg.cm2 about the balance point, and not {inertia[body]:.0f}"
        yield _finding(context, found, body, which, _figures(found, body), expected)


def _unusual(context: CheckContext) -> Iterator[Finding]:
    found = all_bodies(context)
    figures = np.hstack([found.as_strung, bodies.gyration(found.as_strung)[:, None]])
    usual = bodies.middle_of(figures, bodies.LEAST_SPREAD)
    away = np.where(usual.figures >= bodies.FEWEST, np.abs(figures - usual.middle) / usual.spread, np.nan)
    known = ~np.isnan(away)
    away = np.where(known, away, 0.0)
    bound = student_bound(int(known.sum()), bodies.EFFICIENCY * usual.figures)
    bad = np.flatnonzero((away > bound).any(axis=1))
    strange = strangest(found, bad)
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
        yield _finding(context, found, body, at, _figures(found, body), expected)


class _Pairs(NamedTuple):
    """A quantity read of specimens both strung and bare [M]: what stringing added, its variance without that of the bed."""

    specimen: IntArray
    added: FloatArray
    variance: FloatArray


def _pairs(context: CheckContext, quantity: str) -> tuple[_Pairs, FloatArray]:
    """The pairs of a quantity, and its mean unstrung by specimen [S]."""
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
    pairs = [_pairs(context, name) for name in NAMES[:3]]
    bare = np.stack([mean for _, mean in pairs], axis=1)
    known = np.where(np.isnan(bare), bodies.USUAL[0], bare)
    shift = bodies.strung_shift(known, _centres(context))
    chance, at = [], []
    for place, (pair, _) in enumerate(pairs):
        u = np.sqrt(pair.variance + shift.u[pair.specimen, place] ** 2)
        chance.append(two_sided((pair.added - shift.value[pair.specimen, place]) / u))
        at += list(zip(pair.specimen.tolist(), [place] * len(u), pair.added.tolist(), u.tolist(), strict=True))
    every = np.concatenate(chance)
    flat, seen = flat_readings(context), set()
    for index in sorted(np.flatnonzero(holm(every)).tolist(), key=lambda one: every[one]):
        specimen, place, added, u = at[index]
        if specimen in seen:
            continue
        seen.add(specimen)
        mine = (flat.specimen == specimen) & (flat.name == place)
        strung, other = (np.sort(flat.row[mine & (flat.strung == state)]).tolist() for state in (1, 0))
        yield Finding(
            "readings",
            "value",
            f"{NAMES[place]} {added:+.1f} {UNITS[place]} by stringing",
            f"{shift.value[specimen, place]:+.1f} ± {2.0 * u:.1f} {UNITS[place]}, for a bed of 16 ± 2 g",
            about=context.catalogue.specimens.ids[specimen],
            rows=(*strung, *other),
        )


def _centres(context: CheckContext) -> FloatArray:
    """Where the middle of the bed of each specimen lies [S] in mm: as of its body, else of a usual frame."""
    found = all_bodies(context)
    centre = np.full(len(context.catalogue.specimens.ids), 512.0)
    read = np.flatnonzero(~found.declared)
    centre[found.subject[read]] = found.centre[read]
    return centre


_LIKELY = ("likely-unit", "unit-dimension")
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
