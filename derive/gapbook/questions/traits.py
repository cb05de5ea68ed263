"""What a question can ask about: traits, zones and units, with the words for each and the column of each trait.

Nothing of this is repeated elsewhere: the language's words, the options of `find` and the wording of answers are made of it.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from functools import cache
from typing import Literal, NamedTuple, get_args

from gapbook.errors import fail
from gapbook.science.units import ALIASES, UNITS, half_up

Zone = Literal["centre", "left", "right", "sides", "tip", "throat", "even"]
"""Zones of a bed; `even` is not a place, but the same head and counts if drilled evenly."""

ZONES: tuple[str, ...] = get_args(Zone)


class ZoneWords(NamedTuple):
    """The words for a zone: as a place, as an adjective (empty if there is none), and other words for it."""

    place: str
    adjective: str
    others: tuple[str, ...] = ()


ZONE_WORDS: dict[str, ZoneWords] = {
    "centre": ZoneWords("in the centre", "centre", ("center", "centres", "centers", "middle")),
    "left": ZoneWords("on the left", "", ("left", "left side", "left hand side")),
    "right": ZoneWords("on the right", "", ("right", "right side", "right hand side")),
    "sides": ZoneWords("in the sides", "sides", ("side", "both sides")),
    "tip": ZoneWords("at the tip", "tip", ("tips",)),
    "throat": ZoneWords("at the throat", "throat", ("throats",)),
    "even": ZoneWords("with even drilling", "", ("even drilling", "even", "drilled evenly", "evenly drilled")),
}

UNIT_WORDS: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "[in_i]": ("in", "inch", "inches", "in.", '"'),
    "cm2": ("cm²", "cm2", "cm^2", "sq cm", "square cm", "square centimetres", "square centimeters"),
    "mm2": ("mm²", "mm2", "mm^2", "sq mm", "square mm", "square millimetres", "square millimeters"),
    "[sin_i]": (
        *("sq in", "sq inch", "sq inches", "square in", "square inch", "square inches"),
        *("in²", "in2", "in^2", "sq in.", "sq. in", "sq. in."),
    ),
    "g": ("g", "gram", "grams", "gramme", "grammes"),
    "kg": ("kg", "kilogram", "kilograms"),
    "[oz_av]": ("oz", "ounce", "ounces"),
    "kg.cm2": ("kg·cm²", "kg cm2", "kg.cm2", "kg*cm2", "kg-cm2", "kgcm2", "kg cm^2"),
    "%": ("%", "percent", "per cent", "pct"),
    "points": ("points", "point", "pts", "pt"),
    "/cm2": ("per cm²", "per cm2", "/cm2", "per cm^2", "per sq cm", "apertures per cm2"),
    "N": ("N", "newton", "newtons"),
    "kgf": ("kgf",),
    "[lbf_av]": ("lbf", "lb", "lbs", "pound", "pounds"),
}
"""Words for each unit, the one shown to people first; those of `science.units.ALIASES` are understood as well."""

_OWN_UNITS: dict[str, tuple[str, str]] = {
    "": ("1", "1"),
    "%": ("1", "0.01"),
    "points": ("points", "1"),
    "/cm2": ("/cm2", "1"),
}


class Trait(NamedTuple):
    """A property of a frame that questions can name: all that is needed to ask, find, sort and chart it and put it on the page.

    key: its name in a Question.
    title: its name in answers, in questions and as an option of `find`.
    words: its other names in questions.
    table: its table; handling means strung frames, and beds the geometric mean of a frame's copies.
    column: its column there; `{zone}` stands for one of `zones`.
    base: its computing unit.
    units: codes of the units a person may use, the usual one first ("": a plain number).
    decimals: how many decimals it is shown with in the usual unit.
    zones: the zones in which it is known; the first is meant if none is named.
    factor: the column times this is the trait in its computing unit.
    whole: whether it is a count, in whole numbers.
    signed: whether it can be negative.
    bare: whether a unit alone names it ("95-98 sq in").
    lowest: superlatives that sort by it, from the lowest up.
    highest: superlatives that sort by it, from the highest down.
    option: the help of its option of `find`; if empty, its title and unit.
    page: the name of its row on the atlas' page; if empty, its title and unit; None if it has no row.
    """

    key: str
    title: str
    words: tuple[str, ...]
    table: str
    column: str
    base: str
    units: tuple[str, ...]
    decimals: int
    zones: tuple[str, ...] = ()
    factor: float = 1.0
    whole: bool = False
    signed: bool = False
    bare: bool = False
    lowest: tuple[str, ...] = ()
    highest: tuple[str, ...] = ()
    option: str = ""
    page: str | None = ""

    def column_in(self, zone: str | None) -> str:
        """The column's name in its table, for `zone` if the trait has zones."""
        return self.column.format(zone=zone)

    @property
    def label(self) -> str:
        """Its title, and the usual unit if there is one."""
        unit = self.units[0]
        return f"{self.title}, {UNIT_WORDS[unit][0]}" if unit else self.title


