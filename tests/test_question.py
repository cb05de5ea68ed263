"""The parts of a question: bounds and what they mean, ranges."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asked import bound
from gapbook.errors import GapbookError
from gapbook.questions.language import parse
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.wording import rounding_hint

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


# (bound, value as shown in the bound's unit, holds as the low end, holds as the high end); by hand.
ROUNDED = [
    ("95", "94.5", True, True),
    ("95", "94.49", False, True),
    ("98", "98.49", True, True),
    ("98", "98.5", True, False),
    ("11.0", "10.95", True, True),
    ("11.0", "11.05", True, False),
    ("-4", "-3.5", True, True),
    ("-4", "-3.49", True, False),
    ("-4", "-4.5", False, True),
]


class TestBounds:
    @pytest.mark.parametrize(("written", "value", "low", "high"), ROUNDED)
    def test_inclusive(self, written: str, value: str, low: bool, high: bool) -> None:
        assert balance(low=bound(written)).holds(float(value)) is low
        assert balance(high=bound(written)).holds(float(value)) is high

    def test_exclusive_means_the_rounded_value(self) -> None:
        assert not balance(high=bound("100", False)).holds(99.5)
        assert balance(high=bound("100", False)).holds(99.49)
        assert not balance(low=bound("98", False)).holds(98.4)
        assert balance(low=bound("98", False)).holds(98.5)

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
    def test_a_head_shown_as_98_is_98(self) -> None:
        """Design, section 7: a 632.3 cm² head is 98 sq in."""
        head = Range(trait="head_area", unit="[sin_i]", low=bound("95"), high=bound("98"))
        assert head.holds(632.3)
        assert not head.holds(98.5 * 6.4516)
        assert head.holds(94.5 * 6.4516)
        assert not head.holds(94.49 * 6.4516)

    def test_intervals_by_hand(self) -> None:
        """95-98 is [94.5, 98.5), under 100 is below 99.5, over 98 from 98.5."""
        units = Range(trait="mass", unit="g", low=bound("95"), high=bound("98")).interval()
        assert (units.low, units.high) == (pytest.approx(94.5, rel=1e-11), pytest.approx(98.5, rel=1e-11))
        assert Range(trait="mass", unit="g", low=bound("95"), high=bound("98")).holds(units.low)
        assert not Range(trait="mass", unit="g", low=bound("95"), high=bound("98")).holds(units.high)
        under = Range(trait="mass", unit="g", high=bound("100", False)).interval()
        assert (under.low, under.high) == (None, pytest.approx(99.5, rel=1e-11))
        over = Range(trait="mass", unit="g", low=bound("98", False)).interval()
        assert (over.low, over.high) == (pytest.approx(98.5, rel=1e-11), None)

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
        """Values around the bound, exact halves among them, against fractions."""
        unit = UNITS_OF[trait][second]
        value = written.quantize(Decimal(1).scaleb(-decimals))
        ends = {"low" if low_end else "high": Bound(value=value, inclusive=inclusive)}
        factor = Fraction(FACTORS[unit])
        measured = (Fraction(value) + Fraction(off)) * factor
        shown = rounded(measured / factor, decimals)
        expected = inclusive if shown == value else (shown > value) is low_end
        assert Range(trait=trait, unit=unit, **ends).holds(float(measured)) is expected

    @given(written=st.integers(-30, 30), low_end=st.booleans(), inclusive=st.booleans(), eighths=st.integers(-300, 300))
    def test_points_on_both_sides_of_even(self, written: int, low_end: bool, inclusive: bool, eighths: int) -> None:
        value = Fraction(eighths, 8)
        shown = rounded(value, 0)
        ends = {"low" if low_end else "high": Bound(value=Decimal(written), inclusive=inclusive)}
        expected = inclusive if shown == written else (shown > written) is low_end
        assert Range(trait="balance", unit="points", **ends).holds(float(value)) is expected

    @pytest.mark.parametrize("openness", [90.85, 93.35, 95.85, 128.45])
    def test_halves_that_binary_fractions_miss(self, openness: float) -> None:
        """A tenth of these is a half in hundredths of a millimetre, but a hair less as a binary fraction."""
        half = Decimal(str(openness)) / 10
        assert openness * 0.1 < float(half)
        up, down = half + Decimal("0.005"), half - Decimal("0.005")
        assert Range(trait="mesh", unit="mm", low=Bound(value=up.quantize(Decimal("0.01")))).holds(openness * 0.1)
        assert not Range(trait="mesh", unit="mm", high=Bound(value=down.quantize(Decimal("0.01")))).holds(openness * 0.1)

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

    def test_nothing_rounds_to_a_value_between_two_neighbours(self) -> None:
        with pytest.raises(GapbookError) as error:
            Range(trait="mass", unit="g", low=bound("98", False), high=bound("99", False))
        assert code(error) == "empty-range"

    def test_the_usual_zone_is_the_centre(self) -> None:
        assert Range(trait="mesh", unit="mm", high=bound("11")).zone == "centre"
        assert Range(trait="mass", unit="g", high=bound("320")).zone is None


# Clause, and what is to be written instead (None: nothing to say). By hand from the decimals each trait is shown with,
# two at most: mesh 11.42 mm, uniformity 1.05, side opening 8.3 %, length 27.0 in (a millimetre has no decimals then).
ROUNDED = [
    ("uniformity under 1", "“uniformity under 1”", "write 1.00 "),
    ("main drilling under 1", "“main drilling under 1”", "write 1.00 "),
    ("density under 1", "“density under 1 per cm²”", "write 1.00 "),
    ("uniformity under 105%", "“uniformity under 105%”", "write 105.0 "),
    ("mesh under 11 mm", "“centre mesh under 11 mm”", "write 11.00 "),
    ("mesh under 1 cm", "“centre mesh under 1 cm”", "write 1.00 "),
    ("side opening over 8%", "“side opening over 8%”", "write 8.0 "),
    ("side opening under -2%", "“side opening under -2%”", "write -2.0 "),
    ("balance under 4 points head light", "“balance under 4 points head light”", "write 4.0 "),
    ("balance over 2 points head heavy", "“balance over 2 points head heavy”", "write 2.0 "),
    ("length over 27 in", "“length over 27 in”", "write 27.0 "),
    ("16 mains, mass under 320 g, beam over 23 mm", "“beam over 23 mm”", "write 23.0 "),
    ("uniformity under 1.0", None, None),
    ("uniformity at most 1", None, None),
    ("openness 105-115", None, None),
    ("length under 685 mm", None, None),
    ("mass under 320 g", None, None),
    ("fewer than 18 mains", None, None),
    ("head light", None, None),
    ("tighter than fern-98", None, None),
]


@pytest.mark.parametrize(("text", "clause", "instead"), ROUNDED)
def test_a_whole_number_among_decimals_is_told(text: str, clause: str | None, instead: str | None) -> None:
    said = rounding_hint(parse(text))
    if clause is None or instead is None:
        assert said is None
    else:
        assert said is not None
        assert clause in said
        assert "to whole numbers" in said
        assert instead in said
