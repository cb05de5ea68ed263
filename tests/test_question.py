"""The parts of a question: bounds and what they mean, ranges."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asked import bound
from gapbook.errors import GapbookError
from gapbook.questions.language import parse
from gapbook.questions.ranges import Bound, Range, shown
from gapbook.questions.traits import TRAITS
from gapbook.questions.wording import widened

# NIST SP 811 (2008), B.8: in² = 6.4516 cm² and in = 25.4 mm exactly; oz = 453.59237 g / 16 exactly.
FACTORS = {"cm2": "1", "[sin_i]": "6.4516", "mm": "1", "[in_i]": "25.4", "g": "1", "[oz_av]": "28.349523125"}
UNITS_OF = {"head_area": ("cm2", "[sin_i]"), "length": ("mm", "[in_i]"), "mass": ("g", "[oz_av]")}


def code(error: pytest.ExceptionInfo[GapbookError]) -> str:
    return error.value.problems[0].code


def rounded(value: Fraction, decimals: int) -> Fraction:
    """Half up on the magnitude, in exact fractions: floor(|x|·10^d + 1/2) / 10^d."""
    scaled = abs(value) * 10**decimals + Fraction(1, 2)
    whole = Fraction(scaled.numerator // scaled.denominator, 10**decimals)
    return -whole if value < 0 else whole


def balance(**ends: Bound) -> Range:
    """A range of a trait whose values may be negative."""
    return Range(trait="balance", unit="points", **ends)


# (bound, value in the bound's unit, holds as the low end, holds as the high end): a bound holds for the value itself
# (design, section 7); by hand.
ENDS = [
    ("95", "94.99", False, True),
    ("95", "95", True, True),
    ("98", "98.01", True, False),
    ("11.0", "10.99", False, True),
    ("11.0", "11.00", True, True),
    ("-4", "-3.99", True, False),
    ("-4", "-4", True, True),
    ("-4", "-4.01", False, True),
    ("0", "0.001", True, False),
    ("0", "0", True, True),
]


class TestBounds:
    @pytest.mark.parametrize(("written", "value", "low", "high"), ENDS)
    def test_inclusive(self, written: str, value: str, low: bool, high: bool) -> None:
        assert balance(low=bound(written)).holds(float(value)) is low
        assert balance(high=bound(written)).holds(float(value)) is high

    def test_exclusive_leaves_out_the_bound_alone(self) -> None:
        assert not balance(high=bound("100", False)).holds(100.0)
        assert balance(high=bound("100", False)).holds(99.99)
        assert not balance(low=bound("98", False)).holds(98.0)
        assert balance(low=bound("98", False)).holds(98.01)

    @pytest.mark.parametrize("value", ["1e400", "1000000001", "0.0000000001"])
    def test_unusable_numbers_are_refused(self, value: str) -> None:
        with pytest.raises(GapbookError) as error:
            bound(value)
        assert code(error) == "number-out-of-range"

    @pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity"])
    def test_bounds_are_finite(self, value: str) -> None:
        with pytest.raises(ValueError, match="finite number"):
            bound(value)

    def test_exponents_and_negative_zero_are_written_out(self) -> None:
        assert str(bound("1E+2").value) == "100"
        assert str(bound("-0.0").value) == "0.0"


class TestRanges:
    def test_a_head_in_whole_square_inches_is_as_the_trade_writes_it(self) -> None:
        """Design, section 7: a 632.3 cm² head is 98 sq in, which is 97.5 to 98.5."""
        head = Range(trait="head_area", unit="[sin_i]", low=bound("95"), high=bound("98"))
        assert head.holds(632.3)
        assert not head.holds(98.5 * 6.4516)
        assert head.holds(94.5 * 6.4516)
        assert not head.holds(94.49 * 6.4516)
        assert not Range(trait="head_area", unit="[sin_i]", high=bound("100", False)).holds(99.5 * 6.4516)

    @pytest.mark.parametrize(("unit", "high"), [("[sin_i]", "98.0"), ("cm2", "632")])
    def test_other_heads_are_not(self, unit: str, high: str) -> None:
        assert not Range(trait="head_area", unit=unit, high=bound(high)).holds(632.3)

    @pytest.mark.parametrize(
        ("trait", "unit", "written", "held", "missed"),
        [
            ("length", "[in_i]", "27", (26.5 * 25.4, 27.49 * 25.4), (26.49 * 25.4, 27.5 * 25.4)),
            ("length", "[in_i]", "27.0", (26.95 * 25.4, 27.04 * 25.4), (26.94 * 25.4, 27.06 * 25.4)),
            ("swingweight", "kg.cm2", "320", (319.5, 320.49), (319.49, 320.5)),
            ("balance", "points", "-4", (-3.5, -4.49), (-3.49, -4.5)),
            ("balance", "points", "0", (-0.49, 0.49), (-0.5, 0.5)),
        ],
    )
    def test_a_figure_alone_is_half_a_unit_either_way(
        self, trait: str, unit: str, written: str, held: tuple[float, ...], missed: tuple[float, ...]
    ) -> None:
        """Design, section 7; in = 25.4 mm exactly (NIST SP 811, B.8)."""
        alone = Range(trait=trait, unit=unit, low=bound(written), high=bound(written))
        assert [alone.holds(value) for value in (*held, *missed)] == [True, True, False, False]

    @given(
        trait=st.sampled_from(sorted(UNITS_OF)),
        second=st.booleans(),
        written=st.decimals(min_value=0, max_value=2000, places=1),
        decimals=st.integers(0, 2),
        low_end=st.booleans(),
        inclusive=st.booleans(),
        off=st.decimals(min_value=-2, max_value=2, places=3),
    )
    def test_holds_as_exact_arithmetic_does(
        self, trait: str, second: bool, written: Decimal, decimals: int, low_end: bool, inclusive: bool, off: Decimal
    ) -> None:
        """Values at the bound and around it, exact halves among them, against fractions."""
        unit = UNITS_OF[trait][second]
        value = written.quantize(Decimal(1).scaleb(-decimals))
        ends = {"low" if low_end else "high": Bound(value=value, inclusive=inclusive)}
        factor = Fraction(FACTORS[unit])
        measured = (Fraction(value) + Fraction(off)) * factor
        judged = measured / factor
        if (unit, decimals) == ("[sin_i]", 0):
            judged = rounded(judged, 0)
        expected = inclusive if judged == value else (judged > value) is low_end
        assert Range(trait=trait, unit=unit, **ends).holds(float(measured)) is expected

    @given(written=st.integers(-30, 30), low_end=st.booleans(), inclusive=st.booleans(), eighths=st.integers(-300, 300))
    def test_points_on_both_sides_of_even(self, written: int, low_end: bool, inclusive: bool, eighths: int) -> None:
        value = Fraction(eighths, 8)
        ends = {"low" if low_end else "high": Bound(value=Decimal(written), inclusive=inclusive)}
        expected = inclusive if value == written else (value > written) is low_end
        assert Range(trait="balance", unit="points", **ends).holds(float(value)) is expected
        alone = Bound(value=Decimal(written))
        assert Range(trait="balance", unit="points", low=alone, high=alone).holds(float(value)) is (
            rounded(value, 0) == written
        )

    @pytest.mark.parametrize("openness", [90.85, 93.35, 95.85, 128.45])
    def test_halves_that_binary_fractions_miss(self, openness: float) -> None:
        """A tenth of these is a half in hundredths of a millimetre, but a hair less as a binary fraction."""
        half = Decimal(str(openness)) / 10
        assert openness * 0.1 < float(half)
        up, down = (Bound(value=(half + side).quantize(Decimal("0.01"))) for side in (Decimal("0.005"), -Decimal("0.005")))
        assert Range(trait="mesh", unit="mm", low=up, high=up).holds(openness * 0.1)
        assert not Range(trait="mesh", unit="mm", low=down, high=down).holds(openness * 0.1)
        at = Bound(value=half)
        assert Range(trait="mesh", unit="mm", low=at).holds(openness * 0.1)
        assert not Range(trait="mesh", unit="mm", high=Bound(value=half, inclusive=False)).holds(openness * 0.1)

    def test_counts_are_whole(self) -> None:
        sixteen = Range(trait="mains", low=bound("16.0"), high=bound("16"))
        assert str(sixteen.low.value) == "16"
        assert [sixteen.holds(count) for count in (15.0, 16.0, 17.0)] == [False, True, False]
        with pytest.raises(GapbookError) as error:
            Range(trait="mains", low=bound("16.5"))
        assert code(error) == "not-whole"

    @pytest.mark.parametrize(
        ("fields", "expected"),
        [
            ({"trait": "mass", "unit": "g", "low": "98", "high": "95"}, "empty-range"),
            ({"trait": "mass", "unit": "g"}, "empty-range"),
            ({"trait": "mass", "unit": "mm", "low": "1"}, "wrong-unit"),
            ({"trait": "head_area", "unit": "mm", "low": "1"}, "wrong-unit"),
            ({"trait": "mass", "unit": "g", "low": "-1"}, "negative"),
            ({"trait": "density", "zone": "tip", "unit": "/cm2", "low": "1"}, "wrong-zone"),
            ({"trait": "mass", "zone": "tip", "unit": "g", "low": "1"}, "wrong-zone"),
            ({"trait": "colour", "unit": "", "low": "1"}, "unknown-trait"),
        ],
    )
    def test_what_cannot_be_is_refused(self, fields: dict[str, str], expected: str) -> None:
        ends = {end: bound(fields.pop(end)) for end in ("low", "high") if end in fields}
        with pytest.raises(GapbookError) as error:
            Range(**fields, **ends)
        assert code(error) == expected

    @pytest.mark.parametrize(("low", "high"), [((98, True), (98, False)), ((98, False), (98, True))])
    def test_equal_ends_must_both_be_included(self, low: tuple[int, bool], high: tuple[int, bool]) -> None:
        with pytest.raises(GapbookError) as error:
            Range(trait="mass", unit="g", low=bound(str(low[0]), low[1]), high=bound(str(high[0]), high[1]))
        assert code(error) == "empty-range"

    @pytest.mark.parametrize(("trait", "unit"), [("mains", ""), ("head_area", "[sin_i]")])
    def test_no_whole_number_is_between_two_neighbours(self, trait: str, unit: str) -> None:
        with pytest.raises(GapbookError) as error:
            Range(trait=trait, unit=unit, low=bound("98", False), high=bound("99", False))
        assert code(error) == "empty-range"
        assert Range(trait="mass", unit="g", low=bound("98", False), high=bound("99", False)).holds(98.5)

    def test_the_usual_zone_is_the_centre(self) -> None:
        assert Range(trait="mesh", unit="mm", high=bound("11")).zone == "centre"
        assert Range(trait="mass", unit="g", high=bound("320")).zone is None


# Clause, and the range that is said to be meant (None: nothing to say). By hand from design, section 7.
WIDENED = [
    ("length 27 in", "“length 27 in” means length 26.5 to 27.5 in"),
    ("swingweight 320", "“swingweight 320 kg·cm²” means swingweight 319.5 to 320.5 kg·cm²"),
    ("balance 4 points head light", "means balance 3.5 to 4.5 points head light"),
    ("even balance", "means balance 0.5 points head light to 0.5 points head heavy"),
    ("side opening 8.0%", "means side opening 7.95 to 8.05%"),
    ("98 sq in", "“head 98 sq in” means head 97.5 to 98.5 sq in"),
    ("95-98 sq in", "means head 94.5 to 98.5 sq in"),
    ("at least 95 sq in", "means head at least 94.5 sq in"),
    ("mesh under 11 mm", None),
    ("uniformity under 1", None),
    ("head 98.0-99.0 sq in", None),
    ("612-632 cm2", None),
    ("16 mains, mass under 320 g", None),
    ("head light", None),
    ("tighter than fern-98", None),
]


@pytest.mark.parametrize(("text", "said"), WIDENED)
def test_what_a_figure_alone_means_is_told(text: str, said: str | None) -> None:
    told = widened(parse(text))
    if said is None:
        assert told == []
    else:
        (sentence,) = told
        assert said in sentence


# Value [computing unit], trait, unit, question that it is shown beside, how: one digit more if it would look wrong. By hand.
SHOWN = [
    (10.998, "mesh", "mm", "mesh under 11 mm", "10.998"),
    (10.9951, "mesh", "mm", "mesh under 11 mm", "10.995"),
    (10.99, "mesh", "mm", "mesh under 11 mm", "10.99"),
    (10.998, "mesh", "mm", "mesh at most 11 mm", "11.00"),
    (11.004, "mesh", "mm", "mesh over 11 mm", "11.004"),
    (319.7, "mass", "g", "mass under 320 g", "319.7"),
    (319.7, "mass", "g", "mass 320 g", "320"),
    (320.2, "mass", "g", "mass over 320 g", "320.2"),
    (632.3, "head_area", "[sin_i]", "98 sq in", "98"),
    (632.3, "head_area", "[sin_i]", "head at least 98.0 sq in", "98"),
    (98.3 * 6.4516, "head_area", "[sin_i]", "head over 98.2 sq in", "98.3"),
    (-3.98, "balance", "points", "balance under 4 points head light", "−3.98"),
]  # fmt: skip


@pytest.mark.parametrize(("value", "trait", "unit", "question", "text"), SHOWN)
def test_a_figure_shown_looks_in_or_out_as_it_is(value: float, trait: str, unit: str, question: str, text: str) -> None:
    ranges = parse(question).ranges
    assert shown(value, TRAITS[trait], unit, ranges) == text
