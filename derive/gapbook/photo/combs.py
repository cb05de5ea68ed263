"""Combs: where the strings of a family run in a flattened picture, exactly as many as there have to be.

A candidate is a straight line along which there is a ridge; which candidates are the strings is found by dynamic programming
over pairs of neighbours: strong ridges and gaps that change little are preferred.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from gapbook.photo.flatten import Grid, Image
from gapbook.photo.library import opencv
from gapbook.science.grouping import FloatArray, IntArray

STRING_MM = 1.0
FLANK_MM = 2.1
"""A ridge is how far the middle STRING_MM stand out over what lies FLANK_MM to either side, on the side where it is less."""
BAND_MM = 10.0
STEEPEST, LEANS = 0.06, 31
"""Strings lean by at most so much from their family's direction."""
APART_MM = 3.5
"""Strings of one family lie no closer than this."""
WIDEST_MM = 34.0
STRONG = 0.5
"""Ridges of at least this part of the usual string's count as strings."""
SEAM_MM, SEAM_LEAN = 3.0, 0.015
UNEVEN = 1.2
"""Weight of how much the logarithm of neighbouring gaps differs."""


class Comb(NamedTuple):
    """Strings of a family.

    place: across the family, at the middle of the picture [n] in mm, rising
    lean: change of place a millimetre along the family [n]
    strength: ridge of each over that of the usual string [n]
    likely: how many strings there seem to be
    ridge: of the usual string, in units of the picture
    """

    place: FloatArray
    lean: FloatArray
    strength: FloatArray
    likely: int
    ridge: float


def turn_of(picture: Image, grid: Grid, most: float = 20.0) -> float:
    """The angle [rad] by which the head is turned from the picture's axes: where columns and rows of ridges stand out most."""
    cv2 = opencv()
    high, wide = picture.shape

    def sharpness(angle: float) -> float:
        turned = cv2.getRotationMatrix2D((wide / 2.0, high / 2.0), -angle, 1.0)
        at = cv2.warpAffine(picture, turned, (wide, high), flags=cv2.INTER_LINEAR)
        part = at[int(0.22 * high) : int(0.78 * high), int(0.22 * wide) : int(0.78 * wide)]
        total = 0.0
        for axis in (0, 1):
            total += float(np.var(_ridge(part.mean(axis=axis)[None], grid.per_mm, min_type=False)))
        return total

    angles = np.arange(-most, most + 0.5, 1.0)
    best = float(angles[np.argmax([sharpness(angle) for angle in angles])])
    for step in (0.4, 0.1):
        near = best + step * np.arange(-3, 4)
        best = float(near[np.argmax([sharpness(angle) for angle in near])])
    return float(np.deg2rad(best))


def _ridge(across: Any, per_mm: float, min_type: bool = True) -> Any:
    """Ridges of rows [N, W]: the mean over STRING_MM less that beside it."""
    cv2 = opencv()
    wide = max(1, round(STRING_MM * per_mm))
    mean = cv2.blur(np.ascontiguousarray(across, dtype=np.float32), (wide, 1), borderType=cv2.BORDER_REPLICATE)
    step = max(1, round(FLANK_MM * per_mm))
    left, right = np.roll(mean, step, axis=1), np.roll(mean, -step, axis=1)
    left[:, :step], right[:, -step:] = mean[:, :step], mean[:, -step:]
    return mean - np.maximum(left, right) if min_type else mean - (left + right) / 2.0


