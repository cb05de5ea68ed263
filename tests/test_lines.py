"""Lines through stations and origins of runs: against numpy.polyfit, and by hand."""

from __future__ import annotations

import numpy as np
import pytest

from gapbook.science.lines import Runs, about_origin, lines_at, points_of, span, station_weights
from small import Small

HEIGHTS = (-80.0, 0.0, 80.0)


def at_heights(owner, station, position, owners: int) -> np.ndarray:
    """Positions [owners, heights] of one string, read at stations [R]."""
    weight = station_weights(np.array(owner), np.array(station, dtype=float), HEIGHTS, owners).weight
    points = np.array(position, dtype=float)[:, None]
    return np.stack([lines_at(points, np.array(owner), column, owners)[:, 0] for column in weight.T], axis=1)


@pytest.mark.parametrize(
    ("stations", "positions"),
    [((0, 80), (10.0, 11.0)), ((-80, 0, 80), (9.0, 10.0, 12.0)), ((-60, 0, 40, 85), (9.0, 10.2, 10.5, 11.9))],
)
def test_strings_are_least_squares_lines(stations, positions):
    slope, at_0 = np.polyfit(stations, positions, 1)
    # A second bed, read at one station, and rows out of order, do not disturb the first.
    order = np.argsort(positions)[::-1]
    found = at_heights(
        [*np.zeros(len(stations), dtype=int)[order], 1],
        [*np.array(stations)[order], 0.0],
        [*np.array(positions)[order], 7.0],
        2,
    )
    assert found[0] == pytest.approx([at_0 + slope * height for height in HEIGHTS], rel=1e-12)
    assert found[1] == pytest.approx([7.0, 7.0, 7.0])


def test_two_runs_at_one_station_count_as_one():
    # Stations 0 (read as 10 and 12, so 11) and 80 (14): the line is 11 + 3·y/80.
    assert at_heights([0, 0, 0], [0, 0, 80], [10.0, 12.0, 14.0], 1)[0] == pytest.approx([8.0, 11.0, 14.0])


def test_how_many_stations_and_whether_0_is_one():
    found = station_weights(np.array([0, 0, 1, 3, 3]), np.array([0.0, 80.0, -75.0, 0.0, 0.0]), HEIGHTS, 4)
    assert found.stations.tolist() == [2, 1, 0, 1]
    assert found.has_zero.tolist() == [True, False, False, True]
    assert found.weight[:2].sum(axis=0) == pytest.approx([1.0, 1.0, 1.0])


def runs(points, edges, strings, is_mark=True) -> Runs:
    rows = len(points)
    whole = np.zeros(rows, dtype=int)
    return Runs(
        whole, whole, np.zeros(rows), np.full(rows, is_mark), whole, whole, np.array(strings), np.array(edges),
        np.array(points, dtype=float), np.zeros((rows, len(points[0]))),
    )  # fmt: skip


def test_the_origin_is_the_middle_of_the_edges_or_of_the_outer_strings():
    # Two runs of 3 and 2 strings: edges at 0 and 44, middle 22; without edges strings at 12 and 31, middle 21.5.
    some = runs([[0, 10, 20, 33, 44], [99, 12, 31, 77, 88]], [True, False], [3, 2])
    found = about_origin(some)
    assert found[0] == pytest.approx([-22, -12, -2, 11, 22])
    assert found[1, 1:3] == pytest.approx([-9.5, 9.5])
    assert span(some) == pytest.approx([44.0, 19.0])


def test_gaps_add_up_to_points_and_marks_are_points():
    readings = np.array([[5.0, 10.0, 11.0, 0.0], [5.0, 15.0, 26.0, 40.0]])
    found = points_of(readings, np.array([False, True]))
    assert found.tolist() == [[0.0, 5.0, 15.0, 26.0], [5.0, 15.0, 26.0, 40.0]]


def two_sessions(wider: float) -> dict[str, object]:
    """A bed read at station 0 in one session, and at 80 by somebody else, who finds it wider."""
    small = Small()
    small.frame("one", 16, 19)
    small.copy("one-a", "one")
    small.run("one-a", "main", [11.0] * 15)
    small.run("one-a", "cross", [12.0] * 18)
    small.run("one-a", "main", [11.0 * wider] * 15, station=80, contributor_id="ole", instrument_id="cal-2")
    return small.bed()


def test_a_session_that_did_not_read_station_0_does_not_speak_for_the_centre():
    """At y = 0 the line through 0 and 80 is what station 0 says: what is said of the centre must not feel station 80."""
    level, fanned = two_sessions(1.0), two_sessions(1.08)
    assert fanned["sessions"] == 2
    assert float(str(fanned["main_pitch_tip_mm"])) == pytest.approx(11.0 * 1.08, rel=1e-5)
    for name in ("main_pitch_centre_mm", "u_main_pitch_centre_mm", "openness_centre", "u_openness_centre"):
        assert float(str(fanned[name])) == pytest.approx(float(str(level[name])), rel=1e-5), name
