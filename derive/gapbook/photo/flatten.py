"""A photograph flattened onto the plane of strings, and how much each place of it differs in colour from the tinted field.

Colours are logarithms of light. Their differences from the field around do not depend on how bright the lamp is; a shadow
changes hardly more than the third, brightness, and strings change the hue.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gapbook.photo.camera import Camera, seen
from gapbook.photo.library import opencv
from gapbook.science.grouping import FloatArray

Pixels = NDArray[np.uint8]
Image = NDArray[np.float32]
DARK = 0.012
"""Light added to all channels before logarithms are taken, as part of the brightest: below it hue is noise."""
FIELD_MM = 26.0
"""The field's own hue is the median over squares of this side [mm]."""
GRID_MM = 2.0
FULL = 250
"""From this value on, a channel counts as full: how bright it was is not known."""


class Grid(NamedTuple):
    """A picture laid out in head coordinates: columns run along x, rows down y.

    turn: of the head in the world [rad]
    middle: world point at the middle of the picture [2] in mm
    half: half its width and height [2] in mm
    per_mm: pixels a millimetre
    """

    turn: float
    middle: FloatArray
    half: tuple[float, float]
    per_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return round(2.0 * self.half[1] * self.per_mm), round(2.0 * self.half[0] * self.per_mm)

    def columns(self, x: Any) -> Any:
        """Column of x."""
        return (x + self.half[0]) * self.per_mm - 0.5

    def rows(self, y: Any) -> Any:
        """Row of y."""
        return (self.half[1] - y) * self.per_mm - 0.5

    def world(self, points: FloatArray) -> FloatArray:
        """World x and y [N, 2] of head coordinates [N, 2]."""
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        return self.middle + points @ np.array([[cos, sin], [-sin, cos]])


def pixels_of(camera: Camera, grid: Grid, points: FloatArray, height: float) -> FloatArray:
    """Where a camera sees points of the head; pixels [N, 2].

    camera: the camera
    grid: of head coordinates
    points: head coordinates [N, 2] in mm
    height: at which they lie over the pages [mm]
    """
    return seen(camera, np.column_stack([grid.world(points), np.full(len(points), height)]))


def flattened(pixels: Pixels, camera: Camera, grid: Grid, height: float) -> Pixels:
    """The photograph as seen from straight above in one plane. What it does not show is black.

    pixels: the photograph [H, W, 3]
    camera: its camera
    grid: how the picture is laid out
    height: of the plane over the pages [mm]
    """
    cv2 = opencv()
    high, wide = grid.shape
    step = 8
    rows, columns = np.arange(0, high + step, step), np.arange(0, wide + step, step)
    x = (columns + 0.5) / grid.per_mm - grid.half[0]
    y = grid.half[1] - (rows + 0.5) / grid.per_mm
    points = np.column_stack([np.tile(x, len(y)), np.repeat(y, len(x))])
    coarse = pixels_of(camera, grid, points, height).reshape(len(y), len(x), 2).astype(np.float32)
    down, right = np.mgrid[0:high, 0:wide].astype(np.float32) / step
    fine = cv2.remap(coarse, right, down, cv2.INTER_LINEAR)
    return np.asarray(cv2.remap(pixels, fine[..., 0], fine[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT))


def colours(flat: Pixels) -> Image:
    """Colours [H, W, 3] of a flattened photograph: logarithms of red over green, of green over blue, and of all three."""
    level = np.arange(256) / 255.0
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    logs = np.log(light + DARK).astype(np.float32)[flat]
    red, green, blue = logs[..., 0], logs[..., 1], logs[..., 2]
    return np.stack([red - green, green - blue, (red + green + blue) / 3.0], axis=-1)


def differing(colour: Image, per_mm: float) -> Image:
    """How far each place's colour lies from the field's around it [H, W, 3]."""
    from scipy.ndimage import median_filter  # late: slow to import

    cv2 = opencv()
    high, wide = colour.shape[:2]
    small = cv2.resize(
        colour, (round(wide / per_mm / GRID_MM), round(high / per_mm / GRID_MM)), interpolation=cv2.INTER_NEAREST
    )
    size = round(FIELD_MM / GRID_MM)
    middle = np.stack([median_filter(small[..., channel], size=size, mode="nearest") for channel in range(3)], axis=-1)
    return np.asarray(colour - cv2.resize(middle, (wide, high), interpolation=cv2.INTER_LINEAR))


def likenesses(difference: Image) -> dict[str, Image]:
    """Pictures in which strings may stand out [H, W] each: other in hue, lighter, darker."""
    return {
        "hue": np.asarray(np.hypot(difference[..., 0], difference[..., 1]), dtype=np.float32),
        "light": np.clip(difference[..., 2], 0.0, None),
        "dark": np.clip(-difference[..., 2], 0.0, None),
    }
