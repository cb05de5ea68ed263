"""Sideways give of the mains between its two bounds: single strings and springs in a row by hand, and laws of both."""

from __future__ import annotations

import numpy as np
import pytest

from gapbook.science.lateral_give import lateral_give
from nets_made import even, strings, together, uneven

T, EA = 171.5, 6000.0  # 245 N less 30 %; the stiffest string


def test_one_main_and_one_cross_by_hand():
    # A string of ℓ pushed sideways in its middle: ℓ/(4T). Held by a cross of 250 mm it also stretches, and relaxes, that
    # cross's two halves: 4T/ℓ + 4·EA/250 in all.
    bed = strings([0.0], [0.0], [0.0], 250.0, 320.0)
    found = lateral_give(bed)
    assert found.free[0] == pytest.approx(320.0 / (4 * T), rel=1e-6)
    assert found.locked[0] == pytest.approx(1.0 / (4 * T / 320.0 + 4 * EA / 250.0), rel=1e-9)


def test_mains_that_slide_do_not_feel_each_other():
    # One cross, mains at -20, 0 and 20 mm with shares 1 - r²/33.5²: give is Σ w²·ℓ/(4T), ℓ of an ellipse's chord.
    bed = strings([-20.0, 0.0, 20.0], np.zeros(3), [0.0], 250.0, 320.0)
    weight = np.array([1 - (20 / 33.5) ** 2, 1.0, 1 - (20 / 33.5) ** 2])
    weight /= weight.sum()
    chord = 320.0 * np.sqrt(1 - (np.array([20.0, 0.0, 20.0]) / 125.0) ** 2)
    assert lateral_give(bed).free[0] == pytest.approx(float(weight**2 @ chord) / (4 * T), rel=1e-6)


def test_locked_gives_less_and_double_tension_halves_what_slides():
    beds = together([uneven(seed)[0] for seed in range(4)])
    once, twice = lateral_give(beds), lateral_give(beds, 490.0)
    assert (once.locked < 0.2 * once.free).all()
    assert twice.free == pytest.approx(once.free / 2, rel=1e-6)
    assert (twice.locked < once.locked).all()


def test_more_mains_and_a_shorter_head_give_less():
    # A load shared by more strings, and shorter strings, move less: the same laws as for any string.
    made = (even(16, 19, 245, 326), even(20, 19, 245, 326), even(16, 19, 232, 309))
    usual, dense, small = (lateral_give(bed).free[0] for bed in made)
    assert dense < usual
    assert small < usual


def test_no_crossing_under_the_load_is_blank():
    bed = strings(np.arange(-7.5, 8) * 13.0, np.zeros(16), np.arange(9, -10, -1) * 2.0 + 90.0, 245, 326)
    found = lateral_give(bed)
    assert np.isnan(found.free[0])
    assert np.isnan(found.locked[0])
