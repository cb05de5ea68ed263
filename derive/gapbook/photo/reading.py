"""A bed read off photographs of one lay: located in each, adjusted together, with its uncertainty, or refused."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from gapbook.errors import fail
from gapbook.photo import adjustment, locating, marks
from gapbook.photo.adjustment import Adjusted, Lay, Strings
from gapbook.photo.flatten import Pixels, pixels_of
from gapbook.photo.layout import Paper
from gapbook.photo.library import opencv
from gapbook.photo.locating import Located
from gapbook.photo.opening import Photograph
from gapbook.photo.refusals import refuse
from gapbook.science.grouping import BoolArray, FloatArray

STATIONS_MM = (-80.0, 0.0, 80.0)
MOST_CORNER_MM = 0.12
"""Corners may lie this far from where the adjusted pages have them, root mean square [mm]."""
MOST_BOW_MM = 1.5
MOST_PULL = 4.0
"""Bars, and what else is known beforehand, may be off by so many of their standard uncertainties."""
MOST_SHRUNK, MOST_UNLIKE = 0.04, 0.02
CROOKED_MM = 0.35
"""A string's stretches may lie this far from its line, root mean square [mm]."""
CROOKED_ONCE_MM = 0.8
CROOKED_TWICE_MM = 0.45
"""Two neighbouring stretches further than this to the same side of their line are a crook, not a slip [mm]."""
INFLATE_SCALE, INFLATE_POSITION = 1.1, 1.2
"""How much larger errors are than the adjustment says: set on some thirty rendered photographs."""
GLARE_LEVEL, MOST_GLARE = 250, 0.015


class Asked(NamedTuple):
    """What is to be read, and what was measured beside the photographs.

    mains, crosses: how many strings
    beam: height of the frame at 3 and 9 o'clock [mm]
    bars: lengths of the left and the right page's scale bar [2] in mm
    tip: where the tip points in the picture
    """

    mains: int
    crosses: int
    beam: float
    bars: tuple[float, float]
    tip: str = "up"


class Reading(NamedTuple):
    """A bed as read.

    main: marks of the mains from the first one [3, m] in mm, at STATIONS_MM
    cross: marks of the crosses from the first one [c] in mm, from tip to throat
    u_scale: relative standard uncertainty of a scale common to all marks
    u_position: standard uncertainty of a string's place beside that [mm]
    adjusted: the lay
    located: the strings of each photograph
    good: which stretches were used, of each photograph: mains' and crosses'
    quality: figures on the photographs
    diagonal_px: of a photograph
    """

    main: FloatArray
    cross: FloatArray
    u_scale: float
    u_position: float
    adjusted: Adjusted
    located: tuple[Located, ...]
    good: tuple[tuple[BoolArray, BoolArray], ...]
    quality: dict[str, Any]
    diagonal_px: float


Tell = Callable[[str], None]


def read(
    photographs: Sequence[Photograph], asked: Asked, tell: Tell = lambda _: None, seen: list[Pixels] | None = None
) -> Reading:
    """Read a bed. RefusedError if it cannot be read honestly; GapbookError if the pictures are not of one camera.

    photographs: of one lay, one or more
    asked: what is to be read
    tell: is told what is being done
    seen: each picture is added here as soon as it is flattened, so that a refused one can be shown too
    """
    opencv().setNumThreads(1)
    seen = [] if seen is None else seen
    sizes = {one.pixels.shape[:2] for one in photographs}
    if len(sizes) > 1:
        fix = "Take all with one phone, held the same way"
        raise fail(
            "different-cameras", "the photographs differ in size", found=str(sorted(sizes)), expected="one size", fix=fix
        )
    cv2 = opencv()
    pages = []
    for one in photographs:
        tell("looking for the pages")
        pages.append(marks.found(cv2.cvtColor(one.pixels, cv2.COLOR_RGB2GRAY)))
    lay = _lay(photographs, pages, asked)
    tell("placing the camera")
    first = adjustment.adjusted(lay, adjustment.begun(lay))
    _must_lie_well(first, pages, lay)
    located = []
    for one, camera, page in zip(photographs, first.cameras, pages, strict=True):
        tell("looking for the strings")
        found = locating.located(one.pixels, camera, first, page.per_mm, (asked.mains, asked.crosses), asked.tip, seen)
        located.append(found)
        _must_be_on_pages(found, lay.paper, first)
        _must_not_glare(found)
        for family in ("main", "cross"):
            locating.must_be_clean(family, getattr(found, family))
    tell("adjusting cameras and strings together")
    return _adjusted(lay, first, pages, located, asked)


