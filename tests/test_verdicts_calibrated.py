"""Of verdicts said to be so sure, so many are right, in each class from 50 to 99 %, within 2 points and what chance allows."""

from __future__ import annotations

import math

import pytest

from bench.calibration import GENERATORS, classes, said_of, together

WITHIN = 0.02
"""The table in DEVELOPERS, of four times as many packages, holds it without the allowance for chance."""
CHANCE = 2.0
"""Standard deviations of the part that is right by chance: a little small, as pairs of one package are not independent."""


@pytest.mark.slow
@pytest.mark.parametrize("what", ["frames", "copies"])
def test_verdicts_are_right_as_often_as_they_say(said, what):
    for one in classes(together([by[what] for by in said.values()]))[:-1]:
        assert one.number > 500
        chance = math.sqrt(one.sure * (1.0 - one.sure) / one.number)
        assert abs(one.right - one.sure) <= WITHIN + CHANCE * chance, one


@pytest.fixture(scope="module")
def said():
    """Verdicts by generator."""
    return {name: said_of(make, 5, 7) for name, make in GENERATORS.items()}