def candidates(picture: Image, grid: Grid, reach: float, middle: float = 0.0) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lines along which there is a ridge: place, lean and ridge, by place.

    picture: how much each place looks like a string [H, W]; the family runs down it
    grid: of the picture; for crosses that of the picture turned by a quarter
    reach: how far along the family, to both sides of `middle`, all its strings run [mm]
    middle: along the family [mm]
    """
    rows = np.arange(picture.shape[0])
    along = grid.half[1] - (rows + 0.5) / grid.per_mm
    edges = np.arange(-reach, reach + 1e-9, BAND_MM) + middle
    bands, at = [], []
    for low, high in pairwise(edges.tolist()):
        mine = (along >= low) & (along < high)
        if mine.any():
            bands.append(picture[mine].mean(axis=0))
            at.append((low + high) / 2.0)
    ridges = np.clip(_ridge(np.array(bands), grid.per_mm), 0.0, None)
    usual = np.quantile(ridges, 0.97)
    ridges = np.minimum(ridges, 1.5 * usual)
    columns = np.arange(picture.shape[1], dtype=float)
    leans = np.linspace(-STEEPEST, STEEPEST, LEANS)
    mean = np.empty((LEANS, len(columns)))
    for number, lean in enumerate(leans):
        shifted = [np.interp(columns + lean * y * grid.per_mm, columns, row) for y, row in zip(at, ridges, strict=True)]
        mean[number] = np.mean(np.sqrt(shifted), axis=0) ** 2  # all bands count: what is there in half of them is no string
    best = mean.max(axis=0)
    lean = leans[mean.argmax(axis=0)]
    order = np.argsort(-best)
    free = np.ones(len(columns), dtype=bool)
    apart = round(APART_MM / 2.0 * grid.per_mm)
    kept: list[int] = []
    for column in order:
        if best[column] < 0.08 * best[order[0]] or len(kept) > 90:
            break
        if free[column]:
            kept.append(int(column))
            free[max(0, column - apart) : column + apart + 1] = False
    kept_at = np.sort(np.array(kept, dtype=int))
    place = (kept_at + 0.5) / grid.per_mm - grid.half[0]
    return place, lean[kept_at], best[kept_at]


def comb(
    place: FloatArray, lean: FloatArray, ridge: FloatArray, count: int, seam: tuple[float, float] | None = None
) -> Comb | None:
    """The `count` strings among candidates; None if there are not as many.

    place, lean, ridge: of the candidates, by place
    count: how many strings there have to be
    seam: place and lean of the line where the pages meet, which is no string though it may look like one
    """
    if len(place) < count:
        return None
    usual = float(np.median(np.sort(ridge)[-count:]))
    strength = ridge / usual
    worth = np.minimum(strength, 1.2) - STRONG
    chosen = _best_chain(place, worth, count)
    if chosen is None:
        return None
    inside = (place > place[chosen[0]] - WIDEST_MM) & (place < place[chosen[-1]] + WIDEST_MM)
    strong = inside & (strength >= STRONG)
    if seam is not None:
        like_seam = (np.abs(place - seam[0]) < SEAM_MM) & (np.abs(lean - seam[1]) < SEAM_LEAN)
        like_seam[chosen] = False
        strong &= ~like_seam
    likely = int(strong.sum())
    return Comb(place[chosen], lean[chosen], strength[chosen], likely, usual)


def _best_chain(place: FloatArray, worth: FloatArray, count: int) -> IntArray | None:
    """Numbers of the `count` candidates whose worth, less how uneven their gaps are, is the most.

    The state is a pair of neighbours; a step goes from (i, j) to (j, k).
    """
    n = len(place)
    gap = place[None, :] - place[:, None]
    fits = (gap >= APART_MM) & (gap <= WIDEST_MM)
    log_gap = np.log(np.where(fits, gap, 1.0))
    total = np.where(fits, worth[:, None] + worth[None, :], -np.inf)
    back = []
    for _ in range(count - 2):
        step = total[:, :, None] - UNEVEN * (log_gap[None, :, :] - log_gap[:, :, None]) ** 2
        before = step.argmax(axis=0)
        best = np.take_along_axis(step, before[None], axis=0)[0]
        total = np.where(fits, best + worth[None, :], -np.inf)
        back.append(before)
    if not np.isfinite(total).any():
        return None
    j, k = np.unravel_index(int(np.argmax(total)), (n, n))
    chain = [int(k), int(j)]
    for before in reversed(back):
        i = int(before[chain[-1], chain[-2]])
        chain.append(i)
    return np.array(chain[::-1], dtype=np.int64)
