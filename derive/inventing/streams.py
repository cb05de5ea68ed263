"""Random numbers: one stream a purpose, so that a change to one table does not stir the others."""

from __future__ import annotations

import zlib

import numpy as np

SEED = 20230415
"""The demo's seed: the day the invented scheme began."""


def stream(seed: int, purpose: str) -> np.random.RandomState:
    """The stream of `purpose` under `seed`. RandomState, because numpy promises that its numbers never change."""
    return np.random.RandomState([seed % 2**32, zlib.crc32(purpose.encode())])


def within(rng: np.random.RandomState, sd: float, limit: float, size: int | tuple[int, ...]) -> np.ndarray:
    """Normal deviations of standard deviation `sd`, held to ±`limit`."""
    return np.clip(rng.normal(0.0, sd, size), -limit, limit)
