"""Repeats and sessions: a good package, one reading or one session out of line, exactly that finding at exactly that cell."""

from __future__ import annotations

import random

import pytest

from read_beds import COPIES, findings, found, good, rows_of, shift
from small import Small


def at(row: int) -> int:
    """The physical line of a row of a table, which counts from 0."""
    return row + 2


# repeats-scatter


@pytest.mark.parametrize(
    ("cells", "by"),
    [
        ({"instrument_id": "cal", "family": "main", "no": 5, "repeat": 1}, 2.0),
        ({"instrument_id": "cal", "family": "main", "no": 5, "repeat": 2}, -2.0),
        ({"instrument_id": "cal", "family": "main", "no": 8, "repeat": 2}, 1.5),  # the middle gap, its own mirror twin
        ({"instrument_id": "cal", "family": "cross", "no": 1, "repeat": 2}, 3.0),
        ({"instrument_id": "cal", "family": "cross", "no": 11, "repeat": 1}, 2.0),
        ({"instrument_id": "rule", "family": "main", "no": 7, "repeat": 2}, 3.0),
        ({"instrument_id": "rule", "family": "cross", "no": 19, "repeat": 3}, -3.0),
    ],
)
def test_one_repeat_out_of_line(cells, by):
    small = good()
    row = rows_of(small, "spacings", specimen_id=COPIES[8], **cells)[0]
    shift(small, "spacings", [row], by)
    assert found(small) == [("repeats-scatter", "spacings", at(row), "value")]


def test_one_whole_frame_repeat_out_of_line():
    small = good()
    rows = rows_of(small, "readings", specimen_id=COPIES[3], quantity="mass")
    shift(small, "readings", rows[1:], 3.0)
    assert found(small) == [("repeats-scatter", "readings", at(rows[1]), "value")]


def test_a_rule_laid_anew_is_no_scatter():
    small = good()
    rows = rows_of(small, "spacings", specimen_id=COPIES[8], instrument_id="rule", family="main", repeat=2)
    shift(small, "spacings", rows, 25.0)
    assert found(small) == []


def _seven_times(odd: float) -> Small:
    small = good()
    for repeat, value in enumerate((680.0, 680.5, 680.0, 680.5, 681.0, 680.5, 680.5 + odd), 1):
        small.reading(COPIES[0], "length", value, repeat=repeat)
    return small


def test_grubbs_from_six_repeats():
    # G of 680, 680.5, 680, 680.5, 681, 680.5, 700.5 is 2.2676, 1e-9 short of the most 7 values allow, 6/sqrt 7.
    small = _seven_times(20.0)
    assert found(small) == [("repeats-scatter", "readings", len(small.tables["readings"]) + 1, "value")]
    assert found(_seven_times(0.5)) == []


def test_a_session_that_scatters_throughout_is_one_finding():
    small = good()
    rng = random.Random(3)
    rows = rows_of(small, "spacings", specimen_id=COPIES[6], instrument_id="cal")
    for row in rows:
        shift(small, "spacings", [row], rng.gauss(0, 0.6))
    assert found(small) == [("repeats-scatter", "spacings", at(rows[0]), "value")]


# sessions-disagree


@pytest.mark.parametrize("family", ["main", "cross"])
@pytest.mark.parametrize("by", [1.0, -1.0])
def test_a_session_whose_pitch_is_off(family, by):
    small = good()
    rows = rows_of(small, "spacings", specimen_id=COPIES[2], instrument_id="cal-2", family=family)
    shift(small, "spacings", rows, by)
    (item,) = findings(small)
    assert (item.code, item.line, item.column) == ("sessions-disagree", at(rows[0]), "value")
    assert item.row_key == COPIES[2]


def test_a_session_off_in_both_families_is_one_finding_a_bed():
    small = good()
    shift(small, "spacings", rows_of(small, "spacings", specimen_id=COPIES[2], instrument_id="cal-2"), 1.0)
    assert [code for code, *_ in found(small)] == ["sessions-disagree"]