_LENGTHS = ("mm", "cm", "[in_i]")
_MASSES = ("g", "kg", "[oz_av]")
_RATIOS = ("", "%")

TRAITS: dict[str, Trait] = {
    trait.key: trait
    for trait in (
        Trait(
            "head_area", "head", ("head area", "head size", "head sizes", "heads"), "scores", "head_area_cm2", "cm2",
            ("[sin_i]", "cm2", "mm2"), 0, bare=True, option="Head area, sq in: 95..98.", page=None,
        ),
        Trait(
            "mains", "mains", ("main", "main string", "main strings"), "scores", "mains", "1", ("",), 0, whole=True,
            lowest=("fewest mains",), highest=("most mains",), option="Number of mains: 16.", page=None,
        ),
        Trait(
            "crosses", "crosses", ("cross", "cross string", "cross strings"), "scores", "crosses", "1", ("",), 0,
            whole=True, lowest=("fewest crosses",), highest=("most crosses",), option="Number of crosses: 18..20.", page=None,
        ),
        Trait(
            "mesh", "mesh", ("meshes", "mesh size"), "scores", "openness_{zone}", "mm", _LENGTHS, 2, ZONES, factor=0.1,
            page=None,
        ),
        Trait(
            "openness", "openness", (), "scores", "openness_{zone}", "1", ("",), 1, ZONES,
            lowest=("tightest", "densest"), highest=("most open",), page=None,
        ),
        Trait("density", "density", ("string density",), "scores", "density_centre_per_cm2", "/cm2", ("/cm2",), 3,
              ("centre",)),
        Trait("main_pitch", "main pitch", ("mains pitch", "pitch of the mains", "main spacing"), "beds",
              "main_pitch_{zone}_mm", "mm", _LENGTHS, 2, ("centre",), page=None),
        Trait("cross_pitch", "cross pitch", ("crosses pitch", "pitch of the crosses", "cross spacing"), "beds",
              "cross_pitch_{zone}_mm", "mm", _LENGTHS, 2, ("centre",), page=None),
        Trait("side_opening", "side opening", ("sides opening", "opening of the sides"), "scores", "side_opening", "1",
              ("%",), 1, signed=True, page="sides open by, %"),
        Trait("uniformity", "uniformity", (), "scores", "uniformity", "1", _RATIOS, 3),
        Trait("drilling_main", "main drilling", ("drilling main", "drilling of the mains"), "scores", "drilling_main",
              "1", _RATIOS, 3, page="drilling of mains"),
        Trait("drilling_cross", "cross drilling", ("drilling cross", "drilling of the crosses"), "scores",
              "drilling_cross", "1", _RATIOS, 3, page="drilling of crosses"),
        Trait("mass", "mass", ("masses", "weight", "weights"), "handling", "mass_g", "g", _MASSES, 0, bare=True,
              lowest=("lightest",), highest=("heaviest",), option="Strung mass, g: ..320."),
        Trait(
            "balance", "balance", ("balances",), "handling", "balance_points", "points", ("points",), 1, signed=True,
            bare=True, lowest=("most head light", "most head-light"), highest=("most head heavy", "most head-heavy"),
            option="Points, head light negative: -8..-4; or 310..320 mm.",
        ),
        Trait("balance_mm", "balance", ("balances",), "handling", "balance_mm", "mm", _LENGTHS, 0,
              lowest=("lowest balance in mm",), highest=("highest balance in mm",), page=None),
        Trait("swingweight", "swingweight", ("swingweights", "swing weight", "swing-weight"), "handling",
              "swingweight_kgcm2", "kg.cm2", ("kg.cm2",), 0, bare=True, option="Strung, kg·cm²: 315..330."),
        Trait("percussion", "percussion", ("percussion point", "centre of percussion", "center of percussion"), "handling",
              "percussion_mm", "mm", _LENGTHS, 0, option="Centre of percussion from the butt, strung, mm: 460..480.",
              page="centre of percussion, mm"),
        Trait("length", "length", ("lengths", "overall length"), "frames", "length_mm", "mm", ("[in_i]", "mm", "cm"), 1,
              lowest=("shortest",), highest=("longest",), option="In: 27; or 685 mm.", page=None),
        Trait("beam", "beam", ("beams", "beam width", "beam height"), "frames", "beam_mm", "mm", _LENGTHS, 1,
              lowest=("thinnest",), highest=("thickest",), page=None),
        Trait("release_year", "release year", ("released in", "released", "year"), "frames", "release_year", "1",
              ("",), 0, whole=True, lowest=("oldest",), highest=("newest",), page=None),
    )
}  # fmt: skip
"""Every trait by its key, in the order in which a question in words names them."""


@cache
def unit_names() -> dict[str, str]:
    """Every word for a unit, as `plain` writes it, with the code of the unit."""
    words = {alias.lower(): code for alias, code in ALIASES.items()}
    words |= {plain(word): code for code, listed in UNIT_WORDS.items() for word in listed}
    return words


