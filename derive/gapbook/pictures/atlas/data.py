"""What the page holds: every frame's figures column by column, one bed a frame, and the words of the question language."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from matplotlib import colormaps
from matplotlib.colors import to_hex

from gapbook.pictures.draw import DIFFERENCE_MM, LARGEST_MM, SMALLEST_MM
from gapbook.pictures.figure import LIGHT, SIZES
from gapbook.progress import counted, report
from gapbook.questions.homonyms import HOMONYMS
from gapbook.questions.measuring_sheet import ASSUMED
from gapbook.questions.portrait import is_derived
from gapbook.questions.question import LIKE_PERCENT, Order
from gapbook.questions.ranges import ABOUT
from gapbook.questions.relations import COMPARED
from gapbook.questions.selection import frame_rows
from gapbook.questions.subjects import IDENTITY, all_score_columns
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONE_WORDS, unit_factor
from gapbook.questions.vocabulary import phrases
from gapbook.questions.wording import order_words
from gapbook.science.bed_geometry import Hoop, windows
from gapbook.science.comparison import CONFIDENCE
from gapbook.science.pooling import PERSON_OTHER_MM
from gapbook.science.repeats import DEFAULT_SPACING_MM
from gapbook.science.uncertainty import ORIGIN_MM, PLACEMENT_MM
from gapbook.science.zones import BALL_MM, LEAST_COVERAGE, MIDDLES
from gapbook.tables.copies import ReadBed, read_beds
from gapbook.tables.package import Package, caution
from gapbook.tables.store import Store

DECLARED = ("maker", "model", "edition", "length_mm")
ROWS = tuple(trait for trait in TRAITS.values() if trait.page is not None)
"""Traits that have a row in the table of beds side by side."""
STIFFNESS = "stiffness_centre_n_per_mm"
SHADES = 21
"""Colours of the map of mesh sizes that the page has; it mixes those between."""
MOST_BEDS = 8000
"""Beds in a page at most. With more it would be slow to open, so it has none and says so."""
STEP_MM = 0.01
STEP_SLOPE = 1e-5
STEP_EXPONENT = 1e-3
STEP_U_MM = 0.001
"""Steps in which a bed's lengths [mm], slopes, exponent and uncertainties of gaps [mm] are coded as whole numbers."""

_WORD = re.compile(r"[a-z'-]+")
_NAMED = (
    *("head_area", "mains", "crosses", "mass", "swingweight", "balance", "length"),
    *("openness", "mesh", "side_opening", "density"),
)
_UNITS = ("[sin_i]", "cm2", "g", "kg.cm2", "mm", "[in_i]", "points", "%", "/cm2", "")
_SORTED = ("mass", "swingweight", "head_area")

Columns = dict[str, list[Any]]


def gather(package: Package) -> dict[str, Any]:
    """Everything the page shows, ready for JSON. GapbookError if a derived table cannot be read."""
    report("reading")
    store = Store(package)
    frames = _frames(store)
    drawn = beds(store, frames["frame_id"])
    return {
        "package": {"name": package.name, "version": package.version},
        "caution": caution(package),
        "confidence": CONFIDENCE,
        "words": _words(),
        "rows": _rows(),
        "windows": windows(),
        "shades": {"least": SMALLEST_MM, "most": LARGEST_MM, "colours": _shades(SIZES)},
        "differences": {"least": -DIFFERENCE_MM, "most": DIFFERENCE_MM, "colours": _shades(LIGHT.diverging)},
        "own": {"rules": own_rules()},
        "frames": frames,
        "beds": drawn.coded,
        "bedless": drawn.without,
    }


def _frames(store: Store) -> Columns:
    """Scores, declared names, strung handling, stiffness and what else has a row, one row a frame in the order of ids."""
    wanted = {"scores": [*IDENTITY, *all_score_columns()], "frames": [*DECLARED], "handling": ["basis"]}
    wanted |= {"mechanics": [STIFFNESS, f"u_{STIFFNESS}"]}
    for trait in ROWS:
        known = store.package.schema(trait.table).names if trait.table in store.package.resources else ()
        column = trait.column_in(trait.zones[0] if trait.zones else None)
        wanted.setdefault(trait.table, []).extend(name for name in (column, f"u_{column}") if name in known)
    there = [table for table in wanted if table in ("scores", "frames") or is_derived(store.package, table)]
    source = f"{store.load('scores', wanted['scores'])} scores"
    for table in there[1:]:
        source += f" LEFT JOIN ({frame_rows(store, table, wanted[table])}) {table} USING (frame_id)"
    picked = {
        f"{table}_basis" if (table, name) == ("handling", "basis") else name: f"{table}.{name}"
        for table in there
        for name in wanted[table]
    }
    rows = store.rows(f"SELECT {', '.join(picked.values())} FROM {source} ORDER BY scores.frame_id")
    return {name: [row[place] for row in rows] for place, name in enumerate(picked)}


def _rows() -> list[dict[str, Any]]:
    """What the rows of traits need: their part of the table, name, column, and how the column's figure is shown."""
    return [
        {
            "part": "strung" if trait.table == "handling" else "bed",
            "name": trait.page or trait.label,
            "column": trait.column_in(trait.zones[0] if trait.zones else None),
            "scale": trait.factor / float(unit_factor(trait.units[0])),
            "decimals": trait.decimals,
            "signed": trait.signed,
        }
        for trait in ROWS
    ]


