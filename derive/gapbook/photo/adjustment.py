"""One least-squares adjustment of everything a lay of pages and head shows: cameras, pages, and strings as straight lines.

What is adjusted (the parameters, in this order):
- of the lens: logarithm of the focal length, principal point, two terms of radial distortion;
- of each photograph: rotation vector and shift;
- of the right page: where it lies beside the left one, and how it is turned;
- logarithms of the scales at which each page was printed, across and along;
- of each page: three terms of how its outer part bows up from the plane on which the frame lies;
- the height of the strings over that plane;
- of each string: where it runs, and how it leans.

Observed are corners of the pages [px] and places of strings [px across the string, stated in mm]. What is known
beforehand (rule readings, what lenses and prints are like) counts as observations with their own uncertainty. Robust: Huber's
loss, scipy.optimize.least_squares.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from gapbook.photo.camera import FILM_DIAGONAL_MM, Camera, on_plane, rotation_of, seen
from gapbook.photo.layout import Paper
from gapbook.photo.marks import PageCorners
from gapbook.science.grouping import FloatArray, IntArray

USUAL_FOCAL_MM = 27.0
"""Main camera of a phone, as for 35 mm film. Common practice, no source."""
U_FOCAL, U_FOCAL_SAID = 0.10, 0.05
"""Relative uncertainty of the focal length, usual or said by EXIF."""
U_CENTRE = 0.01
"""Of the principal point, in the picture's diagonal."""
U_RADIAL = (0.06, 0.06)
U_PLACE_MM, U_TURN = 30.0, 0.15
"""How the right page may lie beside the left one; next to nothing is known."""
U_BAR_MM = 0.15
"""Of a bar's length read with a rule."""
U_ACROSS = 0.004
"""Of a print's scale across over that along. Common practice, no source."""
U_BOW_MM = 0.5
"""Of each term of a page's bow."""
U_HEIGHT_MM = 0.25
"""Of the strings' height, half the beam read with a calliper. Common practice, no source."""
LENS, POSE, PAGES, PLACE = 5, 6, 14, 3
BOW_FROM_MM, BOW_HALF_MM = 180.0, 135.0
ROBUST = 2.5
"""Residuals beyond so many standard deviations pull no harder (Huber)."""


class Lay(NamedTuple):
    """What is known of a lay before it is adjusted.

    paper: of the pages
    bars: length of the left and the right page's scale bar, read with a rule [2] in mm
    height: of the strings' plane over the pages [mm]
    focal: focal length [px] expected
    u_focal: its relative uncertainty
    size: width and height of a photograph [2] in px
    corners: of each photograph, those of the left and the right page
    """

    paper: Paper
    bars: tuple[float, float]
    height: float
    focal: float
    u_focal: float
    size: tuple[int, int]
    corners: tuple[tuple[PageCorners, PageCorners], ...]


class Strings(NamedTuple):
    """Places seen on strings, in all photographs of a lay.

    turn: of the head: the angle from the left page's x to the head's [rad]
    middle: a point in the head, about which lines are stated [2] in world mm
    photograph: number of the photograph [S]
    pixels: places [S, 2]
    line: number of the string [S], mains first
    mains: how many mains
    strings: how many
    deviation: standard deviation of a place across its string [S] in mm
    """

    turn: float
    middle: FloatArray
    photograph: IntArray
    pixels: FloatArray
    line: IntArray
    mains: int
    strings: int
    deviation: FloatArray


class Adjusted(NamedTuple):
    """A lay, adjusted.

    parameters: [P]
    covariance: of them [P, P]
    cameras: one a photograph
    corner_px: root mean square residual of corners [px]
    lines: place [mm] and lean of each string [L, 2]; empty without strings
    across: residuals of the strings' places [S] in mm
    bow_mm: the highest lift of each page's strip [2]
    scales: print scales, left across and along, right across and along [4]
    pulls: residual over uncertainty of what was known beforehand, by name
    """

    parameters: FloatArray
    covariance: FloatArray
    cameras: tuple[Camera, ...]
    corner_px: float
    lines: FloatArray
    across: FloatArray
    bow_mm: FloatArray
    scales: FloatArray
    pulls: dict[str, float]


