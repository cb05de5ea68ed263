"""Nets for tests: even ones, single strings, uneven beds drawn from a seed, as arrays and as plain beds, and the demo's."""

from __future__ import annotations

import numpy as np

from bench.plain_net import PlainBed
from demo_rows import derived
from gapbook import open_catalogue
from gapbook.science.cable_net import PatternStrings
from gapbook.science.outline import Outlines
from small import ROOT


def strings(mains, slopes, crosses, width: float, length: float, exponent: float = 2.0) -> PatternStrings:
    """One bed."""
    outlines = Outlines(*(np.array([value], dtype=float) for value in (width, length, exponent)))
    return PatternStrings(*(np.array([row], dtype=float) for row in (mains, slopes, crosses)), outlines)


def middles(count: int, extent: float) -> np.ndarray:
    """The middles of `count` equal parts of `extent`, rising, about 0."""
    return (np.arange(count) + 0.5) * extent / count - extent / 2


def even(mains: int, crosses: int, width: float, length: float, exponent: float = 2.0) -> PatternStrings:
    """Strings in the middles of equal strips of the head."""
    return strings(middles(mains, width), np.zeros(mains), -middles(crosses, length), width, length, exponent)


def uneven(seed: int, mains: int = 16, crosses: int = 19) -> tuple[PatternStrings, PlainBed]:
    """A bed with closer strings in the middle, splay and misplaced strings."""
    rng = np.random.default_rng(seed)
    width, length, exponent = rng.uniform(232, 258), rng.uniform(310, 345), rng.uniform(1.8, 2.6)
    found = []
    for count, extent in ((mains, 0.78 * width), (crosses, 0.82 * length)):
        part = middles(count, 2.0)
        found.append(extent / 2 * (0.85 * part + 0.15 * part * np.abs(part)) + rng.normal(0, 0.4, count))
    at_0 = np.sort(found[0])
    slopes = at_0 * rng.uniform(0, 6e-4) + rng.normal(0, 2e-3, mains)
    down = np.sort(found[1])[::-1]
    plain = PlainBed(list(zip(at_0.tolist(), slopes.tolist(), strict=True)), down.tolist(), width, length, exponent)
    return strings(at_0, slopes, down, width, length, exponent), plain


def together(beds: list[PatternStrings]) -> PatternStrings:
    """Beds of one pattern as one batch."""
    outlines = Outlines(*(np.concatenate(columns) for columns in zip(*(bed.outlines for bed in beds), strict=True)))
    arrays = (np.concatenate(columns) for columns in zip(*(bed[:3] for bed in beds), strict=True))
    return PatternStrings(*arrays, outlines)


def demo_bed(specimen: str) -> PlainBed:
    """A demo copy as a plain bed: its strings as they are drawn, its head as in beds.csv (six digits)."""
    lines = open_catalogue(ROOT).strings(specimen)
    bed = derived("beds")[specimen]
    head = [float(bed[name]) for name in ("head_width_mm", "head_length_mm", "head_exponent")]
    return PlainBed(list(zip(*(column.tolist() for column in lines[:2]), strict=True)), lines[2].tolist(), *head)
