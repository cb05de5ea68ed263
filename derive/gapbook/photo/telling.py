"""Telling strings from the field: which mixture of colours does so best, learned from the strings of this picture."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.photo import combs, flatten
from gapbook.photo.combs import Comb
from gapbook.photo.flatten import Grid, Image
from gapbook.science.grouping import FloatArray

MAIN_REACH_MM, CROSS_REACH_MM = 70.0, 50.0
"""All mains run so far up and down from the head's middle, all crosses so far to its sides."""


class Told(NamedTuple):
    """A family told from the field.

    picture: 1 where it is like a string of the family, 0 for the field [H, W]; the family runs down it
    grid: of the picture
    comb: the strings in it
    apart: how far strings lie from the field, in standard deviations of the field
    way: the mixture of the three colours
    """

    picture: Image
    grid: Grid
    comb: Comb
    apart: float
    way: FloatArray


def upright(picture: Image, grid: Grid, family: str) -> tuple[Image, Grid]:
    """A picture and its grid so turned that the family runs down it, and its strings are numbered from left to right.

    For crosses, columns become y and rows x; y falls along the columns, so that crosses run from tip to throat, and x falls
    along the rows.
    """
    if family == "main":
        return picture, grid
    turned = np.ascontiguousarray(np.swapaxes(picture, 0, 1)[::-1])
    return turned, grid._replace(half=(grid.half[1], grid.half[0]))


def first_comb(difference: Image, grid: Grid, count: int, reach: float, middle: float) -> Comb | None:
    """The comb in the likeness in which its weakest string stands out most over what is no string; None if there is none.

    difference: colours less the field's, the family running down
    grid: of it
    count: how many strings there have to be
    reach, middle: along the family, as `combs.candidates` takes them
    """
    found = []
    for likeness in flatten.likenesses(difference).values():
        place, lean, ridge = combs.candidates(likeness, grid, reach, middle)
        comb = combs.comb(place, lean, ridge, count)
        if comb is not None:
            found.append((_margin(comb, place, ridge), comb))
    return max(found, key=lambda one: one[0])[1] if found else None


def _margin(comb: Comb, place: FloatArray, ridge: FloatArray) -> float:
    """The weakest string's strength less that of the strongest ridge between the first and the last which is no string."""
    others = (place > comb.place[0]) & (place < comb.place[-1]) & ~np.isin(place, comb.place)
    uneven = float(np.abs(np.diff(np.log(np.diff(comb.place)))).max())
    return float(comb.strength.min()) - float((ridge[others] / comb.ridge).max(initial=0.0)) - 0.3 * max(0.0, uneven - 0.3)


def told(
    difference: Image,
    grid: Grid,
    comb: Comb,
    crossing: FloatArray,
    reach: float,
    middle: float,
    seam: tuple[float, float] | None,
) -> Told | None:
    """Learn from a first comb how to tell its strings from the field, and look again; None if no comb is left.

    difference: colours less the field's, the family running down
    grid: of it
    comb: the first comb
    crossing: places along the family of the crossing strings [mm]
    reach, middle: along the family, as `combs.candidates` takes them
    seam: as `combs.comb` takes it
    """
    rows = np.arange(0, grid.shape[0], max(1, round(0.5 * grid.per_mm)))
    along = grid.half[1] - (rows + 0.5) / grid.per_mm
    free = np.abs(along - middle) < reach
    free &= np.abs(along[:, None] - crossing).min(axis=1, initial=np.inf) > 2.0
    rows, along = rows[free], along[free]
    centre = comb.place + comb.lean * along[:, None]
    near, far = _at(difference, grid, rows, _peak(difference, grid, rows, centre)), []
    gap = float(np.median(np.diff(comb.place)))
    for off in np.arange(1.5, gap - 1.4, 0.7):
        far.append(_at(difference, grid, rows, centre[:, :-1] + off))
    field = np.concatenate([one.reshape(-1, 3) for one in far])
    field = field[np.all(np.isfinite(field), axis=1)]
    low, high_ = np.quantile(field, [0.01, 0.99], axis=0)
    field = field[np.all((field >= low) & (field <= high_), axis=1)]
    strings = near.reshape(-1, 3)
    step = np.median(strings, axis=0) - np.median(field, axis=0)
    spread = np.cov(field.T) + np.diag([4e-4, 4e-4, 4e-4])
    way = np.linalg.solve(spread, step)
    scale = float(step @ way)
    if scale <= 0.0:
        return None
    picture = np.clip((difference - np.median(field, axis=0).astype(np.float32)) @ (way / scale).astype(np.float32), -0.5, 1.6)
    place, lean, ridge = combs.candidates(np.clip(picture, 0.0, None), grid, reach, middle)
    again = combs.comb(place, lean, ridge, len(comb.place), seam)
    return None if again is None else Told(picture, grid, again, float(np.sqrt(scale)), way)


def _peak(difference: Image, grid: Grid, rows: FloatArray, centre: FloatArray) -> FloatArray:
    """Places near `centre` where the colour differs most."""
    steps = np.arange(-0.8, 0.81, 0.2)
    size = [np.linalg.norm(_at(difference, grid, rows, centre + step), axis=-1).mean(axis=0) for step in steps]
    return np.asarray(centre + steps[np.argmax(size, axis=0)])


def _at(difference: Image, grid: Grid, rows: FloatArray, across: FloatArray) -> FloatArray:
    """Colours [R, n, 3] at places across [R, n] of rows [R]."""
    columns = np.clip(np.rint(grid.columns(across)).astype(int), 0, difference.shape[1] - 1)
    return np.asarray(difference[rows[:, None], columns], dtype=float)