class Beds(NamedTuple):
    """Beds coded, by the place of their frame in the page; `without` says why there are none."""

    coded: dict[int, list[Any]]
    without: str | None


def beds(store: Store, frame_ids: Sequence[str], most: int = MOST_BEDS) -> Beds:
    """The first measured copy of each frame, coded."""
    columns = ("frame_id", "specimen_id", "head_width_mm", "head_length_mm", "head_exponent")
    rows = store.rows(f"SELECT {', '.join(columns)} FROM {store.load('beds', columns)} ORDER BY specimen_id")
    first: dict[str, tuple[str, Hoop]] = {}
    for frame_id, specimen, *hoop in rows:
        first.setdefault(frame_id, (specimen, Hoop(*hoop)))
    if len(first) > most:
        return Beds({}, f"The beds are not drawn: {len(first):,} measured frames are more than the {most:,} a page carries.")
    read = read_beds(store.package, [specimen for specimen, _ in first.values()])
    place = {name: number for number, name in enumerate(frame_ids)}
    coded = {
        place[name]: coded_bed(specimen, hoop, read[specimen])
        for name, (specimen, hoop) in counted(sorted(first.items()), "drawing beds", len(first))
        if specimen in read and name in place
    }
    return Beds(coded, None)


def coded_bed(specimen: str, hoop: Hoop, read: ReadBed) -> list[Any]:
    """[specimen, width, length, exponent, mains at y = 0, their slopes, crosses, u of a main gap and of a cross gap] in whole
    steps.

    Lists hold the first number and then the difference of each from the one before, which takes few characters.
    """
    lines = read.lines
    return [
        specimen,
        round(hoop.width / STEP_MM),
        round(hoop.length / STEP_MM),
        round(hoop.exponent / STEP_EXPONENT),
        _differences(lines.main_at_0.tolist(), STEP_MM),
        _differences(lines.main_slope.tolist(), STEP_SLOPE),
        _differences(lines.cross_y.tolist(), STEP_MM),
        round(read.u_main_gap / STEP_U_MM),
        round(read.u_cross_gap / STEP_U_MM),
    ]


def _differences(values: Iterable[float], step: float) -> list[int]:
    whole = [round(value / step) for value in values]
    return [one - before for one, before in zip(whole, [0, *whole[:-1]], strict=True)]


def _words() -> dict[str, Any]:
    """The question language's own words for zones, units, traits, superlatives and what `like` means."""
    openness = TRAITS["openness"]
    return {
        "zones": {
            zone: {"place": words.place, "adjective": words.adjective, "others": words.others, "windows": _windows_of(zone)}
            for zone, words in ZONE_WORDS.items()
        },
        "units": {code: words[0] for code, words in UNIT_WORDS.items()},
        "factors": {
            code: float(unit_factor(code))
            for code in ("[sin_i]", "cm2", "g", "kg.cm2", "mm", "[in_i]", "points", "%", "/cm2", "")
        },
        "traits": {key: TRAITS[key].title for key in _NAMED},
        "about": {f"{trait} {unit}".strip(): width for (trait, unit), width in ABOUT.items()},
        "noise": _noise(),
        "denials": sorted((text for text, phrase in phrases().items() if phrase.kind == "NOT"), key=len, reverse=True),
        "compared": {
            key: {"less": one.less, "more": one.more, "column": one.value}
            for key, one in COMPARED.items()
            if key not in ("beam", "release_year")
        },
        "orders": {
            (words := order_words(Order(by=key, descending=descending))).removesuffix(" first"): {
                "words": words,
                "column": TRAITS[key].column_in(None),
                "descending": descending,
            }
            for key in _SORTED
            for descending in (False, True)
        },
        "tightest": openness.lowest[0],
        "most_open": openness.highest[0],
        "like_percent": f"{LIKE_PERCENT:f}",
    }


def _noise() -> list[str]:
    """The single words that change nothing in a question, wherever they stand."""
    several = {word for row in HOMONYMS for word in row.words}
    return sorted(
        text for text, phrase in phrases().items() if phrase.kind == "NOISE" and _WORD.fullmatch(text) and text not in several
    )


def _windows_of(zone: str) -> list[str]:
    """The windows in which a zone lies; none for even drilling, which is no place."""
    return [zone] if zone in MIDDLES else ["left", "right"] if zone == "sides" else []


def own_rules() -> dict[str, Any]:
    """What the page needs to score a bed that somebody types: one reading of each string across a ball width, marks by a rule
    and gaps by a calliper as nobody described them.
    """
    rules: dict[str, Any] = {"ball": BALL_MM, "coverage": LEAST_COVERAGE, "placement": PLACEMENT_MM, "origin": list(ORIGIN_MM)}
    rules["person"] = PERSON_OTHER_MM
    for kind, tool in (("gap", "calliper"), ("mark", "rule")):
        resolution, error = map(float, ASSUMED[tool, "mm"])
        rules[kind] = {
            "variance": DEFAULT_SPACING_MM[tool] ** 2 + resolution**2 / 12.0,
            "instrument": error / 3.0**0.5,
        }
    return rules


def _shades(name: str) -> list[str]:
    return [to_hex(colormaps[name](step / (SHADES - 1))) for step in range(SHADES)]
