"""Weight added to a frame: sums over point masses, the uniform rod, a strip, uncertainty, and what is refused."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from gapbook.errors import GapbookError
from gapbook.questions.additions import parse, what_if
from gapbook.science.added_mass import Added, Handling, with_additions
from gapbook.science.comparison import Figure
from running import gapbook
from small import Small

G_MM2 = 1e-5  # kg·cm² in a g·mm²
POINT = 25.4 / 8  # mm; a balance point is an eighth of an inch (common practice)
LENGTH = 685.0


def about(body: list[tuple[float, float]], axis: float) -> float:
    """Moment of inertia [kg·cm²] of point masses [g] at places [mm] about an axis, by the sum m·(x - axis)²."""
    m, x = np.array(body).T
    return float(np.sum(m * (x - axis) ** 2)) * G_MM2


def summed(body: list[tuple[float, float]]) -> list[float]:
    """Mass, balance, points, swingweight, inertia about the balance point and the butt, centre of percussion, by sums."""
    m, x = np.array(body).T
    balance = float(np.sum(m * x) / np.sum(m))
    points = (balance - LENGTH / 2) / POINT
    percussion = float(np.sum(m * x**2) / np.sum(m * x))
    return [float(np.sum(m)), balance, points, about(body, 100.0), about(body, balance), about(body, 0.0), percussion]


def exact(values: list[float]) -> Handling:
    return Handling(*(Figure(value, 0.0) for value in values))


def values(found: Handling) -> list[float]:
    return [figure.value for figure in found]


masses = st.tuples(st.floats(1.0, 60.0), st.floats(1.0, LENGTH))  # a body all at the butt has no centre of percussion


@given(st.lists(masses, min_size=2, max_size=20), st.lists(masses, min_size=1, max_size=4))
def test_point_masses_added_to_any_body(body, more):
    found = with_additions(exact(summed(body)), [Added(m, x, x) for m, x in more])
    assert values(found) == pytest.approx(summed([*body, *more]), rel=1e-9, abs=1e-7)


@given(st.lists(masses, min_size=2, max_size=20), st.floats(1.0, 60.0), st.floats(0.0, 300.0), st.floats(1.0, 300.0))
def test_a_strip_is_a_thousand_points_in_a_row(body, mass, start, span):
    strip = [(mass / 1000, start + span * (k + 0.5) / 1000) for k in range(1000)]
    found = with_additions(exact(summed(body)), [Added(mass, start, start + span)])
    # The midpoint rule for a parabola over n pieces falls short by m·l²/(12·n²): 60 g over 300 mm, 4.5e-6 kg·cm².
    # The centre of percussion falls short by that over a moment of at least 60 g·mm.
    expected = summed([*body, *strip])
    assert values(found)[:-1] == pytest.approx(expected[:-1], rel=1e-9, abs=5e-6)
    assert values(found)[-1] == pytest.approx(expected[-1], rel=1e-6, abs=1e-3)


def test_a_rod_lengthened_is_the_longer_rod():
    # A uniform rod: m·L²/12 about its middle, m·L²/3 about its end. 240 g over 480 mm, then 60 g from 480 to 600 mm.
    def rod(mass: float, length: float) -> list[float]:
        swing = mass * (length**2 / 12 + (length / 2 - 100.0) ** 2) * G_MM2
        points = (length / 2 - LENGTH / 2) / POINT
        inertias = [mass * length**2 / 12 * G_MM2, mass * length**2 / 3 * G_MM2]
        return [mass, length / 2, points, swing, *inertias, 2 * length / 3]  # a rod's centre of percussion: two thirds

    assert values(with_additions(exact(rod(240.0, 480.0)), [Added(60.0, 480.0, 600.0)])) == pytest.approx(rod(300.0, 600.0))


def test_five_grams_at_the_tip_by_hand():
    # 320 g at 320 mm, swingweight 320; 5 g at 680 mm: (102400 + 3400)/325 = 325.538 mm; 320 + 0.005·58² = 336.82 kg·cm².
    # Inertia about the balance point before: 320 - 0.320·22² = 165.12; about the butt 165.12 + 0.320·32² = 492.80.
    # After: about the butt 492.80 + 0.005·68² = 515.92; about the balance point 515.92 - 0.325·32.5538² = 171.50.
    # Centre of percussion: 492.80/(0.320·32) = 48.125 cm before, 515.92/10.58 = 48.7637 cm after.
    before = Handling(*map(Figure, (320.0, 320.0, (320 - 342.5) / POINT, 320.0, 165.12, 492.80, 481.25), (0.0,) * 7))
    found = values(with_additions(before, [Added(5.0, 680.0, 680.0)]))
    points = (325.5385 - 342.5) / POINT
    assert found == pytest.approx([325.0, 325.5385, points, 336.82, 171.50, 515.92, 487.637], abs=0.005)


@pytest.mark.parametrize("place", [0.0, 100.0, 320.0, 680.0])
def test_uncertainty_is_that_of_linear_propagation(place):
    m, b, s = ufloat(320.0, 2.0), ufloat(320.0, 2.0), ufloat(320.0, 3.0)

    def figures(extra: float) -> list:
        mass = m + extra
        balance = (m * b + extra * place) / mass
        swing = s + extra * (place - 100.0) ** 2 * G_MM2
        centre = swing - mass * (balance - 100.0) ** 2 * G_MM2
        butt = centre + mass * balance**2 * G_MM2
        return [mass, balance, (balance - LENGTH / 2) / POINT, swing, centre, butt, butt / (mass * balance * G_MM2)]

    before = Handling(*(Figure(one.n, one.s) for one in figures(0.0)))
    found = with_additions(before, [Added(8.0, place, place)])
    assert values(found) == pytest.approx([one.n for one in figures(8.0)], rel=1e-9)
    assert [one.u for one in found] == pytest.approx([one.s for one in figures(8.0)], rel=1e-6)


@pytest.mark.parametrize("stated", [3.0, 8.0])
def test_adding_next_to_nothing_keeps_the_stated_uncertainty(stated):
    """Inertias whose u is not that of independent inputs (converted figures) keep it."""
    figures = (320.0, 320.0, -7.1, 320.0, 165.12, 492.80, 481.25)
    before = Handling(*map(Figure, figures, (2.0, 2.0, 0.63, 3.0, stated, stated, stated)))
    found = with_additions(before, [Added(1e-6, 600.0, 600.0)])
    assert found.inertia_centre.u == pytest.approx(stated, rel=1e-4)
    assert found.inertia_butt.u == pytest.approx(stated, rel=1e-4)
    assert found.percussion.u == pytest.approx(stated, rel=1e-4)


def test_what_is_not_known_stays_unknown():
    mass_alone = Handling(Figure(300.0, 2.0), None, None, None, None, None, None)
    heavier = with_additions(mass_alone, [Added(5.0, 600.0, 600.0)])
    assert heavier == (Figure(305.0, 2.0), None, None, None, None, None, None)
    swing_alone = Handling(None, None, None, Figure(320.0, 3.0), None, None, None)
    # 10 g at 600 mm: 0.010·50² = 25 kg·cm².
    found = with_additions(swing_alone, [Added(10.0, 600.0, 600.0)])
    assert found.swingweight == pytest.approx((345.0, 3.0))
    assert found.mass is None
    assert found.inertia_centre is None


UNDERSTOOD = [
    ("5 g at 680 mm", (5.0, 680.0, 680.0)),
    ("5g at 680mm", (5.0, 680.0, 680.0)),
    ("  2.5 G  AT 68 cm ", (2.5, 680.0, 680.0)),
    ("0.005 kg at 26 in", (5.0, 660.4, 660.4)),  # 1 in = 25.4 mm exactly [NIST SP 811]
    ("0.2 oz at 26.5 in", (0.2 * 28.349523125, 673.1, 673.1)),  # 1 oz = 28.349523125 g [NIST SP 811]
    ("5 g at the tip", (5.0, 685.0, 685.0)),
    ("5 g at 27 in", (5.0, 685.0, 685.0)),  # 685.8 mm: a frame of 27 in is declared as 685 mm (common practice)
    ("5 g at 68.6 cm", (5.0, 685.0, 685.0)),
    ("5 g at 687 mm", (5.0, 685.0, 685.0)),  # 2 mm of rounding and no more
    ("10 g over 26 to 27 in", (10.0, 660.4, 685.0)),
    ("10 g over 0-180 mm", (10.0, 0.0, 180.0)),
    ("10 g over 20 mm to 180 mm", (10.0, 20.0, 180.0)),
    ("10 g over 1 to 7 in", (10.0, 25.4, 177.8)),
    ("10 g over 0–18 cm", (10.0, 0.0, 180.0)),
    ("10 g at the grip", (10.0, 0.0, 180.0)),  # a grip of 180 mm: common practice, no source
    ("100 g at 0 mm", (100.0, 0.0, 0.0)),
]


@pytest.mark.parametrize(("text", "meant"), UNDERSTOOD, ids=[case[0] for case in UNDERSTOOD])
def test_understood(text, meant):
    assert tuple(parse(text, LENGTH)) == pytest.approx(meant)


REFUSED = [
    ("5 g", "bad-addition", "5 g"),
    ("", "bad-addition", "at 680 mm"),
    ("5 g near the tip", "bad-addition", "near"),
    ("5 lb at 680 mm", "wrong-unit", "lb"),
    ("5 mm at 680 mm", "wrong-unit", "mm"),
    ("5 g at 680 g", "wrong-unit", "'g'"),
    ("5 at 680 mm", "no-unit", "'5'"),
    ("5 g at 680", "no-unit", "680"),
    ("-5 g at 680 mm", "bad-amount", "-5 g"),
    ("5,5 g at 680 mm", "bad-amount", "5,5 g"),
    ("nan g at 680 mm", "bad-amount", "nan"),
    ("1e3 g at 680 mm", "bad-amount", "1e3"),
    ("0 g at 680 mm", "bad-mass", "0 g"),
    ("100.1 g at 680 mm", "bad-mass", "100.1 g"),
    ("1 kg at 680 mm", "bad-mass", "1 kg"),
    ("5 g at 687.1 mm", "off-the-frame", "0 to 685 mm from the butt"),
    ("5 g at 27.1 in", "off-the-frame", "0 to 685 mm (26.97 in) from the butt"),  # 688.3 mm; 685/25.4 = 26.968
    ('5 g at 28"', "off-the-frame", "0 to 685 mm (26.97 in) from the butt"),
    ("5 g at 70 cm", "off-the-frame", "0 to 685 mm (68.5 cm) from the butt"),
    ("10 g over 686 to 687 mm", "no-stretch", "686 to 687"),
    ("5 g at -1 mm", "bad-amount", "-1 mm"),
    ("10 g over 180-20 mm", "no-stretch", "180-20"),
    ("10 g over 600-700 mm", "off-the-frame", "700 mm"),
]


@pytest.mark.parametrize(("text", "code", "told"), REFUSED, ids=[case[0] for case in REFUSED])
def test_refused_with_what_was_found(text, code, told):
    with pytest.raises(GapbookError) as raised:
        parse(text, LENGTH)
    assert raised.value.problems[0].code == code
    assert told in str(raised.value)


def test_a_frame_of_unknown_length():
    # The longest frame allowed is 73.7 cm: ITF Rules of Tennis, Appendix II.
    assert parse("5 g at 737 mm", None) == (5.0, 737.0, 737.0)
    for text, code in (("5 g at 738 mm", "off-the-frame"), ("5 g at the tip", "no-length")):
        with pytest.raises(GapbookError) as raised:
            parse(text, None)
        assert raised.value.problems[0].code == code


def test_all_additions_together_have_a_limit():
    assert what_if(None, LENGTH, ["50 g at 1 mm", "50 g at 2 mm"]).added_mass_g == 100.0
    with pytest.raises(GapbookError) as raised:
        what_if(None, LENGTH, ["50 g at 1 mm", "51 g at 2 mm"])
    assert raised.value.problems[0].code == "too-heavy"
    assert "101 g" in str(raised.value)


def test_nothing_known_of_the_frame_still_says_what_is_added():
    found = what_if(None, LENGTH, ["5 g at 680 mm"])
    assert found.added_swingweight_kgcm2 == pytest.approx(16.82)  # 0.005·58²
    assert set(found.handling.values()) == {None}


def test_show_json_has_the_documented_keys():
    plain = json.loads(gapbook("show", "fern-98", "--json").stdout)
    assert plain["with_additions"] is None
    run = gapbook("show", "fern-98", "--add", "5 g at 680 mm", "--add", "10 g over 0-180 mm", "--json")
    document = json.loads(run.stdout)
    found = document["with_additions"]
    assert set(found) == {"additions", "added_mass_g", "added_swingweight_kgcm2", "handling"}
    assert [set(one) for one in found["additions"]] == [{"text", "mass_g", "from_mm", "to_mm"}] * 2
    assert set(found["handling"]) == set(document["handling"]) - {"frame_id", "basis", "strung"}
    assert document["handling"] == plain["handling"]
    # By sums: the frame as a point of its mass at its balance with its inertia about it; a strip has m·l²/12 of its own.
    row, grip = document["handling"], 10.0 * 180.0**2 / 12 * G_MM2
    mass = row["mass_g"] + 15.0
    balance = (row["mass_g"] * row["balance_mm"] + 5 * 680 + 10 * 90) / mass
    swing = row["swingweight_kgcm2"] + (5 * 580**2 + 10 * 10**2) * G_MM2 + grip
    now = found["handling"]
    assert [now["mass_g"], now["balance_mm"], now["swingweight_kgcm2"]] == pytest.approx([mass, balance, swing])
    butt = row["inertia_butt_kgcm2"] + (5 * 680**2 + 10 * 90**2) * G_MM2 + grip
    assert now["inertia_butt_kgcm2"] == pytest.approx(butt)
    assert now["inertia_centre_kgcm2"] == pytest.approx(butt - mass * balance**2 * G_MM2, rel=1e-4)  # six digits stored
    assert now["u_mass_g"] == row["u_mass_g"]
    assert math.isclose(now["balance_points"] - row["balance_points"], (balance - row["balance_mm"]) / POINT, rel_tol=1e-9)


@pytest.mark.parametrize("columns", ["50", "80"])
def test_the_screen_shows_the_change_and_cautions(columns):
    run = gapbook("show", "fern-98", "--add", "5 g at 680 mm", COLUMNS=columns)
    assert run.returncode == 0
    assert max(len(line) for line in run.stdout.splitlines()) <= int(columns)
    text = " ".join(run.stdout.split())
    assert "With 5 g at 680 mm added" in text
    assert "+16.8" in text  # 0.005·58² = 16.82 kg·cm² of swingweight
    for said in ("Lead is toxic", "tungsten", "wash your hands", "small steps", "qualified", "physician"):
        assert said in text


def test_imperial():
    text = gapbook("show", "fern-98", "--add", "5 g at 680 mm", "--units", "imperial").stdout
    assert "With 0.176 oz at 26.77 in added" in text  # 5/28.3495, 680/25.4


def test_a_frame_nobody_weighed(tmp_path):
    small = Small()
    small.frame("one", length_mm=685)
    package = small.write(tmp_path / "package")
    assert gapbook("derive", "--package", str(package)).returncode == 0
    run = gapbook("show", "one", "--add", "5 g at 680 mm", "--package", str(package))
    assert run.returncode == 0
    assert "Not known of this frame" in run.stdout
    assert "16.8 kg·cm² of swingweight" in " ".join(run.stdout.split())


def test_bad_additions_exit_2():
    run = gapbook("show", "fern-98", "--add", "5 lb at 680 mm")
    assert (run.returncode, run.stdout) == (2, "")
    assert "found 'lb'" in run.stderr