def test_of_three_sessions_the_one_that_differs_is_named():
    small = good()
    first = rows_of(small, "spacings", specimen_id=COPIES[2], instrument_id="cal", repeat=1)
    for row in first:
        small.add("spacings", **(small.tables["spacings"][row] | {"taken_on": "2026-04-01"}))
    shift(small, "spacings", rows_of(small, "spacings", specimen_id=COPIES[2], taken_on="2026-04-01", no=5), 0.03)
    shift(small, "spacings", rows_of(small, "spacings", specimen_id=COPIES[2], instrument_id="cal-2", family="main"), 0.02)
    row = rows_of(small, "spacings", specimen_id=COPIES[2], taken_on="2026-03-01", family="main")
    shift(small, "spacings", row, 1.0)
    assert found(small) == [("sessions-disagree", "spacings", at(row[0]), "value")]


def test_an_error_both_share_through_their_instrument_is_none():
    # Two sessions with one poor instrument may differ only as readings do: its error is in both.
    small = good()
    tools = rows_of(small, "instruments", instrument_id="cal")
    small.tables["instruments"][tools[0]]["max_error"] = "2"
    first = rows_of(small, "spacings", specimen_id=COPIES[6], instrument_id="cal", family="main", repeat=1)
    start = len(small.tables["spacings"])
    for row in first:
        small.add("spacings", **(small.tables["spacings"][row] | {"taken_on": "2026-04-01"}))
    shift(small, "spacings", list(range(start, len(small.tables["spacings"]))), 1.0)
    assert ("sessions-disagree", "spacings") in [(code, table) for code, table, *_ in found(small)]
    small.tables["spacings"][start:] = [row | {"instrument_id": "cal-3"} for row in small.tables["spacings"][start:]]
    small.add("instruments", instrument_id="cal-3", kind="calliper", resolution="0.01", max_error="2", unit="mm")
    assert found(small) == []


def test_two_people_and_one_head():
    small = good()
    rows = rows_of(small, "readings", specimen_id=COPIES[4], quantity="head_width", contributor_id="ole")
    shift(small, "readings", rows, 4.0)
    (item,) = findings(small)
    assert (item.code, item.table, item.line) == ("sessions-disagree", "readings", at(rows[0]))
    assert item.row_key == f"{COPIES[4]}/head_width/true"


def _sent(by: float) -> Small:
    """A contribution: one of ida's beds read again by ole, off by so much."""
    whole, sent = good(), Small()
    sent.tables = {name: [] for name in sent.tables}
    for row in rows_of(whole, "spacings", specimen_id=COPIES[6], instrument_id="cal", repeat=1):
        value = f"{float(whole.tables['spacings'][row]['value']) + by:.2f}"
        kept = {"contributor_id": "ole", "instrument_id": "cal-2", "taken_on": "2026-05-05", "value": value}
        sent.add("spacings", **(whole.tables["spacings"][row] | kept))
    for row in sent.tables["spacings"]:
        row["value"] = f"{round(float(row['value']) / 0.02) * 0.02 + 0.02:.2f}"
    return sent


def test_a_contribution_that_disagrees_with_the_catalogue_is_told_at_its_own_row():
    assert found(good(), _sent(1.0)) == [("sessions-disagree", "spacings", 2, "value")]
    assert found(good(), _sent(0.0)) == []


def test_what_the_catalogue_had_before_is_not_told_of_a_contribution():
    whole = good()
    shift(whole, "spacings", rows_of(whole, "spacings", specimen_id=COPIES[2], instrument_id="cal-2"), 1.0)
    assert [code for code, *_ in found(whole)] == ["sessions-disagree"]
    assert found(whole, _sent(0.0)) == []


# consequences


def test_what_follows_from_a_slip_is_under_it():
    # One repeat so far off that the two sessions disagree as well: 4 mm on a gap within the window.
    small = good()
    row = rows_of(small, "spacings", specimen_id=COPIES[2], instrument_id="cal", family="main", no=8, repeat=1)[0]
    shift(small, "spacings", [row], 9.0)
    (item,) = findings(small)
    assert (item.code, item.line) == ("repeats-scatter", at(row))
    assert [cause.code for cause in item.causes] == ["sessions-disagree"]
