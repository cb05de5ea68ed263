"""Whole questions: contradictions, find's options, and the traits there are."""

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import ClassVar

import pytest

from asked import bound
from gapbook.errors import GapbookError
from gapbook.questions.language import parse
from gapbook.questions.options import SORTS, from_options
from gapbook.questions.question import Order, Pattern, Question, Relation
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONES, range_options, unit_base, unit_factor, unit_names
from gapbook.questions.wording import describe
from gapbook.science.units import ALIASES, UNITS

# NIST SP 811 (2008), B.8: in² = 6.4516 cm² and in = 25.4 mm exactly; oz = 453.59237 g / 16 exactly.
FACTORS = {"cm2": "1", "[sin_i]": "6.4516", "mm": "1", "[in_i]": "25.4", "g": "1", "[oz_av]": "28.349523125"}
UNITS_OF = {"head_area": ("cm2", "[sin_i]"), "length": ("mm", "[in_i]"), "mass": ("g", "[oz_av]")}


def code(error: pytest.ExceptionInfo[GapbookError]) -> str:
    return error.value.problems[0].code


def mass(low: Bound | None = None, high: Bound | None = None, unit: str = "g") -> Range:
    return Range(trait="mass", unit=unit, low=low, high=high)


def count(trait: str, number: int) -> Range:
    return Range(trait=trait, low=bound(str(number)), high=bound(str(number)))


def relation(kind: str, reference: str = "fern-98", **more: object) -> Relation:
    return Relation(kind=kind, reference=reference, **more)


class TestQuestion:
    def test_agreeing_parts_are_merged_and_ordered(self) -> None:
        one = Question(
            ranges=(mass(high=bound("320")), count("mains", 16), mass(low=bound("300")), mass(high=bound("320"))),
            relations=(relation("more_open", zone="sides"), relation("tighter"), relation("tighter")),
        )
        assert one.ranges == (count("mains", 16), mass(bound("300"), bound("320")))
        assert [(part.kind, part.zone) for part in one.relations] == [("more_open", "sides"), ("tighter", "centre")]
        assert (one.reference, one.zone) == ("fern-98", "sides")

    def test_the_first_relation_named_is_the_reference(self) -> None:
        one = Question(relations=(relation("like", "elm-1"), relation("tighter"), relation("like", "elm-1")))
        assert (one.reference, len(one.relations)) == ("elm-1", 2)

    def test_the_tighter_of_two_ends_holds(self) -> None:
        one = Question(ranges=(mass(high=bound("320")), mass(high=bound("320", False)), mass(high=bound("319.9"))))
        assert one.ranges == (mass(high=bound("319.9")),)
        one = Question(ranges=(mass(high=bound("320")), mass(high=bound("320.0", False))))
        assert one.ranges == (mass(high=bound("320.0", False)),)

    def test_a_figure_alone_stays_beside_other_ranges(self) -> None:
        """320 g is 319.5 to 320.5: under 320.2 takes a part of that; two bounds of 320 g are no figure alone."""
        alone, under = mass(bound("320"), bound("320")), mass(high=bound("320.2"))
        assert Question(ranges=(under, alone, alone)).ranges == (alone, under)
        halves = (mass(low=bound("320")), mass(high=bound("320")))
        assert Question(ranges=halves).ranges == halves
        assert parse(describe(Question(ranges=halves))).ranges == halves

    def test_of_two_likes_the_closer(self) -> None:
        one = Question(relations=(relation("like"), relation("like", within_percent=Decimal("2.50"))))
        assert [str(part.within_percent) for part in one.relations] == ["2.5"]

    @pytest.mark.parametrize(
        "parts",
        [
            {"ranges": (count("mains", 16), count("mains", 18))},
            {"ranges": (mass(high=bound("300")), mass(low=bound("301")))},
            {"ranges": (mass(high=bound("290")), mass(low=bound("11"), unit="[oz_av]"))},
            {"relations": (relation("tighter"), relation("more_open"))},
            {
                "ranges": (count("mains", 16),),
                "patterns": (Pattern(mains=18, crosses=20), Pattern(mains=18, crosses=19)),
            },
        ],
    )
    def test_contradictions(self, parts: dict[str, tuple[object, ...]]) -> None:
        with pytest.raises(GapbookError) as error:
            Question(**parts)
        assert code(error) == "contradiction"

    def test_ranges_in_two_units_stand_beside_each_other(self) -> None:
        """11 oz are 311.8 g by the exact ounce."""
        both = Question(ranges=(mass(high=bound("312")), mass(low=bound("11"), unit="[oz_av]"))).ranges
        assert [one.unit for one in both] == ["[oz_av]", "g"]

    def test_one_reference_may_be_tighter_here_and_more_open_there(self) -> None:
        one = Question(relations=(relation("tighter"), relation("more_open", zone="sides"), relation("tighter", "elm-1")))
        assert len(one.relations) == 3

    def test_patterns_are_alternatives(self) -> None:
        both = (Pattern(mains=18, crosses=20), Pattern(mains=16, crosses=19))
        assert Question(patterns=both).patterns == both[::-1]
        narrowed = Question(patterns=both, ranges=(count("mains", 18),))
        assert (narrowed.patterns, narrowed.ranges) == ((), (count("mains", 18), count("crosses", 20)))

    def test_closest_needs_a_reference(self) -> None:
        with pytest.raises(GapbookError) as error:
            Question(order=Order(by="closest"))
        assert code(error) == "no-reference"

    @pytest.mark.parametrize(
        "fields", [{"limit": 0}, {"confidence": 0.5}, {"confidence": 1.0}, {"confidence": float("nan")}, {"colour": 1}]
    )
    def test_limits_of_the_fields(self, fields: dict[str, object]) -> None:
        with pytest.raises(ValueError, match=next(iter(fields))):
            Question(**fields)

    @pytest.mark.parametrize("text", ["", " ", "a\nb", "a\u202eb", "x" * 301, "'\"", "’“"])
    def test_references_that_cannot_be_written(self, text: str) -> None:
        with pytest.raises(GapbookError) as error:
            relation("tighter", text)
        assert code(error) == "bad-reference"

    @pytest.mark.parametrize("percent", ["0", "-1", "100.1", "3.0000000000001"])
    def test_percentages_that_make_no_sense(self, percent: str) -> None:
        with pytest.raises(GapbookError) as error:
            relation("like", within_percent=Decimal(percent))
        assert code(error) == "bad-percent"

    def test_json_goes_there_and_back(self) -> None:
        one = from_options(head="95..98.0", like="fern-98", sort="closest", pattern=["16x19", "18x20"])
        assert Question.model_validate_json(one.model_dump_json()) == one
        assert json.loads(one.model_dump_json())["ranges"][0]["high"] == {"value": "98.0", "inclusive": True}

    def test_is_frozen_and_described(self) -> None:
        with pytest.raises(ValueError, match="frozen"):
            Question().limit = 3  # type: ignore[misc]
        for model in (Question, Range, Bound, Relation, Order, Pattern):
            assert all(field.description for field in model.model_fields.values()), model


