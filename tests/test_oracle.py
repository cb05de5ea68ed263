"""The array code against the plain loop of tests/bench, which was written from the definitions alone."""

from __future__ import annotations

import math

import pytest

import invent
from bench import plain
from gapbook.tables.derived import compute
from gapbook.tables.opening import open_package

TOLERANCE = 2e-5
"""Relative; derived tables are written with six significant digits."""
ABSOLUTE = 2e-6


@pytest.fixture(scope="module", params=[(120, 3), (90, 8)], ids=["120 beds", "90 beds"])
def both(request, tmp_path_factory):
    """Beds and scores of one invented package by both routes, rows by id."""
    count, seed = request.param
    out = tmp_path_factory.mktemp("oracle") / "package"
    invent.main(["--specimens", str(count), "--seed", str(seed), "--out", str(out)])
    fast = compute(open_package(out), ["beds"])
    tables = plain.read_package(out)
    slow = {"beds": plain.derive_beds(tables), "scores": plain.derive_scores(tables)}
    return {
        name: ({row[key]: row for row in fast[name].to_pylist()}, {row[key]: row for row in slow[name]})
        for name, key in (("beds", "specimen_id"), ("scores", "frame_id"))
    }


@pytest.mark.parametrize("table", ["beds", "scores"])
def test_every_cell_agrees(both, table):
    fast, slow = both[table]
    assert fast.keys() == slow.keys()
    wrong = []
    for key, row in slow.items():
        for column, value in row.items():
            found = fast[key][column]
            if isinstance(value, float) and isinstance(found, float):
                same = math.isclose(found, value, rel_tol=TOLERANCE, abs_tol=ABSOLUTE)
            else:
                same = found == value
            if not same:
                wrong.append((key, column, found, value))
    assert not wrong, wrong[:10]
    assert len(slow) > 50
    assert {column for row in slow.values() for column in row} == set(next(iter(fast.values())))
