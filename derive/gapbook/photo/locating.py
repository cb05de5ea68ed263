"""Strings located in one photograph: the head's turn, both combs, and the places of all their stretches."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.photo import combs, flatten, profiles, telling
from gapbook.photo.adjustment import PAGES, Adjusted, head_coordinates
from gapbook.photo.camera import Camera, on_plane, seen
from gapbook.photo.flatten import Grid, Pixels
from gapbook.photo.profiles import STEPS, Stretches
from gapbook.photo.refusals import refuse
from gapbook.photo.telling import CROSS_REACH_MM, MAIN_REACH_MM, Told
from gapbook.science.grouping import FloatArray

HALF_MM = (150.0, 175.0)
COARSE = 2.0
FINEST, COARSEST = 6.0, 3.0
NEEDED_APART = 3.5
"""Strings have to lie this many standard deviations of the field from it."""
LEAST_STRETCHES = 5
LEAST_SPAN_MM = 90.0
"""A string needs this many sound stretches, over this length."""
MOST_FLANK = 0.16
"""Beside a string, a ridge as high as this part of the string's own is a shadow or a second string."""
MOST_TREND = 0.02
"""From the middle of a family to its outer strings, the two flanks of a string may come to differ by this part of it. On
about thirty rendered photographs it was mostly below 0.01 in soft light, and 0.02 or more where a near hard lamp did harm.
"""
QUARTERS = {"up": 0, "left": 1, "down": 2, "right": 3}


class Family(NamedTuple):
    """A family located.

    told: how it is told from the field
    stretches: of all its strings
    """

    told: Told
    stretches: Stretches


class Located(NamedTuple):
    """The strings of one photograph.

    grid: head coordinates in which they were located
    main, cross: the families
    flat: the photograph flattened [H, W, 3]
    """

    grid: Grid
    main: Family
    cross: Family
    flat: Pixels

    def points(self, family: str) -> FloatArray:
        """Head coordinates [S, 2] of the stretches of a family."""
        if family == "main":
            s = self.main.stretches
            return np.column_stack([s.across, s.along])
        s = self.cross.stretches
        return np.column_stack([s.along, -s.across])


def base_turn(camera: Camera, tip: str) -> float:
    """The angle of the head's x in the world, to the next quarter turn, if its tip points so in the picture [rad]."""
    up = -camera.rotation[1]
    picture = np.rint((np.arctan2(up[1], up[0]) - np.pi / 2.0) / (np.pi / 2.0))
    return float((picture + QUARTERS[tip]) * np.pi / 2.0)


def seam_of(camera: Camera, lay: Adjusted, grid: Grid) -> tuple[float, float]:
    """Place and lean, among mains, of the line where the pages meet, as it is seen in the plane of strings."""
    at = lay.parameters[-PAGES:]
    line = np.array([[at[0] / 2.0, -70.0, 0.0], [at[0] / 2.0, 70.0, 0.0]])
    ends = head_coordinates(on_plane(camera, seen(camera, line), float(at[-1])), grid.turn, grid.middle)
    step = ends[1] - ends[0]
    if abs(step[1]) < 1.0:  # the head lies across the pages
        return np.inf, 0.0
    lean = float(step[0] / step[1])
    return float(ends[0, 0] - lean * ends[0, 1]), lean


def located(
    pixels: Pixels, camera: Camera, lay: Adjusted, per_mm: float, counts: tuple[int, int], tip: str, shown: list[Pixels]
) -> Located:
    """Locate the strings of a photograph. RefusedError `contrast` or `count`.

    pixels: the photograph [H, W, 3]
    camera: its camera
    lay: adjusted corners
    per_mm: pixels a millimetre
    counts: mains and crosses
    tip: where the tip points in the picture
    shown: the flattened picture is added here before it is judged
    """
    height = float(lay.parameters[-1])
    grid = _turned(pixels, camera, height, base_turn(camera, tip))
    grid = grid._replace(per_mm=float(np.clip(1.15 * per_mm, COARSEST, FINEST)))
    flat = flatten.flattened(pixels, camera, grid, height)
    shown.append(flat)
    difference = flatten.differing(flatten.colours(flat), grid.per_mm)
    first = {}
    for family, count, reach in (("main", counts[0], MAIN_REACH_MM), ("cross", counts[1], CROSS_REACH_MM)):
        first[family] = telling.first_comb(*telling.upright(difference, grid, family), count, reach, 0.0)
        if first[family] is None:
            raise _uncounted(family, count, None)
    main, cross = first["main"], first["cross"]
    assert main is not None
    assert cross is not None
    told = {}
    seam = seam_of(camera, lay, grid)
    for family, own, other, reach, sign in (
        ("main", main, cross, MAIN_REACH_MM, -1.0),
        ("cross", cross, main, CROSS_REACH_MM, 1.0),
    ):
        middle = sign * float(other.place[0] + other.place[-1]) / 2.0
        turned = telling.upright(difference, grid, family)
        meets = seam if family == "main" else None
        again = telling.told(*turned, own, sign * other.place, reach, middle, meets)
        if again is None:
            raise _uncounted(family, len(own.place), None)
        told[family] = again
    for family, one in told.items():
        _must_be_told(family, one)
    crossing = np.sort(-told["cross"].comb.place)
    mains = profiles.stretches(
        told["main"].picture, told["main"].grid, told["main"].comb.place, told["main"].comb.lean, crossing
    )
    crosses = profiles.stretches(
        told["cross"].picture, told["cross"].grid, told["cross"].comb.place, told["cross"].comb.lean, told["main"].comb.place
    )
    return Located(grid, Family(told["main"], mains), Family(told["cross"], crosses), flat)


