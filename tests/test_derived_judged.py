"""Derived tables may be a stranger's too: a figure that gapbook would not derive is refused, whoever asks."""

from __future__ import annotations

import csv

import pytest

from hostile import gapbook

CELLS = [
    ("scores", "openness_centre", "nan"),
    ("scores", "openness_centre", "0"),
    ("scores", "openness_centre", "1e308"),
    ("scores", "u_openness_centre", "inf"),
    ("scores", "u_openness_centre", ""),
    ("scores", "u_openness_centre", "-1"),
    ("scores", "mains", "0"),
    ("scores", "mains", ""),
    ("scores", "head_area_cm2", ""),
    ("scores", "basis", "guessed"),
    ("scores", "frame_id", "../one"),
    ("scores", "shared", "nan"),
    ("beds", "head_exponent", ""),
    ("beds", "head_width_mm", ""),
    ("handling", "u_mass_g", "1e300"),
    ("handling", "basis", "heard"),
    ("mechanics", "stiffness_centre_n_per_mm", "inf"),
]
ASKED = (["find", "--tighter-than", "one"], ["show", "one"], ["compare", "one", "two"], ["near", "one"], ["advise", "one"])


@pytest.mark.slow_after(3)
@pytest.mark.parametrize(("table", "column", "text"), CELLS)
def test_a_figure_that_is_not_derived_so_is_refused(spoilt, table, column, text):
    path = spoilt.path(table)
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    for row in rows[1:]:
        row[rows[0].index(column)] = text
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)
    runs = [gapbook(*command, "--package", spoilt.root) for command in ASKED]
    assert {run.status for run in runs} <= {0, 2}, [run.error for run in runs]
    refused = [run for run in runs if run.status == 2]
    assert refused
    assert all(f"{table}.csv" in run.error for run in refused)
    assert not [run for run in runs if "nan" in run.out]