def _lay(photographs: Sequence[Photograph], pages: Sequence[marks.Found], asked: Asked) -> Lay:
    """What is known before anything is adjusted. RefusedError `scales` if the bars cannot be right."""
    paper = pages[0].paper
    for side, bar in zip(("left", "right"), asked.bars, strict=True):
        if abs(bar / paper.bar_mm - 1.0) > MOST_SHRUNK:
            raise refuse("scales", f"bar-{side} {bar:g} mm", f"{paper.bar_mm:g} mm within {MOST_SHRUNK:.0%}")
    if abs(asked.bars[0] / asked.bars[1] - 1.0) > MOST_UNLIKE:
        raise refuse("scales", f"bars of {asked.bars[0]:g} and {asked.bars[1]:g} mm", f"bars alike within {MOST_UNLIKE:.0%}")
    high, wide = photographs[0].pixels.shape[:2]
    said = [one.focal_35mm for one in photographs if one.focal_35mm is not None]
    focal, u_focal = adjustment.expected_focal(said[0] if said else None, (wide, high))
    return Lay(paper, asked.bars, asked.beam / 2.0, focal, u_focal, (wide, high), tuple(one.pages for one in pages))


def _must_lie_well(lay: Adjusted, pages: Sequence[marks.Found], known: Lay) -> None:
    """RefusedError `scales`, `residuals` or `bow` if the pages do not lie as printed pages can."""
    per_mm = min(one.per_mm for one in pages)
    for name in ("bar_left", "bar_right"):
        if abs(lay.pulls[name]) > MOST_PULL:
            off = abs(lay.pulls[name]) * adjustment.U_BAR_MM
            found = f"{name.replace('_', '-')} {off:.1f} mm off what the picture shows"
            raise refuse("scales", found, f"{MOST_PULL * adjustment.U_BAR_MM:.1f} mm or less")
    if lay.corner_px / per_mm > MOST_CORNER_MM:
        raise refuse(
            "residuals", f"corners {lay.corner_px / per_mm:.2f} mm off, root mean square", f"{MOST_CORNER_MM} mm or less"
        )
    if lay.bow_mm.max() > MOST_BOW_MM:
        raise refuse("bow", f"a page bowed up by {lay.bow_mm.max():.1f} mm", f"{MOST_BOW_MM:g} mm or less")


def _must_be_on_pages(found: Located, paper: Paper, lay: Adjusted) -> None:
    """RefusedError `off-pages` unless all crossings of strings lie over the pages' field."""
    main, cross = found.main.told.comb.place, found.cross.told.comb.place
    x, y = np.array([main[0], main[-1]]), -np.array([cross[0], cross[-1]])
    # outer strings end at the hoop: what has to lie over the pages is a rounded rectangle, here its four sides' middles
    middle = np.array([[x[0], y.mean()], [x[1], y.mean()], [x.mean(), y[0]], [x.mean(), y[1]]])
    world = found.grid.world(middle)
    out = max(float(np.abs(world[:, 0]).max()) - paper.field_mm, float(np.abs(world[:, 1]).max()) - paper.height / 2.0)
    if out > 0.0:
        raise refuse("off-pages", f"strings {out:.0f} mm beyond the field", "all strings over the tinted field")


def _must_not_glare(found: Located) -> None:
    """RefusedError `glare` if a part of the field within the head is as bright as the picture can show."""
    main, cross = found.main.told.comb.place, found.cross.told.comb.place
    rows = np.clip(found.grid.rows(-np.array([cross[2], cross[-3]])).astype(int), 0, None)
    columns = np.clip(found.grid.columns(np.array([main[2], main[-3]])).astype(int), 0, None)
    inside = found.flat[rows[0] : rows[1], columns[0] : columns[1]]
    wide = round(4.0 * found.grid.per_mm)
    full = (inside.min(axis=2) >= GLARE_LEVEL).astype(np.float32)
    part = float((opencv().blur(full, (wide, wide)) > 0.8).mean())
    if part > MOST_GLARE:
        raise refuse("glare", f"{part:.0%} of the field blank white", f"{MOST_GLARE:.1%} or less")