@cache
def trait_names() -> dict[str, tuple[Trait, ...]]:
    """Every word for a trait with the traits it may mean (balance is in points, or in mm from the butt)."""
    names: dict[str, tuple[Trait, ...]] = {}
    for trait in TRAITS.values():
        for word in (trait.title, *trait.words):
            names[word] = (*names.get(word, ()), trait)
    return names


@cache
def titles() -> dict[str, Trait]:
    """Every title with its trait; if two traits share a title (balance), with the first."""
    return {trait.title: trait_names()[trait.title][0] for trait in TRAITS.values()}


def option_of(title: str) -> str:
    """The option of `find` that takes a range of the trait with this title."""
    return f"--{title.replace(' ', '-')}"


def range_options() -> dict[str, str]:
    """The options of `find` that take a range, each with what its help says."""
    said = ((title, trait.option or f"{trait.label[:1].upper()}{trait.label[1:]}.") for title, trait in titles().items())
    return {option_of(title): text for title, text in said}


@cache
def zone_names() -> dict[str, str]:
    """Every word for a zone with the zone."""
    return {word: zone for zone, words in ZONE_WORDS.items() for word in (words.adjective, *words.others) if word}


@cache
def superlatives() -> dict[str, tuple[str, bool]]:
    """Every superlative with the trait that it sorts by, and whether it sorts from the highest down."""
    lowest = {word: (trait.key, False) for trait in TRAITS.values() for word in trait.lowest}
    return lowest | {word: (trait.key, True) for trait in TRAITS.values() for word in trait.highest}


def unit_base(code: str) -> str:
    """The computing unit of a unit's dimension: mm, cm2, g, kg.cm2, N, or 1, points, /cm2."""
    return _OWN_UNITS[code][0] if code in _OWN_UNITS else UNITS[code].base


@cache
def unit_factor(code: str) -> Decimal:
    """How many computing units one unit `code` is, exactly (the factors have at most twelve digits)."""
    return Decimal(_OWN_UNITS[code][1]) if code in _OWN_UNITS else Decimal(f"{UNITS[code].factor:.12g}")


_PLAIN = {
    **dict.fromkeys("‐‑‒–—−", "-"),
    **dict.fromkeys("·⋅\u00a0\u2009\u202f", " "),
    **dict.fromkeys("“”„″", '"'),
    **dict.fromkeys("‘’‚", "'"),
    "×": "x",
    "✕": "x",
    "²": "2",
}


def plain(text: str) -> str:
    """`text` in lower case, with keyboard signs for typographic ones; every character stays in its column."""
    return "".join(_PLAIN.get(sign) or (low if len(low := sign.lower()) == 1 else sign) for sign in text)


def decimals_in(trait: Trait, unit: str) -> int:
    """Decimals a trait is shown with in `unit`: its own in the usual unit; in another, about as fine as these."""
    coarser = float(unit_factor(unit) / unit_factor(trait.units[0]))
    return max(trait.decimals + round(math.log10(coarser)), 0)


def number(value: float, trait: Trait, unit: str, decimals: int | None = None) -> str:
    """A value as a number in words.

    value: the value [computing unit].
    trait: the trait it is of.
    unit: the code of the unit to show it in.
    decimals: how many to show; None for those of the trait in this unit.
    """
    return half_up(value / float(unit_factor(unit)), decimals_in(trait, unit) if decimals is None else decimals)


def unit_word(unit: str) -> str:
    """The word shown for a unit, empty if there is none."""
    return UNIT_WORDS[unit][0] if unit else ""


NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_AMOUNT = re.compile(rf"\s*({NUMBER})\s*([^\d\s.][^\d]{{0,30}}?)?\s*")
_DIGITS = 12
"""A number has at most so many characters."""
_AS_FORCE = {"kg": "kgf", "kilogram": "kgf", "kilograms": "kgf", "kilo": "kgf", "kilos": "kgf"}
"""Stringers say kilogram and mean kilogram-force, 9.80665 N [NIST SP 811]."""
_BASE_WORDS = {"mm": "mm, cm or in", "g": "g, oz or kg", "N": "kg, lb or N"}


def amount(text: str, base: str, what: str, example: str) -> float:
    """An amount in its computing unit. GapbookError if it is not a plain number with a unit of that kind.

    text: the number and its unit as typed.
    base: the computing unit: mm, g or N (of which kg means kgf).
    what: the amount's name in errors.
    example: an amount that would be right, for errors.
    """
    expected = f"a number and {_BASE_WORDS[base]}, e.g. {example}"
    match = _AMOUNT.fullmatch(plain(text))
    if match is None or len(match[1]) > _DIGITS:
        raise fail("bad-amount", f"{what} is not understood", found=repr(text[:60]), expected=expected)
    word = (match[2] or "").strip()
    if not word:
        raise fail("no-unit", f"{what} has no unit", found=repr(text), expected=expected)
    code = _AS_FORCE.get(word) if base == "N" else None
    code = code or unit_names().get(word)
    if code is None or unit_base(code) != base:
        raise fail("wrong-unit", f"{what} has another unit", found=repr(word), expected=expected)
    return float(match[1]) * float(unit_factor(code))