class TestOptions:
    @pytest.mark.parametrize(
        ("option", "text", "expected"),
        [
            ("head", "95..98", Range(trait="head_area", unit="[sin_i]", low=bound("95"), high=bound("98"))),
            ("head", "..98", Range(trait="head_area", unit="[sin_i]", high=bound("98"))),
            ("head", "95..", Range(trait="head_area", unit="[sin_i]", low=bound("95"))),
            ("head", "97", Range(trait="head_area", unit="[sin_i]", low=bound("97"), high=bound("97"))),
            ("head", "612..632 cm2", Range(trait="head_area", unit="cm2", low=bound("612"), high=bound("632"))),
            ("mains", "16..18", Range(trait="mains", low=bound("16"), high=bound("18"))),
            ("crosses", "19", count("crosses", 19)),
            ("mass", "..320", mass(high=bound("320"))),
            ("mass", "11..11.5 oz", mass(bound("11"), bound("11.5"), "[oz_av]")),
            ("balance", "-8..-4", Range(trait="balance", unit="points", low=bound("-8"), high=bound("-4"))),
            ("balance", "4", Range(trait="balance", unit="points", low=bound("4"), high=bound("4"))),
            ("balance", "..-4", Range(trait="balance", unit="points", high=bound("-4"))),
            ("balance", "310..320 mm", Range(trait="balance_mm", unit="mm", low=bound("310"), high=bound("320"))),
            (
                "balance",
                "2..4 points head light",
                Range(trait="balance", unit="points", low=bound("-4"), high=bound("-2")),
            ),
            ("swingweight", "315-330", Range(trait="swingweight", unit="kg.cm2", low=bound("315"), high=bound("330"))),
            ("length", "27", Range(trait="length", unit="[in_i]", low=bound("27"), high=bound("27"))),
            ("length", "27 in", Range(trait="length", unit="[in_i]", low=bound("27"), high=bound("27"))),
            ("head", "612.. cm2", Range(trait="head_area", unit="cm2", low=bound("612"))),
            ("balance", "..0", Range(trait="balance", unit="points", high=bound("0"))),
            ("side_opening", "-2..5", Range(trait="side_opening", unit="%", low=bound("-2"), high=bound("5"))),
            ("length", "685..690mm", Range(trait="length", unit="mm", low=bound("685"), high=bound("690"))),
        ],
    )
    def test_ranges(self, option: str, text: str, expected: Range) -> None:
        assert from_options(**{option: text}).ranges == (expected,)

    @pytest.mark.parametrize(
        ("options", "expected"),
        [
            ({"head": "98..95"}, "empty-range"),
            ({"head": "95..98 mm"}, "wrong-unit"),
            ({"head": "95..98 acres"}, "unknown-unit"),
            ({"head": "large"}, "bad-range"),
            ({"head": "light"}, "bad-range"),
            ({"mains": "pitch 9..10"}, "bad-range"),
            ({"head": "95, 16 mains"}, "bad-range"),
            ({"head": ".."}, "bad-range"),
            ({"head": ""}, "bad-range"),
            ({"head": "95..98..99"}, "bad-range"),
            ({"mains": "16.5"}, "not-whole"),
            ({"mass": "-320"}, "negative"),
            ({"mass": "1" * 30}, "number-out-of-range"),
            ({"pattern": "16:19"}, "bad-pattern"),
            ({"pattern": "0x19"}, "bad-pattern"),
            ({"where": "rim", "like": "fern-98"}, "unknown-zone"),
            ({"basis": "guessed"}, "unknown-basis"),
            ({"sort": "colour"}, "unknown-sort"),
            ({"sort": "closest"}, "no-reference"),
            ({"where": "tip", "sort": "mass"}, "no-reference"),
            ({"limit": 0}, "bad-option"),
            ({"confidence": 1.5}, "bad-option"),
            ({"tighter_than": "a\nb"}, "bad-reference"),
            ({"mains": "16", "pattern": "18x20"}, "contradiction"),
        ],
    )
    def test_refused(self, options: dict[str, object], expected: str) -> None:
        with pytest.raises(GapbookError) as error:
            from_options(**options)
        assert code(error) == expected

    def test_every_bad_option_is_reported(self) -> None:
        with pytest.raises(GapbookError) as error:
            from_options(head="98..95", mains="many", sort="colour")
        assert [problem.code for problem in error.value.problems] == ["empty-range", "bad-range", "unknown-sort"]
        assert error.value.problems[1].message.startswith("--mains: ")

    @pytest.mark.parametrize(
        ("options", "said"),
        [
            ({"pattern": "16x19,18x20"}, "--pattern: this is not a string pattern; found 16x19,18x20"),
            ({"pattern": "16x19;18x20"}, "Give --pattern once for each"),
            ({"pattern": "0x19"}, "--pattern: a string pattern is two whole numbers"),
            ({"tighter_than": ""}, "--tighter-than: this cannot be a reference"),
            ({"more_open_than": "a\nb"}, "--more-open-than: this cannot be a reference"),
            ({"like": ["fern-98", "a'\""]}, "--like: this cannot be a reference"),
            ({"sort": "swingwieght-desc"}, "Nearest: swingweight"),
            ({"where": "centre sides"}, "--where takes a zone of the bed; found centre sides"),
            ({"mains": "16", "pattern": "18x20"}, "--pattern: both cannot hold for mains; found 18x20"),
            ({"limit": 0}, "--limit: a limit is a whole number from 1"),
            ({"confidence": 1.5}, "--confidence: confidence is above 50% and below 100%; found 1.5"),
            ({"mass": "-320"}, "--mass: mass cannot be negative; found -320"),
            ({"where": "sides", "sort": "mass"}, "--where sides changes nothing here: --sort mass is of the whole frame"),
            ({"where": "even", "sort": "balance"}, "--where even changes nothing here: --sort balance is of the whole frame"),
            ({"where": "Tip", "sort": "Name"}, "--where tip changes nothing here: --sort Name is of the whole frame"),
        ],
    )
    def test_what_is_wrong_is_said_plainly(self, options: dict[str, object], said: str) -> None:
        with pytest.raises(GapbookError) as error:
            from_options(**options)
        assert said in str(error.value)

    @pytest.mark.parametrize(
        ("typed", "same"),
        [
            ({"basis": "Measured"}, {"basis": "measured"}),
            ({"basis": "ANY"}, {}),
            ({"sort": "Tightest"}, {"sort": "tightest"}),
            ({"sort": "Mass-DESC"}, {"sort": "mass-desc"}),
            ({"sort": "OPEN", "where": "Sides"}, {"sort": "open", "where": "sides"}),
        ],
    )
    def test_case_does_not_matter(self, typed: dict[str, object], same: dict[str, object]) -> None:
        assert from_options(**typed) == from_options(**same)

    # What design.md, section 6, and the help of find name, and the key each sorts by.
    SORTED_BY: ClassVar = {"tightest": ("openness", False), "open": ("openness", True), "closest": ("closest", False)} | {
        "name": ("name", False), "name-desc": ("name", True), "head": ("head_area", False), "head-desc": ("head_area", True),
        "mass": ("mass", False), "mass-desc": ("mass", True), "swingweight": ("swingweight", False),
        "balance": ("balance", False), "balance-desc": ("balance", True), "length": ("length", False),
        "side-opening": ("side_opening", False), "release-year-desc": ("release_year", True),
    }  # fmt: skip

    def test_every_sort_is_an_order(self) -> None:
        for sort, (by, descending) in self.SORTED_BY.items():
            order = from_options(sort=sort, like="fern-98").order
            assert order is not None
            assert (order.by, order.descending) == (by, descending)
        assert {sort.removesuffix("-desc") for sort in self.SORTED_BY} <= set(SORTS)
        assert all(from_options(sort=sort, like="fern-98").order is not None for sort in SORTS)

    def test_every_trait_has_an_option(self) -> None:
        assert set(range_options()) == {f"--{trait.title.replace(' ', '-')}" for trait in TRAITS.values()}
        for trait in TRAITS.values():
            (asked,) = from_options(**{trait.title.replace(" ", "_"): "1..2"}).ranges
            assert asked.about.title == trait.title

    def test_a_range_is_where_the_bed_is_looked_at(self) -> None:
        there = Range(trait="mesh", zone="sides", unit="mm", high=bound("11"))
        assert from_options(mesh="..11", where="sides").ranges == (there,)
        assert from_options(mesh="..11 in the sides", where="tip").ranges == (there,)
        assert from_options(density="..1", where="sides").ranges[0].zone == "centre"

    def test_where_alone_sorts_there(self) -> None:
        assert from_options(where="tip").order == Order(by="openness", zone="tip")
        assert from_options(where="tip").zone == "tip"
        assert from_options(where="tip", like="fern-98").order is None