def _sound(found: Located, family: str) -> BoolArray:
    """Sound stretches of a family; those far off their own line are left out. RefusedError if a string has too few."""
    s = getattr(found, family).stretches
    good = s.good.copy()
    for line in range(int(s.line.max()) + 1):
        mine = np.flatnonzero((s.line == line) & good)
        name = f"{'main' if family == 'main' else 'cross'} {line + 1}"
        for turn in range(3):
            if len(mine) < locating.LEAST_STRETCHES or np.ptp(s.along[mine]) < locating.LEAST_SPAN_MM:
                some = f"{len(mine)} clear stretches on {name}"
                raise refuse(
                    _why_few(found, family, line), some, f"{locating.LEAST_STRETCHES} over {locating.LEAST_SPAN_MM:g} mm"
                )
            off = _off_line(s.along[mine], s.across[mine])
            if turn == 0 and (crook := _crook(off)) > CROOKED_TWICE_MM:
                raise refuse("crooked", f"{name} bends by {crook:.1f} mm", f"{CROOKED_TWICE_MM:g} mm or less")
            spread = max(0.05, 1.4826 * float(np.median(np.abs(off))))
            keep = np.abs(off) < max(4.0 * spread, 0.25)
            if keep.all():
                break
            mine = mine[keep]
        rms = float(np.sqrt(np.mean(off**2)))
        if rms > CROOKED_MM or np.abs(off).max() > CROOKED_ONCE_MM:
            raise refuse("crooked", f"{name} up to {np.abs(off).max():.1f} mm out of line", f"{CROOKED_ONCE_MM:g} mm or less")
        good[(s.line == line)] = False
        good[mine] = True
    return good


def _crook(off: FloatArray) -> float:
    """By how much two neighbouring stretches, not the first or last ones, lie to the same side of their line [mm]."""
    inner = off[1:-1]
    same = np.minimum(np.abs(inner[:-1]), np.abs(inner[1:]))
    return float(same[inner[:-1] * inner[1:] > 0.0].max(initial=0.0))


def _why_few(found: Located, family: str, line: int) -> str:
    """Why a string has few clear stretches: it lies along the line where the pages meet, or nothing is known."""
    if family == "main":
        ends = np.column_stack([np.full(2, found.main.told.comb.place[line]), [-70.0, 70.0]])
        if np.abs(found.grid.world(ends)[:, 0]).min() < 6.0:
            return "seam"
    return "contrast"


def _off_line(along: FloatArray, across: FloatArray) -> FloatArray:
    """Residuals of a robust line: Huber's weights, a few rounds."""
    weight = np.ones(len(along))
    for _ in range(6):
        slope, place = np.polyfit(along, across, 1, w=weight)
        off = across - place - slope * along
        scale = max(0.02, 1.4826 * float(np.median(np.abs(off))))
        weight = np.sqrt(1.0 / np.maximum(1.0, np.abs(off) / (2.0 * scale)))
    return np.asarray(off)


def _adjusted(lay: Lay, first: Adjusted, pages: Sequence[marks.Found], located: Sequence[Located], asked: Asked) -> Reading:
    """Adjust cameras and strings together, and state the marks with their uncertainty."""
    good = [(_sound(found, "main"), _sound(found, "cross")) for found in located]
    parts: list[list[Any]] = [[], [], []]
    for number, (found, camera, fits) in enumerate(zip(located, first.cameras, good, strict=True)):
        for family, mine in zip(("main", "cross"), fits, strict=True):
            points = found.points(family)[mine]
            pixels = pixels_of(camera, found.grid, points, float(first.parameters[-1]))
            shift = 0 if family == "main" else asked.mains
            parts[0].append(np.full(len(points), number))
            parts[1].append(pixels)
            parts[2].append(getattr(found, family).stretches.line[mine] + shift)
    grid = located[0].grid
    line = np.concatenate(parts[2])
    count = asked.mains + asked.crosses
    strings = Strings(
        grid.turn,
        grid.middle,
        np.concatenate(parts[0]),
        np.concatenate(parts[1]),
        line,
        asked.mains,
        count,
        np.full(len(line), 0.1),
    )
    begin = np.zeros((count, 2))
    begin[: asked.mains, 0] = located[0].main.told.comb.place
    begin[asked.mains :, 0] = -located[0].cross.told.comb.place
    whole = adjustment.adjusted(lay, first.parameters, strings, begin)
    _must_lie_well(whole, pages, lay)
    _must_be_straight(whole, strings, asked)
    return _stated(whole, located, good, pages, asked, float(np.hypot(*lay.size)))


def _must_be_straight(whole: Adjusted, strings: Strings, asked: Asked) -> None:
    for number in range(strings.strings):
        off = whole.across[strings.line == number]
        if np.sqrt(np.mean(off**2)) > CROOKED_MM:
            name = f"main {number + 1}" if number < asked.mains else f"cross {number - asked.mains + 1}"
            raise refuse(
                "crooked", f"{name} {np.sqrt(np.mean(off**2)):.2f} mm out of line, root mean square", f"{CROOKED_MM} mm or less"
            )


