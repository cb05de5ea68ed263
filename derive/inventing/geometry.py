"""The geometry of an invented head and bed: outline, pitch profiles, and the pitch in a window by its definition.

Arrays are padded with NaN to one width, so that beds of different patterns stand in one array: mains (N, 20),
crosses (N, 21). Lengths in mm.
"""

from __future__ import annotations

from math import gamma

import numpy as np

MAX_MAINS = 20
MAX_CROSSES = 21
BALL = 67.0
"""Side of a window [mm]."""
SIDE = 60.0
"""Distance of the left and right windows from the centre [mm]."""
ALONG = 80.0
"""Distance of the tip and throat windows from the centre [mm]."""

_gamma = np.vectorize(gamma, otypes=[float])


def area_factor(exponent: np.ndarray) -> np.ndarray:
    """Area of a superellipse over the product of its full width and length [1]."""
    return _gamma(1 + 1 / exponent) ** 2 / _gamma(1 + 2 / exponent)


def half_width(width: np.ndarray, length: np.ndarray, exponent: np.ndarray, y: np.ndarray | float) -> np.ndarray:
    """Distance from the long axis to the inner edge of a superellipse at height y [mm]."""
    return width / 2 * (1 - np.abs(2 * y / length) ** exponent) ** (1 / exponent)


def window_pitch(positions: np.ndarray, middle: float) -> tuple[np.ndarray, np.ndarray]:
    """Mean pitch [mm] and covered part [1] of the window about `middle`; positions (N, K) ascending along K."""
    low, high = middle - BALL / 2, middle + BALL / 2
    left, right = positions[:, :-1], positions[:, 1:]
    gap = np.where(np.isnan(right), 1.0, right - left)
    overlap = np.clip(np.nan_to_num(np.minimum(right, high) - np.maximum(left, low)), 0.0, None)
    covered = overlap.sum(axis=1)
    return covered / (overlap / gap).sum(axis=1), covered / BALL


def profile(count: np.ndarray, span: np.ndarray, pitch: np.ndarray, power: np.ndarray, lean: np.ndarray, size: int):
    """String positions (N, size) ascending from 0 to `span`, `count` of them, closest near the middle.

    The gap at t (-1 at the first gap, 1 at the last) is pitch * (1 + a * abs(t - lean) ** power), where a is what
    makes the gaps fill the span.
    """
    gaps = count - 1
    place = np.arange(size - 1)[None, :]
    real = place < gaps[:, None]
    t = (2 * place - (gaps - 1)[:, None]) / (gaps - 1)[:, None]
    growth = np.where(real, np.abs(t - lean[:, None]) ** power[:, None], 0.0)
    opening = (span / pitch - gaps) / growth.sum(axis=1)
    width = np.where(real, pitch[:, None] * (1 + opening[:, None] * growth), np.nan)
    return np.concatenate([np.zeros((len(count), 1)), np.cumsum(width, axis=1)], axis=1)


def drilled(count, first, span, target, power, lean, size: int) -> np.ndarray:
    """Positions (N, size) from `first` over `span`, so drilled that the centre window's pitch is `target`."""
    pitch = 0.93 * target
    for _ in range(40):
        positions = first[:, None] + profile(count, span, pitch, power, lean, size)
        pitch = pitch * target / window_pitch(positions, 0.0)[0]
    return first[:, None] + profile(count, span, pitch, power, lean, size)