class TestTraits:
    SCHEMAS = Path(__file__).parents[1] / "schema"

    @pytest.mark.parametrize("trait", TRAITS.values(), ids=str)
    def test_columns_and_units_are_those_of_the_schemas(self, trait: object) -> None:
        fields = json.loads((self.SCHEMAS / f"{trait.table}.json").read_text(encoding="utf-8"))["fields"]
        units = {field["name"]: field.get("unit", "1") for field in fields}
        for zone in trait.zones or (None,):
            unit = units[trait.column_in(zone)]
            assert unit == trait.base or (trait.base, unit) in {("points", "1"), ("mm", "1")}
        assert all(unit_base(code) == trait.base for code in trait.units)

    def test_mesh_is_a_tenth_of_openness(self) -> None:
        """Design, section 3: openness = 10 · mesh [mm]."""
        assert (TRAITS["mesh"].column_in("tip"), TRAITS["mesh"].factor) == ("openness_tip", 0.1)
        assert [key for key, trait in TRAITS.items() if trait.factor != 1.0] == ["mesh"]

    def test_zones_are_the_documented_ones(self) -> None:
        """Design, section 6, --where."""
        assert ZONES == ("centre", "left", "right", "sides", "tip", "throat", "even")

    def test_every_unit_and_alias_is_understood(self) -> None:
        assert set(ALIASES.values()) | set(UNIT_WORDS) <= set(unit_names().values())
        assert all(unit_names()[alias] == unit for alias, unit in ALIASES.items())
        assert set(UNITS) <= set(UNIT_WORDS)

    @pytest.mark.parametrize(("unit", "factor"), FACTORS.items())
    def test_factors(self, unit: str, factor: str) -> None:
        assert unit_factor(unit) == Decimal(factor)


@pytest.mark.parametrize("module", ["gapbook.questions.question", "gapbook.questions.language"])
def test_imports_nothing_heavy(module: str) -> None:
    heavy = ("lark", "duckdb", "typer", "rich", "numpy", "pyarrow", "scipy", "frictionless")
    program = f"import sys, {module}; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
