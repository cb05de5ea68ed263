"""Stretches of strings between crossings: each is placed by fitting the profile that all stretches of its family share."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from gapbook.photo.flatten import Grid, Image
from gapbook.photo.library import opencv
from gapbook.science.grouping import BoolArray, FloatArray, IntArray

REACH_MM, FINE_MM = 3.0, 0.1
"""Profiles reach so far to both sides of a string, in such steps."""
CLEAR_MM = 1.9
"""Stretches begin so far from the middle of a crossing string."""
SHORTEST_MM = 2.5
BEYOND_MM = 7.0
"""Beyond the outermost crossing string a stretch reaches no further than this."""
ROUNDS = 4
MOST_LOPSIDED = 0.22
"""What lies beside a string on one side only, as the gap between the pages, must not be higher than this part of it."""
FURTHEST_MM = 1.1
"""A stretch further than this from where its string was looked for is no part of it."""


class Stretches(NamedTuple):
    """Stretches of the strings of one family.

    line: number of the string [S]
    along: middle of the stretch along the family [S] in mm
    across: place across it [S] in mm
    amplitude: how much it looks like a string; 1 as usual [S]
    misfit: root mean square of what the profile does not explain, in units of the amplitude [S]
    profile: profiles about the fitted place [S, T], the field at 0
    good: which of them are sound [S]
    shared: the profile that they share [T]
    """

    line: IntArray
    along: FloatArray
    across: FloatArray
    amplitude: FloatArray
    misfit: FloatArray
    profile: FloatArray
    good: BoolArray
    shared: FloatArray


STEPS = np.arange(-REACH_MM, REACH_MM + FINE_MM / 2.0, FINE_MM)
"""Steps of a profile [T] in mm."""


def stretches(picture: Image, grid: Grid, place: FloatArray, lean: FloatArray, crossing: FloatArray) -> Stretches:
    """All stretches of a family that runs down the picture.

    picture: how much each place looks like a string [H, W], 1 for a string and 0 for the field
    grid: of the picture
    place, lean: of the strings [n]: across at 0, and change a millimetre along
    crossing: places of the crossing strings along the family, rising [k] in mm
    """
    low = np.concatenate([[crossing[0] - BEYOND_MM], crossing + CLEAR_MM])
    high = np.concatenate([crossing - CLEAR_MM, [crossing[-1] + BEYOND_MM]])
    wide = high - low >= SHORTEST_MM
    low, high = low[wide], high[wide]
    line = np.repeat(np.arange(len(place)), len(low))
    start, end = np.tile(low, len(place)), np.tile(high, len(place))
    raw = _sampled(picture, grid, place[line], lean[line], start, end)
    shift, amplitude, misfit, profile, shared = _fitted(raw)
    along = (start + end) / 2.0
    across = place[line] + lean[line] * along + shift
    limit = max(0.12, 2.5 * float(np.median(misfit)))
    good = (amplitude > 0.45) & (amplitude < 1.8) & (misfit < limit) & (np.abs(shift) < FURTHEST_MM)
    good &= np.abs(lopsided(profile) - lopsided(shared[None])) < MOST_LOPSIDED
    return Stretches(line, along, across, amplitude, misfit, profile, good, shared)


def _sampled(picture: Image, grid: Grid, place: Any, lean: Any, start: Any, end: Any) -> FloatArray:
    """Mean profiles [S, T] of stretches, each along its own string."""
    cv2 = opencv()
    count = 16
    part = (np.arange(count) + 0.5) / count
    along = start[:, None] + (end - start)[:, None] * part
    across = (place[:, None] + lean[:, None] * along)[:, :, None] + STEPS
    columns = grid.columns(across).astype(np.float32)
    rows = np.broadcast_to(grid.rows(along)[:, :, None], across.shape).astype(np.float32)
    shape = (columns.shape[0] * count, len(STEPS))
    seen = cv2.remap(picture, columns.reshape(shape), rows.reshape(shape), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = seen.reshape(columns.shape)
    seen.sort(axis=1)
    return np.asarray(seen[:, count // 4 : -(count // 4)].mean(axis=1), dtype=float)


def _fitted(raw: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Shift, amplitude, misfit, shifted profiles and the shared profile of raw profiles [S, T]."""
    core = np.abs(STEPS) < 2.4
    flank = (np.abs(STEPS) > 1.6) & core
    shift = _first_shift(raw)
    shared = np.zeros(len(STEPS))
    for _ in range(ROUNDS):
        moved = _moved(raw, shift)
        level = moved[:, flank].mean(axis=1, keepdims=True)
        high = np.maximum(moved[:, np.abs(STEPS) < 0.25].mean(axis=1, keepdims=True) - level, 0.05)
        shared = np.median((moved - level) / high, axis=0)
        slope = np.gradient(shared, FINE_MM)
        base = np.column_stack([shared, -slope, np.ones(len(STEPS)), STEPS])[core]
        solved, *_ = np.linalg.lstsq(base, moved[:, core].T, rcond=None)
        amplitude = np.where(np.abs(solved[0]) < 0.05, 0.05, solved[0])
        shift = np.clip(shift + np.clip(solved[1] / amplitude, -0.5, 0.5), -1.5, 1.5)
    left = moved[:, core].T - base @ solved
    misfit = np.sqrt(np.mean(left**2, axis=0)) / np.abs(amplitude)
    profile = (moved - solved[2][:, None] - solved[3][:, None] * STEPS) / amplitude[:, None]
    usual = float(np.median(amplitude))
    return shift, amplitude / max(usual, 1e-6), misfit, profile, shared


def lopsided(profile: FloatArray) -> FloatArray:
    """How much higher profiles [S, T] are just right of a string than just left of it [S]."""
    right, left = (STEPS > 0.8) & (STEPS < 1.6), (STEPS < -0.8) & (STEPS > -1.6)
    return np.asarray(profile[:, right].mean(axis=1) - profile[:, left].mean(axis=1))


def _first_shift(raw: FloatArray) -> FloatArray:
    """Where profiles are highest, as the middle of what lies above half of it."""
    inner = np.abs(STEPS) < 1.6
    low = np.quantile(raw, 0.25, axis=1, keepdims=True)
    part = np.clip(raw[:, inner] - low, 0.0, None)
    part = np.clip(part - 0.5 * part.max(axis=1, keepdims=True), 0.0, None)
    return np.asarray((part * STEPS[inner]).sum(axis=1) / np.maximum(part.sum(axis=1), 1e-9))


def _moved(raw: FloatArray, shift: FloatArray) -> FloatArray:
    """Profiles read `shift` further on [S, T]."""
    at = (STEPS[None, :] + shift[:, None] + REACH_MM) / FINE_MM
    low = np.clip(np.floor(at).astype(int), 0, len(STEPS) - 2)
    part = np.clip(at - low, 0.0, 1.0)
    rows = np.arange(len(raw))[:, None]
    return np.asarray(raw[rows, low] * (1.0 - part) + raw[rows, low + 1] * part)
