"""Repeats averaged: marks of a rule that was laid anew, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from gapbook.science.repeats import average


def averaged(rows: list[tuple[int, int, int, float]], is_mark: list[bool]):
    """Averages of (run, number, repeat, value)."""
    run, number, repeat, value = (np.array(column) for column in zip(*rows, strict=True))
    return average(run, number, repeat, value.astype(float), np.array(is_mark))


# Rows (run, repeat, marks from a number on), then what each number must be, the squares left and the passes shifted.
# A later pass lies where the mean difference of the marks that it shares with the first pass puts it.
FIRST = {1: 10.0, 2: 20.0, 3: 31.0}
LAID_ANEW = [
    # One shared mark, 23 against 20: the pass is shifted by 3, so mark 4 stands at 45 − 3.
    ({2: 23.0, 4: 45.0}, {1: 10.0, 2: 20.0, 3: 31.0, 4: 42.0}, 0.0, 1),
    # Two shared marks, 3.0 and 3.4 off: shifted by 3.2, which leaves 0.2 either way: means 19.9 and 31.1, squares 4·0.1².
    ({2: 23.0, 3: 34.4}, {1: 10.0, 2: 19.9, 3: 31.1}, 0.04, 1),
    # None shared: nothing says where the rule lay; the pass stays where it was, and counts as shifted by an unknown amount.
    ({4: 45.0, 5: 55.0}, {1: 10.0, 2: 20.0, 3: 31.0, 4: 45.0, 5: 55.0}, 0.0, 1),
    # The same place: nothing moves.
    ({1: 10.0, 2: 20.0, 3: 31.0}, {1: 10.0, 2: 20.0, 3: 31.0}, 0.0, 1),
]


@pytest.mark.parametrize("first", [1, 3], ids=["from repeat 1", "from repeat 3"])
@pytest.mark.parametrize(("later", "expected", "squares", "shifts"), LAID_ANEW)
def test_a_rule_laid_anew_is_shifted_onto_the_first_laying(first, later, expected, squares, shifts):
    rows = [(0, number, first, value) for number, value in FIRST.items()]
    rows += [(0, number, first + 1, value) for number, value in later.items()]
    found = averaged(rows, [True])
    assert dict(zip(found.averages.number.tolist(), found.averages.value.tolist(), strict=True)) == pytest.approx(expected)
    assert found.averages.squares.sum() == pytest.approx(squares, abs=1e-12)
    assert found.averages.repeats.sum() == len(rows)
    assert found.shifts.tolist() == [shifts]


def test_gaps_are_not_shifted_and_runs_do_not_mix():
    # Run 0 gaps: plain means. Run 1 marks, two later passes: 2 and 4 too far along, both shifted.
    rows = [(0, 1, 1, 10.0), (0, 1, 2, 13.0), (0, 2, 1, 11.0)]
    rows += [(1, 1, 1, 5.0), (1, 2, 1, 15.0), (1, 1, 2, 7.0), (1, 2, 2, 17.0), (1, 1, 3, 9.0), (1, 2, 3, 19.0)]
    found = averaged(rows, [False, True])
    assert found.averages.run.tolist() == [0, 0, 1, 1]
    assert found.averages.value == pytest.approx([11.5, 11.0, 5.0, 15.0])
    assert found.averages.squares == pytest.approx([4.5, 0.0, 0.0, 0.0])
    assert found.averages.repeats.tolist() == [2, 1, 3, 3]
    assert found.shifts.tolist() == [0, 2]
    assert found.twice.tolist() == []


def test_rows_in_any_order_and_one_given_twice():
    rows = [(0, 2, 1, 20.0), (0, 1, 2, 12.0), (0, 1, 1, 10.0), (0, 2, 1, 21.0)]
    found = averaged(rows, [False])
    assert found.averages.value == pytest.approx([11.0, 20.5])
    assert found.twice.tolist() == [3]
    assert [rows[row][1] for row in found.averages.row.tolist()] == [1, 2]