def _turned(pixels: Pixels, camera: Camera, height: float, base: float) -> Grid:
    """The grid that lies as the head does."""
    grid = Grid(base, np.zeros(2), HALF_MM, COARSE)
    difference = flatten.differing(flatten.colours(flatten.flattened(pixels, camera, grid, height)), COARSE)
    size = np.abs(difference) / np.maximum(np.quantile(np.abs(difference[::4, ::4]), 0.9, axis=(0, 1)), 0.02)
    mixed = np.minimum(size, 2.0).sum(axis=2).astype(np.float32)
    return grid._replace(turn=base + combs.turn_of(mixed, grid))


def _uncounted(family: str, count: int, likely: int | None) -> Exception:
    names = {"main": "mains", "cross": "crosses"}
    if likely is None:
        return refuse("count", f"no {count} {names[family]} in line", f"{count} {names[family]}")
    return refuse("count", f"likely {likely} {names[family]}", f"{count} {names[family]}, as declared")


def _must_be_told(family: str, told: Told) -> None:
    """RefusedError unless strings stand out from the field, all of them, and no other line as they do."""
    comb = told.comb
    count = len(comb.place)
    if comb.likely >= 1.6 * count:
        raise refuse("second-comb", f"about {comb.likely} lines where {count} were declared", f"{count}")
    if comb.likely != count or comb.strength.min() < combs.STRONG:
        likely = comb.likely if comb.likely != count else int(np.sum(comb.strength >= combs.STRONG))
        raise _uncounted(family, count, likely)
    steps = np.log(np.diff(comb.place))
    if np.abs(np.diff(steps)).max() > 0.55:
        raise refuse("count", "a gap far wider or narrower than its neighbours", f"{count} strings whose gaps change gradually")
    if told.apart < NEEDED_APART:
        found = f"{'mains' if family == 'main' else 'crosses'} {told.apart:.1f} times the field's own scatter away from it"
        raise refuse("contrast", found, f"{NEEDED_APART:g} times or more")


def must_be_clean(family: str, found: Family) -> None:
    """RefusedError `shadows` if beside the strings there are ridges as of shadows, or their two flanks differ."""
    s = found.stretches
    flank = flank_ridge(s)
    if flank > MOST_FLANK:
        what = "mains" if family == "main" else "crosses"
        raise refuse("shadows", f"lines beside the {what} that are {flank:.0%} as strong as these", f"{MOST_FLANK:.0%} or less")
    trend = flank_trend(s)
    if trend > MOST_TREND:
        what = "mains" if family == "main" else "crosses"
        found_ = f"shadows that spread the {what}: flanks differ by {trend:.1%} more at the outer ones"
        raise refuse("shadows", found_, f"{MOST_TREND:.0%} or less")


def flank_trend(s: Stretches) -> float:
    """How much the difference of a string's two flanks changes over the family, from its middle to an outer string.

    Shadows of a near lamp fall to the left of strings at the left and to the right of those at the right: they spread the comb.
    """
    place, away = [], []
    for line in np.unique(s.line):
        mine = (s.line == line) & s.good
        if mine.sum() >= 3:
            place.append(float(np.mean(s.across[mine])))
            away.append(float(profiles.lopsided(np.median(s.profile[mine], axis=0)[None])[0]))
    if len(place) < 4:
        return 0.0
    about = np.array(place) - np.mean(place)
    return float(abs(np.polyfit(about, away, 1)[0]) * np.abs(about).max())


def flank_ridge(s: Stretches) -> float:
    """The highest ridge beside the strings, by string, over that of strings; of the third highest string."""
    worst = []
    for line in np.unique(s.line):
        mine = (s.line == line) & s.good
        if mine.sum() < 3:
            continue
        mean = np.median(s.profile[mine], axis=0)
        worst.append(_highest_beside(mean))
    return float(np.sort(worst)[-min(3, len(worst))]) if worst else 0.0


def _highest_beside(mean: FloatArray) -> float:
    """The highest ridge, over what lies 0.8 mm to either side, further than 1.3 mm from the middle."""
    step = 8
    inside = slice(step, -step)
    ridge = mean[inside] - np.maximum(mean[: -2 * step], mean[2 * step :])
    return float(ridge[np.abs(STEPS[inside]) > 1.3].max())