def _marks(lines: FloatArray, mains: int) -> FloatArray:
    """Marks from the first string: mains at the three stations, then crosses, in one row [3 m + c].

    Stations are measured along the head's long axis from the middle of the outer crosses; the axis is turned as mains and
    crosses are on average.
    """
    main, cross = lines[:mains], lines[mains:]
    turn = (-main[:, 1].mean() * mains + cross[:, 1].mean() * len(cross)) / len(lines)
    cos, sin = np.cos(turn), np.sin(turn)
    axis = (main[0, 0] + main[-1, 0]) / 2.0
    at_axis = cross[:, 0] + cross[:, 1] * axis
    low, high = at_axis[-1], at_axis[0]
    middle = np.array([axis, (low + high) / 2.0])
    parts = []
    for station in STATIONS_MM:
        base = middle + station * np.array([-sin, cos])
        # base + t (cos, sin) meets x = a + b y
        t = (main[:, 0] + main[:, 1] * base[1] - base[0]) / (cos - main[:, 1] * sin)
        parts.append(t - t[0])
    # middle + t (-sin, cos) meets y = a + b x
    t = (cross[:, 0] + cross[:, 1] * middle[0] - middle[1]) / (cos + cross[:, 1] * sin)
    return np.concatenate([*parts, t[0] - t])


def _stated(
    whole: Adjusted,
    located: Sequence[Located],
    good: Sequence[tuple[BoolArray, BoolArray]],
    pages: Sequence[marks.Found],
    asked: Asked,
    diagonal: float,
) -> Reading:
    lines = whole.lines
    value = _marks(lines, asked.mains)
    slope = np.empty((len(value), lines.size))
    for column in range(lines.size):
        step = 1e-4 if column % 2 == 0 else 1e-6
        up, down = lines.copy().ravel(), lines.copy().ravel()
        up[column] += step
        down[column] -= step
        slope[:, column] = (_marks(up.reshape(-1, 2), asked.mains) - _marks(down.reshape(-1, 2), asked.mains)) / (2.0 * step)
    covariance = slope @ whole.covariance[-lines.size :, -lines.size :] @ slope.T
    m = asked.mains
    main, cross = value[: 3 * m].reshape(3, m), value[3 * m :]
    pieces = [slice(m, 2 * m), slice(3 * m, None)]
    split = [_split(value[piece], covariance[piece, piece]) for piece in pieces]
    u_scale = INFLATE_SCALE * max(one[0] for one in split)
    u_position = INFLATE_POSITION * max(one[1] for one in split)
    quality = {
        "pixels_per_mm": round(min(one.per_mm for one in pages), 2),
        "blur_mm": round(max(one.blur_mm for one in pages), 3),
        "corners": int(sum(len(page.nominal) for one in pages for page in one.pages)),
        "corner_px": round(whole.corner_px, 3),
        "stretches": int(sum(one.sum() for pair in good for one in pair)),
        "stretches_left_out": int(sum((~one).sum() for pair in good for one in pair)),
        "out_of_line_mm": round(float(np.sqrt(np.mean(whole.across**2))), 3),
        "apart": round(min(min(one.main.told.apart, one.cross.told.apart) for one in located), 2),
        "flank": round(max(locating.flank_ridge(getattr(one, f).stretches) for one in located for f in ("main", "cross")), 3),
        "trend": round(max(locating.flank_trend(getattr(one, f).stretches) for one in located for f in ("main", "cross")), 4),
        "bow_mm": [round(float(one), 2) for one in whole.bow_mm],
        "print_scales": [round(float(one), 5) for one in whole.scales],
    }
    return Reading(main, cross, u_scale, u_position, whole, tuple(located), tuple(good), quality, diagonal)


def _split(marks_: FloatArray, covariance: FloatArray) -> tuple[float, float]:
    """Relative standard uncertainty of the scale of marks, and the uncertainty of places beside it [mm]."""
    about = marks_ - marks_.mean()
    weight = about / float(about @ about)
    scale = float(weight @ covariance @ weight)
    rest = np.eye(len(marks_)) - 1.0 / len(marks_) - np.outer(about, weight)
    left = rest @ covariance @ rest.T
    return float(np.sqrt(max(scale, 0.0))), float(np.sqrt(max(np.trace(left), 0.0) / (len(marks_) - 2.0)))
