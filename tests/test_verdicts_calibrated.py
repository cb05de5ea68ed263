"""Of verdicts said to be so sure, so many are right: within 2 points, in each class from 50 to 99 %."""

from __future__ import annotations

import pytest

from bench.calibration import GENERATORS, classes, said_of, together

POINTS = 0.02


@pytest.mark.slow
@pytest.mark.parametrize("what", ["frames", "copies"])
def test_verdicts_are_right_as_often_as_they_say(said, what):
    for one in classes(together([by[what] for by in said.values()]))[:-1]:
        assert one.number > 3_000
        assert abs(one.right - one.sure) <= POINTS, one


@pytest.fixture(scope="module")
def said():
    """Verdicts by generator."""
    return {name: said_of(make, 20, 7) for name, make in GENERATORS.items()}