def expected_focal(focal_35mm: float | None, size: tuple[int, int]) -> tuple[float, float]:
    """Focal length in px and its relative uncertainty, from what EXIF says or of a usual phone."""
    said = focal_35mm is not None
    focal = (focal_35mm if focal_35mm is not None else USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * float(np.hypot(*size))
    return focal, U_FOCAL_SAID if said else U_FOCAL


def page_points(paper: Paper, side: str, nominal: FloatArray, parameters: FloatArray) -> FloatArray:
    """World points [N, 3] of page coordinates [N, 2].

    paper: of the pages
    side: left or right
    nominal: page coordinates [mm]
    parameters: the PAGES parameters: place of the right page, four logarithms of scales, six terms of bow, height
    """
    right = side == "right"
    x, y = nominal[:, 0] * np.exp(parameters[3 + 2 * right]), nominal[:, 1] * np.exp(parameters[4 + 2 * right])
    bow = parameters[7 + 3 * right : 10 + 3 * right]
    u, v = np.abs(nominal[:, 0]) / BOW_FROM_MM, nominal[:, 1] / BOW_HALF_MM
    z = bow[0] * u * u + bow[1] * u * v + bow[2] * u * v * v
    if right:
        cos, sin = np.cos(parameters[2]), np.sin(parameters[2])
        x, y = parameters[0] + cos * x - sin * y, parameters[1] + sin * x + cos * y
    return np.column_stack([x, y, z])


def cameras_of(lay: Lay, parameters: FloatArray) -> tuple[Camera, ...]:
    """The cameras of parameters."""
    diagonal = float(np.hypot(*lay.size))
    focal = lay.focal * float(np.exp(parameters[0]))
    centre = (np.array(lay.size) - 1.0) / 2.0 + parameters[1:3] * diagonal
    poses = parameters[LENS : LENS + POSE * len(lay.corners)].reshape(-1, POSE)
    return tuple(Camera(focal, centre, parameters[3:5], rotation_of(pose[:3]), pose[3:]) for pose in poses)


def begun(lay: Lay) -> FloatArray:
    """Parameters to begin with, without strings: poses from the left page, the right page laid where its corners are seen."""
    from gapbook.photo.library import opencv

    cv2 = opencv()
    count = len(lay.corners)
    parameters = np.zeros(LENS + POSE * count + PAGES)
    parameters[-1] = lay.height
    scales = np.log(np.repeat(np.array(lay.bars) / lay.paper.bar_mm, 2))
    parameters[LENS + POSE * count + 3 : LENS + POSE * count + 7] = scales
    pages = parameters[LENS + POSE * count :]
    centre = (np.array(lay.size) - 1.0) / 2.0
    inside = np.array([[lay.focal, 0.0, centre[0]], [0.0, lay.focal, centre[1]], [0.0, 0.0, 1.0]])
    for number, (left, right) in enumerate(lay.corners):
        points = page_points(lay.paper, "left", left.nominal, pages)
        pose = _pose(cv2, points, left.pixels, inside)
        for _ in range(3):
            place = slice(LENS + POSE * number, LENS + POSE * (number + 1))
            parameters[place] = pose
            if number == 0:
                camera = cameras_of(lay, parameters)[0]
                pages[:3] = 0.0
                flat = page_points(lay.paper, "right", right.nominal, pages)[:, :2]
                pages[:3] = _laid(flat, on_plane(camera, right.pixels, 0.0))
            both = np.vstack([points, page_points(lay.paper, "right", right.nominal, pages)])
            pose = _pose(cv2, both, np.vstack([left.pixels, right.pixels]), inside, pose)
        parameters[place] = pose
    return parameters


def _pose(cv2: Any, points: FloatArray, pixels: FloatArray, inside: FloatArray, near: FloatArray | None = None) -> FloatArray:
    """Rotation vector and shift of a camera that sees flat points at pixels."""
    if near is None:
        _, turn, shift = cv2.solvePnP(points, pixels, inside, None, flags=cv2.SOLVEPNP_IPPE)
    else:
        turn, shift = near[:3, None].copy(), near[3:, None].copy()
    _, turn, shift = cv2.solvePnP(points, pixels, inside, None, turn, shift, True, cv2.SOLVEPNP_ITERATIVE)
    return np.concatenate([turn.ravel(), shift.ravel()])


def _laid(flat: FloatArray, at: FloatArray) -> FloatArray:
    """Shift and angle [3] that lay points [N, 2] nearest to others [N, 2]."""
    a, b = flat - flat.mean(axis=0), at - at.mean(axis=0)
    angle = float(np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b)))
    cos, sin = np.cos(angle), np.sin(angle)
    shift = at.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ flat.mean(axis=0)
    return np.array([*shift, angle])


def head_coordinates(points: FloatArray, turn: float, middle: FloatArray) -> FloatArray:
    """Coordinates [N, 2] about `middle`, x across and y along the head, of world points [N, 2]."""
    cos, sin = np.cos(turn), np.sin(turn)
    return (points - middle) @ np.array([[cos, -sin], [sin, cos]])


