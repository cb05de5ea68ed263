"""The array code against the plain loop of tests/bench on small packages read in every way there is."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

import pytest

from bench import plain
from gapbook.tables.derived import compute
from gapbook.tables.opening import open_package
from generated import Rack, rack_of, written

SEEDS = range(100, 124)
TOLERANCE = 1e-5
"""Relative: derived figures have six significant digits, 5e-6."""


def by_both(rack: Rack, unit: str) -> dict[str, tuple[list[dict], list[dict]]]:
    """Rows of beds and scores, by arrays and by the plain loop."""
    with tempfile.TemporaryDirectory(prefix="oracle-") as scratch:
        folder = written(rack, unit).write(Path(scratch) / "package")
        fast = compute(open_package(folder), ["beds"])
        tables = plain.read_package(folder)
    return {
        "beds": (fast["beds"].to_pylist(), plain.derive_beds(tables)),
        "scores": (fast["scores"].to_pylist(), plain.derive_scores(tables)),
    }


def differences(fast: list[dict], slow: list[dict]) -> list[tuple]:
    """Cells that differ: row, column, by arrays, by the plain loop."""
    found = []
    for one, other in zip(fast, slow, strict=True):
        assert list(one) == list(other)
        for column, value in other.items():
            mine = one[column]
            if isinstance(value, float) and isinstance(mine, float):
                same = math.isclose(mine, value, rel_tol=TOLERANCE, abs_tol=1e-9)
            else:
                same = mine == value
            if not same:
                found.append((next(iter(one.values())), column, mine, value))
    return found


@pytest.mark.slow_after(8)
@pytest.mark.parametrize("seed", SEEDS)
def test_every_cell_agrees(seed):
    # Nine measured frames and one nobody read, so that the regression has what it needs; every other one in inches.
    both = by_both(rack_of(seed, 9), "in" if seed % 2 else "mm")
    assert [differences(*both[table]) for table in ("beds", "scores")] == [[], []]
    assert len(both["beds"][0]) >= 9
    assert both["scores"][0][-1]["basis"] == "counted"


def test_the_packages_are_read_in_every_way():
    runs = [run for seed in SEEDS for run in rack_of(seed, 9).runs]
    assert {(run.kind, run.edges, run.tool) for run in runs} == {
        (kind, edges, tool)
        for kind, tools in (("gap", ("cal", "cal-2")), ("mark", ("rule", "rule-in")))
        for edges in (True, False)
        for tool in tools
    }
    stations, sessions = {}, {}
    for seed in SEEDS:
        for run in rack_of(seed, 9).runs:
            stations.setdefault((seed, run.copy), set()).add(run.station)
            sessions.setdefault((seed, run.copy), set()).add(run.day)
    assert {len(found) for found in stations.values()} == {1, 2, 3}
    assert {len(found) for found in sessions.values()} == {1, 2}
