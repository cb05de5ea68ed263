"""What the page holds: every frame's figures column by column, one bed a frame, and the words of the question language."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from gapbook.pictures.draw import LARGEST_MM, SMALLEST_MM
from gapbook.pictures.figure import SIZES
from gapbook.questions.question import LIKE_PERCENT
from gapbook.questions.subjects import all_score_columns
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONE_WORDS, unit_factor
from gapbook.science.comparison import CONFIDENCE
from gapbook.science.meshes import Hoop, windows
from gapbook.tables.bedlines import BedLines
from gapbook.tables.manylines import lines_of_many
from gapbook.tables.package import Package
from gapbook.tables.provenance import caution
from gapbook.tables.store import Store

IDENTITY = ("frame_id", "basis", "specimens", "mains", "crosses", "head_area_cm2")
SCORES_SHOWN = ("density_centre_per_cm2", "side_opening", "uniformity")
DECLARED = ("maker", "model", "edition")
HANDLING = ("mass_g", "balance_points", "swingweight_kgcm2")
STIFFNESS = "stiffness_centre_n_per_mm"
SHADES = 21
"""Colours of the map of mesh sizes that the page has; it mixes those between."""
MOST_BEDS = 8000
"""Beds in a page at most. With more it would be slow to open, so it has none and says so."""
STEP_MM = 0.01
STEP_SLOPE = 1e-5
STEP_EXPONENT = 1e-3
"""Steps in which a bed's lengths [mm], slopes and exponent are coded as whole numbers."""

Columns = dict[str, list[Any]]


def gather(package: Package) -> dict[str, Any]:
    """Everything the page shows, ready for JSON. GapbookError if a derived table cannot be read."""
    store = Store(package)
    frames = _frames(store)
    drawn = beds(store, frames["frame_id"])
    return {
        "package": {"name": package.name, "version": package.version},
        "caution": caution(package),
        "confidence": CONFIDENCE,
        "words": _words(),
        "windows": windows(),
        "shades": {"least": SMALLEST_MM, "most": LARGEST_MM, "colours": _shades()},
        "frames": frames,
        "beds": drawn.coded,
        "bedless": drawn.without,
    }


def _frames(store: Store) -> Columns:
    """Scores, declared names, strung handling and stiffness, one row a frame in the order of ids."""
    scores = list(
        dict.fromkeys([*IDENTITY, *all_score_columns(), *(part for name in SCORES_SHOWN for part in (name, f"u_{name}"))])
    )
    handling = [part for name in HANDLING for part in (name, f"u_{name}")]
    source = f"{store.load('scores', scores)} s LEFT JOIN {store.load('frames', ['frame_id', *DECLARED])} f USING (frame_id)"
    picked = [f"s.{name}" for name in scores] + [f"f.{name}" for name in DECLARED]
    names = [*scores, *DECLARED]
    for table, columns, where in (
        ("handling", ["basis", *handling], "strung"),
        ("mechanics", [STIFFNESS, f"u_{STIFFNESS}"], "true"),
    ):
        if table in store.package.resources and store.package.path(table).is_file():
            loaded = store.load(table, ["frame_id", *columns, *([where] if where != "true" else [])])
            source += f" LEFT JOIN (SELECT * FROM {loaded} WHERE {where}) {table} USING (frame_id)"
            picked += [f"{table}.{name}" for name in columns]
            names += [f"{table}_basis" if name == "basis" else name for name in columns]
    rows = store.rows(f"SELECT {', '.join(picked)} FROM {source} ORDER BY s.frame_id")
    return {name: [row[place] for row in rows] for place, name in enumerate(names)}


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
    lines = lines_of_many(store.package, [specimen for specimen, _ in first.values()])
    place = {name: number for number, name in enumerate(frame_ids)}
    coded = {
        place[name]: coded_bed(specimen, hoop, lines[specimen])
        for name, (specimen, hoop) in sorted(first.items())
        if specimen in lines and name in place
    }
    return Beds(coded, None)


def coded_bed(specimen: str, hoop: Hoop, lines: BedLines) -> list[Any]:
    """[specimen, width, length, exponent, mains at y = 0, their slopes, crosses] in whole steps.

    Lists hold the first number and then the difference of each from the one before, which takes few characters.
    """
    return [
        specimen,
        round(hoop.width / STEP_MM),
        round(hoop.length / STEP_MM),
        round(hoop.exponent / STEP_EXPONENT),
        _differences(lines.main_at_0.tolist(), STEP_MM),
        _differences(lines.main_slope.tolist(), STEP_SLOPE),
        _differences(lines.cross_y.tolist(), STEP_MM),
    ]


def _differences(values: Iterable[float], step: float) -> list[int]:
    whole = [round(value / step) for value in values]
    return [one - before for one, before in zip(whole, [0, *whole[:-1]], strict=True)]


def _words() -> dict[str, Any]:
    """The question language's own words for zones, units, traits, superlatives and what `like` means."""
    openness = TRAITS["openness"]
    return {
        "zones": {zone: {"place": words.place, "adjective": words.adjective} for zone, words in ZONE_WORDS.items()},
        "units": {code: words[0] for code, words in UNIT_WORDS.items()},
        "factors": {code: float(unit_factor(code)) for code in ("[sin_i]", "cm2", "g", "kg.cm2", "")},
        "traits": {key: TRAITS[key].title for key in ("head_area", "mains", "crosses", "mass", "swingweight")},
        "tightest": openness.lowest[0],
        "most_open": openness.highest[0],
        "like_percent": f"{LIKE_PERCENT:f}",
    }


def _shades() -> list[str]:
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    return [to_hex(colormaps[SIZES](step / (SHADES - 1))) for step in range(SHADES)]