class _Problem:
    """Residuals of a lay, each over its standard deviation, and their derivatives."""

    def __init__(self, lay: Lay, strings: Strings | None, corner_px: float, start: FloatArray) -> None:
        self.lay, self.strings, self.corner_px = lay, strings, corner_px
        self.own = LENS + POSE * len(lay.corners) + PAGES
        first = self.own - PAGES
        bars = np.array(lay.bars) / lay.paper.bar_mm
        u_bar = U_BAR_MM / np.array(lay.bars)
        prior = [("focal", 0, 0.0, lay.u_focal), ("centre_x", 1, 0.0, U_CENTRE), ("centre_y", 2, 0.0, U_CENTRE)]
        prior += [("radial_1", 3, 0.0, U_RADIAL[0]), ("radial_2", 4, 0.0, U_RADIAL[1])]
        prior += [("right_x", first, 0.0, U_PLACE_MM), ("right_y", first + 1, 0.0, U_PLACE_MM)]
        prior += [("right_turn", first + 2, 0.0, U_TURN)]
        prior += [("bar_left", first + 4, np.log(bars[0]), u_bar[0]), ("bar_right", first + 6, np.log(bars[1]), u_bar[1])]
        prior += [(f"bow_{k}", first + 7 + k, 0.0, U_BOW_MM) for k in range(6)]
        prior += [("height", first + 13, lay.height, U_HEIGHT_MM)]
        self.names = [one[0] for one in prior]
        self.which = np.array([one[1] for one in prior])
        self.mean = np.array([one[2] for one in prior])
        self.u = np.array([one[3] for one in prior])
        self.across = np.array([first + 3, first + 5])
        if strings is not None:
            own, lines = start[: self.own], start[self.own :].reshape(-1, 2)
            step = self.aside(own, lines, 0.5) - self.aside(own, lines, -0.5)
            self.per_mm = np.linalg.norm(step, axis=1)
            self.normal = step / self.per_mm[:, None]

    def corners(self, own: FloatArray) -> FloatArray:
        """Residuals of corners [px], photographs one after the other."""
        pages = own[-PAGES:]
        parts = []
        for camera, sheets in zip(cameras_of(self.lay, own), self.lay.corners, strict=True):
            for sheet in sheets:
                points = page_points(self.lay.paper, sheet.side, sheet.nominal, pages)
                parts.append((seen(camera, points) - sheet.pixels).ravel())
        return np.concatenate(parts)

    def places(self, own: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Coordinates of the strings' places across and along their string [S] in mm."""
        assert self.strings is not None
        s = self.strings
        at = np.zeros((len(s.line), 2))
        for number, camera in enumerate(cameras_of(self.lay, own)):
            mine = s.photograph == number
            at[mine] = on_plane(camera, s.pixels[mine], float(own[-1]))
        at = head_coordinates(at, s.turn, s.middle)
        main = s.line < s.mains
        return np.where(main, at[:, 0], at[:, 1]), np.where(main, at[:, 1], at[:, 0])

    def own_residuals(self, own: FloatArray, lines: FloatArray) -> FloatArray:
        """All residuals over their deviations."""
        known = (own[self.which] - self.mean) / self.u
        prints = (own[self.across] - own[self.across + 1]) / U_ACROSS
        parts = [self.corners(own) / self.corner_px, known, prints]
        if self.strings is not None:
            parts.append(self.off(own, lines) / self.strings.deviation)
        return np.concatenate(parts)

    def aside(self, own: FloatArray, lines: FloatArray, by: float) -> FloatArray:
        """Where the cameras see the strings' places [S, 2] in px, if they were on lines shifted `by` [mm] aside."""
        assert self.strings is not None
        s = self.strings
        _, along = self.places(own)
        line = lines[s.line]
        across = line[:, 0] + line[:, 1] * along + by
        main = (s.line < s.mains)[:, None]
        head = np.where(main, np.column_stack([across, along]), np.column_stack([along, across]))
        cos, sin = np.cos(s.turn), np.sin(s.turn)
        world = s.middle + head @ np.array([[cos, sin], [-sin, cos]])
        world = np.column_stack([world, np.full(len(world), own[-1])])
        at = np.empty((len(world), 2))
        for number, camera in enumerate(cameras_of(self.lay, own)):
            mine = s.photograph == number
            at[mine] = seen(camera, world[mine])
        return at

    def off(self, own: FloatArray, lines: FloatArray) -> FloatArray:
        """How far the strings' places lie from their lines in the photograph [S], at the scale of the beginning [mm].

        Not in the plane of strings: there all distances, and so the residuals, could be made smaller by a smaller scale.
        """
        assert self.strings is not None
        away = self.strings.pixels - self.aside(own, lines, 0.0)
        return np.asarray(np.sum(away * self.normal, axis=1) / self.per_mm)

    def residuals(self, parameters: FloatArray) -> FloatArray:
        """All residuals over their deviations."""
        return self.own_residuals(parameters[: self.own], parameters[self.own :].reshape(-1, 2))

    def derivatives(self, parameters: FloatArray) -> FloatArray:
        """Their derivatives: by differences, but for the lines."""
        own, lines = parameters[: self.own], parameters[self.own :].reshape(-1, 2)
        columns = []
        here = self.own_residuals(own, lines)
        for number in range(self.own):
            step = 1e-6 * max(1.0, abs(own[number]))
            further = own.copy()
            further[number] += step
            columns.append((self.own_residuals(further, lines) - here) / step)
        whole = np.zeros((len(columns[0]), len(parameters)))
        whole[:, : self.own] = np.column_stack(columns)
        if self.strings is not None:
            s = self.strings
            rows = len(whole) - len(s.line) + np.arange(len(s.line))
            _, along = self.places(own)
            step = np.sum((self.aside(own, lines, 0.5) - self.aside(own, lines, -0.5)) * self.normal, axis=1) / self.per_mm
            whole[rows, self.own + 2 * s.line] = -step / s.deviation
            whole[rows, self.own + 2 * s.line + 1] = -step * along / s.deviation
        return whole


def adjusted(lay: Lay, start: FloatArray, strings: Strings | None = None, lines: FloatArray | None = None) -> Adjusted:
    """Adjust a lay. The deviations of corners, and of places a string, are made to fit their own scatter.

    lay: what is known
    start: parameters without lines, from `begun` or an adjustment
    strings: places seen on strings, if they are to be adjusted too
    lines: place and lean of each string to begin with [L, 2]
    """
    from scipy.optimize import least_squares  # late: slow to import

    parameters = start if lines is None else np.concatenate([start, lines.ravel()])
    corner_px = 0.3
    for _ in range(2 if strings is None else 3):
        problem = _Problem(lay, strings, corner_px, parameters)
        solved = least_squares(
            problem.residuals, parameters, problem.derivatives, loss="huber", f_scale=ROBUST, x_scale="jac", max_nfev=40
        )
        parameters = solved.x
        residuals = problem.corners(parameters[: problem.own])
        freedom = max(0.3, 1.0 - problem.own / len(residuals)) ** 0.5
        corner_px = max(0.02, _spread(residuals) / freedom)
        if strings is not None:
            across = _across(problem, parameters)
            strings = strings._replace(deviation=_deviations(across, strings))
    precision = solved.jac.T @ solved.jac
    covariance = np.linalg.pinv(precision, hermitian=True)
    own, rest = parameters[: problem.own], parameters[problem.own :].reshape(-1, 2)
    known = (own[problem.which] - problem.mean) / problem.u
    pulls = dict(zip(problem.names, known.tolist(), strict=True))
    pages = own[-PAGES:]
    return Adjusted(
        parameters,
        covariance,
        cameras_of(lay, own),
        float(np.sqrt(np.mean(residuals**2))),
        rest,
        np.zeros(0) if strings is None else _across(problem, parameters),
        _lifts(lay, pages),
        np.exp(pages[3:7]),
        pulls,
    )


def _across(problem: _Problem, parameters: FloatArray) -> FloatArray:
    assert problem.strings is not None
    return problem.off(parameters[: problem.own], parameters[problem.own :].reshape(-1, 2))


def _spread(values: FloatArray) -> float:
    """Standard deviation that outliers hardly change: the median absolute deviation, or half the root mean square if larger."""
    return max(1.4826 * float(np.median(np.abs(values))), 0.5 * float(np.sqrt(np.mean(values**2))))


def _deviations(across: FloatArray, strings: Strings) -> FloatArray:
    """Standard deviation of places, pooled half over all strings and half over the string's own."""
    pooled = max(0.005, _spread(across))
    result = np.full(len(across), pooled)
    for line in range(strings.strings):
        mine = strings.line == line
        if mine.sum() > 3:
            own = _spread(across[mine]) * (mine.sum() / (mine.sum() - 2.0)) ** 0.5
            result[mine] = np.sqrt((pooled**2 + own**2) / 2.0)
    return result


def _lifts(lay: Lay, pages: FloatArray) -> FloatArray:
    lifts = []
    for left, right in lay.corners:
        lifts.append([np.abs(page_points(lay.paper, page.side, page.nominal, pages)[:, 2]).max() for page in (left, right)])
    return np.asarray(np.max(np.array(lifts), axis=0))
