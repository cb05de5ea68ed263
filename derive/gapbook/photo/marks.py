"""Corners of the pages' strips in a photograph: found by their codes, then placed to some hundredths of a pixel."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gapbook.photo import layout
from gapbook.photo.layout import PAPERS, SIDES, SQUARE_MM, Paper
from gapbook.photo.library import opencv
from gapbook.photo.refusals import refuse
from gapbook.science.grouping import BoolArray, FloatArray

LEAST_CODES = 6
SMALL, LARGE = 6_000_000, 30_000_000
"""Codes in pictures of fewer pixels are searched at twice the size, in those of more at half."""
LEAST_CORNERS = 16
"""A page needs so many corners, over LEAST_SPAN of its strip."""
LEAST_SPAN = 0.6
LEAST_PIXELS_PER_MM = 2.0
MOST_BLUR_MM = 0.75
"""Printed edges may be smeared by so much, one standard deviation [mm]: more leaves hardly a flank of a string."""


class PageCorners(NamedTuple):
    """Corners of one page that a photograph shows.

    side: left or right
    nominal: their places on the page [N, 2] in mm
    pixels: their places in the photograph [N, 2]
    """

    side: str
    nominal: FloatArray
    pixels: FloatArray


class Found(NamedTuple):
    """Both pages in a photograph.

    paper: their size
    pages: left and right
    per_mm: pixels a millimetre, where they are fewest
    blur_mm: standard deviation by which printed edges are smeared [mm]
    """

    paper: Paper
    pages: tuple[PageCorners, PageCorners]
    per_mm: float
    blur_mm: float


def found(grey: NDArray[np.uint8]) -> Found:
    """The corners of both pages in a picture [H, W]. RefusedError `corners`, `pixels` or `blur`."""
    cv2 = opencv()
    number, codes = _codes(cv2, grey)
    sheets = [(paper, [_page(cv2, grey, number, codes, paper, side) for side in SIDES]) for paper in PAPERS.values()]
    paper, (left, right) = max(sheets, key=lambda sheet: sum(0 if page is None else len(page.nominal) for page in sheet[1]))
    for side, page in (("left", left), ("right", right)):
        some = 0 if page is None else len(page.nominal)
        span = 0.0 if page is None else float(np.ptp(page.nominal[:, 1])) / paper.bar_mm
        if page is None or some < LEAST_CORNERS or span < LEAST_SPAN:
            what = f"{some} corners of the {side} page" + (f" over {span:.0%} of its strip" if some else "")
            most = (paper.rows - 1) * 2
            raise refuse("corners", what, f"{LEAST_CORNERS} of {most} or more, over {LEAST_SPAN:.0%} of the strip")
    assert left is not None
    assert right is not None
    per_mm = min(_per_mm(left), _per_mm(right))
    if per_mm < LEAST_PIXELS_PER_MM:
        raise refuse("pixels", f"{per_mm:.1f} pixels a millimetre", f"{LEAST_PIXELS_PER_MM:g} or more")
    blur = float(np.quantile(np.concatenate([_smear(grey, page) for page in (left, right)]), 0.75)) / per_mm
    if blur > MOST_BLUR_MM:
        raise refuse("blur", f"edges smeared by {blur:.2f} mm", f"{MOST_BLUR_MM:g} mm or less")
    return Found(paper, (left, right), per_mm, blur)


def _codes(cv2: Any, grey: NDArray[np.uint8]) -> tuple[NDArray[np.int64], FloatArray]:
    """Numbers [M] and corners [M, 4, 2] of all codes seen. Codes are searched at a scale at which a cell has enough pixels."""
    scale = 2.0 if grey.size < SMALL else 0.5 if grey.size > LARGE else 1.0
    picture = (
        grey
        if scale == 1.0
        else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC)
    )
    settings = cv2.aruco.DetectorParameters()
    settings.adaptiveThreshWinSizeMax = 43
    settings.minMarkerPerimeterRate = 0.012
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250), settings)
    corners, numbers, _ = detector.detectMarkers(picture)
    if numbers is None or not len(numbers):
        return np.zeros(0, dtype=np.int64), np.zeros((0, 4, 2))
    at = np.array(corners, dtype=np.float64).reshape(-1, 4, 2)
    return np.asarray(numbers, dtype=np.int64).ravel(), (at + 0.5) / scale - 0.5


def _page(
    cv2: Any, grey: NDArray[np.uint8], number: NDArray[np.int64], codes: FloatArray, paper: Paper, side: str
) -> PageCorners | None:
    """The corners of one page; None if too few of its codes are seen."""
    known = layout.codes(paper, side)
    index = {int(one): place for place, one in enumerate(known.number)}
    mine = [(place, index[int(one)]) for place, one in enumerate(number) if int(one) in index]
    if len(mine) < LEAST_CODES:
        return None
    pixels = codes[[place for place, _ in mine]].reshape(-1, 2)
    nominal = known.corners[[place for _, place in mine]].reshape(-1, 2)
    turned, good = cv2.findHomography(nominal, pixels, cv2.RANSAC, 4.0)
    if turned is None:
        return None
    good = good.ravel().astype(bool).reshape(-1, 4).all(axis=1)
    if good.sum() < LEAST_CODES:
        return None
    middles = nominal.reshape(-1, 4, 2)[good].mean(axis=1)
    corners = layout.corners(paper, side)
    near = np.linalg.norm(corners[:, None] - middles[None], axis=2) < 0.9 * SQUARE_MM
    corners = corners[near.sum(axis=1) >= 1]
    if len(corners) < 4:
        return None
    guess = cv2.perspectiveTransform(corners[None], turned)[0]
    size = _size(guess, corners)
    placed, sure = _placed(cv2, grey, guess, size)
    return PageCorners(side, corners[sure], placed[sure]) if sure.sum() >= 4 else None


def _size(pixels: FloatArray, nominal: FloatArray) -> float:
    """Pixels of a square's side, roughly."""
    return float(SQUARE_MM * np.ptp(pixels, axis=0).max() / np.ptp(nominal, axis=0).max())


