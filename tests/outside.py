"""Checks against the outside as a table: what is checked, its source, the figure expected and the one computed here.

The page derive/docs/validation.md is made of it by `python derive/document.py validation`; a test holds the two together. The
sources and expected figures are those of the tests named beside them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.special import beta

from gapbook.science import gauge_rr
from gapbook.science.outline import area_factor
from gapbook.science.statistics import e_n, holm_adjusted, student_quantile
from gapbook.science.units import lookup
from gapbook.science.zones import BALL_MM
from gauge_example import AIAG
from small import ROOT

PAGE = ROOT / "derive" / "docs" / "validation.md"
MARKS = "<!-- outside -->", "<!-- /outside -->"


class Check(NamedTuple):
    """One check.

    subject: the heading it stands under
    what: what is computed
    source: where the expected figure comes from
    expected: it
    computed: gives the figure that this code computes
    tolerance: relative; how far the two may differ, because of what the source rounds or a model leaves out
    test: the file of tests that has it, with others of its kind
    """

    subject: str
    what: str
    source: str
    expected: float
    computed: Callable[[], float]
    tolerance: float
    test: str


def checks() -> Iterator[Check]:
    """All of them."""
    yield from _units()
    yield from _geometry()
    yield from _bodies()
    yield from _nets()
    yield from _statistics()
    yield from _regressions()


def _units() -> Iterator[Check]:
    from test_units import NIST

    for code, base, factor, tolerance in NIST:
        if factor not in (1.0, 0.01, 10.0, 1000.0):
            what = f"1 {code} in {base}"
            source = "NIST SP 811 (2008), Appendix B.8"
            yield Check(
                "Units", what, source, factor, lambda code=code: lookup(code).factor, tolerance + 1e-15, "test_units.py"
            )


def _geometry() -> Iterator[Check]:
    from test_outline import polygon
    from test_scores_wire import CLOTH, scored

    subject, cloth = "Geometry of beds and heads", "ISO 9044: apertures per cm² of woven wire cloth = (10/p)²"
    for mesh, wire, opening, _percent in CLOTH:

        def density(pitch: float = 25.4 / mesh) -> float:
            return scored(main_centre=pitch, cross_centre=pitch)["density_centre_per_cm2"]

        expected = (10.0 / (25.4 * (opening + wire))) ** 2
        yield Check(
            subject,
            f"density of cloth of {mesh} meshes an inch, per cm²",
            cloth,
            expected,
            density,
            1e-9,
            "test_scores_wire.py",
        )
    rules = "ITF Rules of Tennis, Appendix I: a Type 2 ball is 65.4 to 68.6 mm across; the middle"
    yield Check(subject, "width of a window, mm", rules, (65.4 + 68.6) / 2, lambda: BALL_MM, 1e-12, "test_zones.py")
    hand = "worked by hand from string places, in [what openness is](explanation/openness.md)"
    yield Check(
        subject,
        "main pitch of fern-98-a, mm",
        hand,
        67 / (7.39 / 11.73 + 5 + 7.43 / 12.10),
        lambda: _bed("main_pitch_centre_mm"),
        5e-4,
        "test_answers.py",
    )
    yield Check(
        subject,
        "cross pitch of fern-98-a, mm",
        hand,
        67 / (10.35 / 12.54 + 4 + 11.62 / 12.54),
        lambda: _bed("cross_pitch_centre_mm"),
        5e-4,
        "test_answers.py",
    )
    ellipse = "area of an ellipse: π/4 of its box"
    yield Check(
        subject,
        "area of a superellipse of exponent 2 over its box",
        ellipse,
        math.pi / 4,
        lambda: float(area_factor(np.array(2.0))),
        1e-14,
        "test_outline.py",
    )
    for exponent in (1.7, 2.1, 2.7):

        def factor(exponent: float = exponent) -> float:
            return float(area_factor(np.array(exponent)))

        what = f"the same of exponent {exponent}"
        yield Check(
            subject,
            what,
            "scipy.special.beta: B(1/n, 1/n)/(2n)",
            beta(1 / exponent, 1 / exponent) / (2 * exponent),
            factor,
            1e-12,
            "test_outline.py",
        )
    area = polygon(250, 340, 2.1).area / (250 * 340)
    yield Check(
        subject,
        "the same of exponent 2.1",
        "shapely: a polygon of 20,000 corners",
        area,
        lambda: float(area_factor(np.array(2.1))),
        1e-6,
        "test_outline.py",
    )


def _bed(column: str) -> float:
    from demo_rows import derived

    return float(derived("beds")["fern-98-a"][column])


def _bodies() -> Iterator[Check]:
    from test_handling import BUTT, CENTRE, PERCUSSION, found, stated

    subject, length, mass = "Mass and inertia", 685.0, 300.0
    swing = (mass * length**2 / 12 + mass * (length / 2 - 100.0) ** 2) * 1e-5

    def rod(place: int) -> Callable[[], float]:
        return lambda: float(found(stated(mass, length / 2, swing), length)[0][place])

    textbook = "textbook: uniform rod"
    yield Check(
        subject,
        "inertia of a rod of 300 g and 685 mm about its middle, kg·cm²",
        f"{textbook}, m·L²/12",
        mass * length**2 / 12 * 1e-5,
        rod(CENTRE),
        1e-12,
        "test_handling.py",
    )
    yield Check(
        subject,
        "the same about its end, kg·cm²",
        f"{textbook}, m·L²/3",
        mass * length**2 / 3 * 1e-5,
        rod(BUTT),
        1e-12,
        "test_handling.py",
    )
    yield Check(
        subject,
        "its centre of percussion from the end, mm",
        f"{textbook}, 2L/3",
        2 * length / 3,
        rod(PERCUSSION),
        1e-12,
        "test_handling.py",
    )


def _nets() -> Iterator[Check]:
    from test_mechanics_membranes import CENTRE, STRING_KG_MM, TENSION, Membrane, S, bessel, even, respond, stiffness_at
    from test_stretching import ALONE, EA, T, press, strings, under_the_ball

    subject, file = "Stiffness and frequency", "test_mechanics_membranes.py"
    a, b, q = 120.0, 160.0, 2e-3
    yield Check(
        subject,
        "sag of an elliptic membrane of 240 by 320 mm under pressure, mm",
        "exact: q·a²b²/(2S(a² + b²))",
        q * a * a * b * b / (2 * S * (a * a + b * b)),
        lambda: Membrane(65, 87, 240.0, 320.0).under_pressure(q),
        3e-4,
        file,
    )
    yield Check(
        subject,
        "sag of a square membrane of 240 mm under pressure, mm",
        "0.0736714·q·s²/S (from memory, confirmed by its series)",
        0.0736714 * q * 240.0**2 / S,
        lambda: Membrane(63, 63, 240.0, 240.0, 400.0).under_pressure(q),
        3e-4,
        file,
    )
    yield Check(
        subject,
        "lowest frequency of a circular membrane of radius 150 mm, rad/s",
        "first zero of Bessel's J₀ (scipy.special)",
        bessel(150.0) * math.sqrt(S / 1e-6),
        lambda: Membrane(64, 64, 300.0, 300.0).frequency(1e-6),
        3e-4,
        file,
    )
    yield Check(
        subject,
        "stiffness of a circular bed of 61 by 61 strings, N/mm",
        "exact for a membrane: 2πS/(ln(R/c) + 11/24)",
        2 * math.pi * TENSION / (300.0 / 61) / (math.log(150.0 / 33.5) + 11 / 24),
        lambda: float(stiffness_at(even(61, 61, 300.0, 300.0), CENTRE)[0, 0]),
        0.004 * 31 / 61,
        file,
    )
    yield Check(
        subject,
        "lowest frequency of a circular bed of 64 by 64 strings, Hz",
        "the same with Bessel's zero",
        bessel(150.0) / math.tau * math.sqrt(TENSION / (2 * STRING_KG_MM) * 1e3),
        lambda: math.exp(respond(even(64, 64, 300.0, 300.0), TENSION, TENSION).logs[0, 5]),
        0.16 / 64,
        file,
    )
    depth, half, pull = 25.0, 160.0, T
    h = math.hypot(half, depth)

    def pressed() -> float:
        bed = strings([0.0], [0.0], [0.0], 250.0, 320.0)
        return float(press(bed, under_the_ball(bed), [depth], (T, ALONE), (EA, ALONE))[0].force[0])

    yield Check(
        subject,
        "force on one string of 320 mm that stretches, pressed in by 25 mm, N",
        "exact: T + EA·Δℓ/ℓ in both halves",
        2 * (pull + EA * (h - half) / half) * depth / h,
        pressed,
        1e-6,
        "test_stretching.py",
    )


def _statistics() -> Iterator[Check]:
    from test_gauge import PART, PERSON
    from test_statistics import HOLM, grubbs_of_a_cell

    subject = "Readings and people"
    aiag = "AIAG MSA manual, worked example (data from memory)"
    published = {"ev": 0.19993, "av": 0.22684, "grr": 0.30237, "pv": 1.04233, "tv": 1.08530}
    titles = ("repeatability", "reproducibility", "both", "part variation", "total variation")
    for (name, expected), title in zip(published.items(), titles, strict=True):

        def figure(name: str = name) -> float:
            return float(getattr(gauge_rr.gauge_study(PART, PERSON, AIAG.ravel()), name))

        yield Check(subject, f"{title} of a gauge study", aiag, expected, figure, 5e-5, "test_gauge.py")
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    yield Check(
        subject,
        "Grubbs' G of eight values",
        "NIST/SEMATECH e-Handbook 1.3.5.17.1",
        2.4687,
        lambda: float(grubbs_of_a_cell(values)),
        5e-5,
        "test_statistics.py",
    )
    yield Check(
        subject,
        "E_n of 0.5 apart with U of 0.3 and 0.4",
        "ISO 13528, by hand (3-4-5)",
        1.0,
        lambda: float(e_n(np.array([0.5]), np.array([math.hypot(0.15, 0.2)]))[0]),
        1e-12,
        "test_statistics.py",
    )
    chance, adjusted = HOLM[0]
    yield Check(
        subject,
        f"Holm's p of {chance[1]:g} among {', '.join(f'{one:g}' for one in chance)}",
        "Holm 1979, by hand",
        adjusted[1],
        lambda: float(holm_adjusted(np.array(chance))[1]),
        1e-12,
        "test_statistics.py",
    )
    for freedom, t in ((3, 3.182), (11, 2.201)):

        def quantile(freedom: int = freedom) -> float:
            return float(student_quantile(0.95, freedom))

        yield Check(
            subject,
            f"half width of a 95 % interval at {freedom} degrees of freedom",
            "NIST/SEMATECH e-Handbook 1.3.6.7.2",
            t,
            quantile,
            2e-4,
            "test_relation_edges.py",
        )


def _regressions() -> Iterator[Check]:
    from statsmodels.datasets import longley

    from test_relation_values import LONGLEY, NORRIS_SLOPE, norris, one_tester, slope_of

    subject, file = "Regression", "test_relation_values.py"
    data = longley.load_pandas()
    source = "NIST StRD, linear regression, Longley: certified (from memory)"
    for name, (estimate, _) in LONGLEY.items():

        def slope(name: str = name) -> float:
            given = data.exog.drop(columns=name).to_numpy()
            return float(slope_of(one_tester(data.endog.to_numpy(), data.exog[name].to_numpy(), given))[0])

        yield Check(subject, f"slope on {name}", source, estimate, slope, 1e-7, file)
    yield Check(
        subject,
        "slope of Norris",
        "NIST StRD, linear regression, Norris: certified (from memory)",
        NORRIS_SLOPE,
        lambda: float(slope_of(one_tester(*norris()))[0]),
        1e-12,
        file,
    )


def text() -> str:
    """The tables of all checks, as Markdown."""
    made, subject = [], ""
    for one in checks():
        if one.subject != subject:
            subject = one.subject
            made.append(
                f"\n### {subject}\n\n| what | source | expected | computed | held within | test |\n|---|---|---|---|---|---|\n"
            )
        figures = f"{_shown(one.expected)} | {_shown(one.computed())} | {_within(one.tolerance)}"
        made.append(f"| {one.what} | {one.source} | {figures} | `{one.test.removesuffix('.py')}` |\n")
    return "".join(made)


def _shown(value: float) -> str:
    return f"{value:.7g}"


def _within(tolerance: float) -> str:
    return "a rounding" if tolerance < 1e-8 else f"{100 * tolerance:.5f}".rstrip("0") + " %"


def write(page: Path = PAGE) -> None:
    """Put the tables between the marks of the page."""
    before, _, rest = page.read_text(encoding="utf-8").partition(MARKS[0])
    _, _, after = rest.partition(MARKS[1])
    page.write_text(f"{before}{MARKS[0]}\n{text()}\n{MARKS[1]}{after}", encoding="utf-8")


def kept(page: Path = PAGE) -> str:
    """The tables as the page has them."""
    found = re.search(f"{re.escape(MARKS[0])}\n(.*)\n{re.escape(MARKS[1])}", page.read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found[1]