def _placed(cv2: Any, grey: NDArray[np.uint8], guess: FloatArray, size: float) -> tuple[FloatArray, BoolArray]:
    """Corners placed by the directions of the grey around them, and which of them stayed near the guess."""
    half = max(2, round(0.11 * size))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 40, 1e-3)
    high, wide = grey.shape
    edge = half + 3
    inside = np.all((guess > edge) & (guess < np.array([wide, high]) - edge), axis=1)
    placed = guess.copy()
    if inside.any():
        start = np.ascontiguousarray(guess[inside][:, None], dtype=np.float32)
        placed[inside] = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), criteria)[:, 0]
    moved = np.linalg.norm(placed - guess, axis=1)
    return placed, inside & (moved < 0.12 * size)


def _per_mm(page: PageCorners) -> float:
    """Pixels a millimetre along the strip, where they are fewest."""
    rows = np.round(page.nominal[:, 1] / SQUARE_MM, 2)
    least = np.inf
    for x in np.unique(page.nominal[:, 0]):
        column = page.nominal[:, 0] == x
        order = np.argsort(rows[column])
        steps = np.diff(page.nominal[column, 1][order])
        ways = np.linalg.norm(np.diff(page.pixels[column][order], axis=0), axis=1)
        if len(steps):
            least = min(least, float(np.quantile(ways / steps, 0.1)))
    return float(least)


def _smear(grey: NDArray[np.uint8], page: PageCorners) -> FloatArray:
    """Standard deviation of the smear across edges between squares [px], in both directions at each of some corners.

    Of a step smeared like a normal distribution, the steepest slope is the step over sqrt(2 pi) standard deviations.
    """
    from scipy.ndimage import map_coordinates  # late: slow to import

    size = _size(page.pixels, page.nominal)
    along = np.polyfit(page.nominal[:, 1], page.pixels, 1)[0]
    along /= np.linalg.norm(along)
    across = np.array([-along[1], along[0]])
    fine = 0.2
    reach = np.arange(-0.11 * size, 0.11 * size + fine, fine)
    result = []
    for corner in page.pixels[::2]:
        for step, cut in ((along, across), (across, along)):
            for sign in (-0.30, 0.30):
                base = corner + sign * size * step
                at = base + reach[:, None] * cut
                line = map_coordinates(grey, [at[:, 1], at[:, 0]], order=1, mode="nearest", output=np.float64)
                step_high, steepest = float(np.ptp(line)), float(np.abs(line[4:] - line[:-4]).max()) / (4.0 * fine)
                if step_high > 25.0:
                    result.append(step_high / (np.sqrt(2.0 * np.pi) * steepest))
    return np.array(result) if result else np.array([np.inf])
