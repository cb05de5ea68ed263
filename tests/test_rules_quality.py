"""Reading quality: a good package, one thing broken, exactly that finding at exactly that cell."""

from __future__ import annotations

import pytest

from gapbook.intake.rules import QUALITY
from read_beds import COPIES, findings, found, good, rows_of, shift
from small import Small


def test_the_good_package_is_good():
    assert found(good()) == []


def at(row: int) -> int:
    """The physical line of a row of a table, which counts from 0."""
    return row + 2


# resolution


@pytest.mark.parametrize(
    ("table", "cells", "value"),
    [
        ("spacings", {"instrument_id": "cal", "no": 4}, "10.345"),  # a calliper of 0.01 mm
        ("spacings", {"instrument_id": "cal-2", "no": 4}, "10.35"),  # one of 0.02 mm
        ("spacings", {"instrument_id": "rule", "no": 4}, "43.37"),  # a rule of 0.5 mm
        ("readings", {"quantity": "head_width"}, "245.13"),
        ("readings", {"quantity": "mass"}, "320.25"),  # a scale of 0.1 g
    ],
)
def test_a_value_finer_than_the_instrument(table, cells, value):
    small = good()
    row = rows_of(small, table, **cells)[0]
    near = float(small.tables[table][row]["value"])
    small.tables[table][row]["value"] = f"{int(near)}.{value.partition('.')[2]}"
    codes = [item for item in found(small) if item[0] == "resolution"]
    assert codes == [("resolution", table, at(row), "value")]


def test_many_values_too_fine_are_one_finding_with_their_number():
    small = good()
    rows = rows_of(small, "spacings", instrument_id="cal-2", family="cross")
    for row in rows:
        small.tables["spacings"][row]["value"] += "4"
    (item,) = findings(small)
    assert (item.code, item.line) == ("resolution", at(rows[0]))
    assert f"{len(rows) - 1} more of" in item.found


@pytest.mark.parametrize(
    ("unit", "text"),
    [
        ("in", "{:.5f}"),  # thirty-seconds of an inch, exactly
        ("in", "{:.3f}"),  # rounded when written
        ("mm", "{:.2f}"),  # converted to millimetres
        ("mm", "{:.1f}"),
    ],
)
def test_steps_of_an_inch_rule_may_be_written_in_other_words(unit, text):
    small = good()
    for copy in COPIES[:5]:
        width = round(245.0 / 25.4 * 32) / 32
        factor = {"in": 1.0, "mm": 25.4}[unit]
        small.reading(copy, "length", text.format((width + 17.3125) * factor), unit, instrument_id="rule-in")
    assert found(small) == []


def test_converted_values_that_no_step_gives_are_found():
    small = good()
    row = len(small.tables["readings"])
    small.reading(COPIES[0], "length", "685.42", "mm", instrument_id="rule-in")  # 26.985 in; steps are 26.96875 and 27
    assert found(small) == [("resolution", "readings", at(row), "value")]


def test_a_calliper_that_reads_halves_only():
    small = good()
    rows = rows_of(small, "spacings", specimen_id=COPIES[5], instrument_id="cal")
    for row in rows:
        value = float(small.tables["spacings"][row]["value"])
        small.tables["spacings"][row]["value"] = f"{round(2 * value) / 2:.2f}"
    assert found(small) == [("resolution", "spacings", at(rows[0]), "value")]


def test_a_few_round_values_are_no_finding():
    small = good()
    for row in rows_of(small, "spacings", specimen_id=COPIES[5], instrument_id="cal", family="main", repeat=1)[:10]:
        small.tables["spacings"][row]["value"] = "10.50"
    assert [code for code, *_ in found(small) if code == "resolution"] == []


# same-spacings


def _copied(small: Small, family: str | None = None) -> int:
    """Put the figures of one copy under another; the first row put there."""
    start = len(small.tables["spacings"])
    cells = {"specimen_id": COPIES[5], "instrument_id": "cal"} | ({"family": family} if family else {})
    for row in rows_of(small, "spacings", **cells):
        small.add("spacings", **(small.tables["spacings"][row] | {"specimen_id": "two-a", "contributor_id": "ole"}))
    return start


def test_the_same_list_under_two_specimens():
    small = good()
    row = _copied(small)
    (item,) = findings(small)
    assert (item.code, item.table, item.line, item.column) == ("same-spacings", "spacings", at(row), "specimen_id")
    assert item.row_key == "two-a"
    assert COPIES[5] in item.found


def test_ones_own_repeats_may_be_alike_but_not_throughout():
    small = good()
    table = small.tables["spacings"]
    first, second = (rows_of(small, "spacings", specimen_id=COPIES[5], instrument_id="cal", repeat=no) for no in (1, 2))
    for one, other in zip(first, second, strict=True):
        table[other]["value"] = table[one]["value"]
    assert [item[:2] for item in found(small)] == [("same-session", "spacings")]
    for family in ("main", "cross"):
        (row,) = rows_of(small, "spacings", specimen_id=COPIES[5], instrument_id="cal", repeat=2, family=family, no=3)
        shift(small, "spacings", [row], 0.04)
    assert found(small) == []


def test_even_beds_may_be_alike():
    small = good()
    for copy in ("two-a", "two-b"):
        if copy == "two-b":
            small.copy(copy, "two")
        small.run(copy, "main", ["11.00", "11.01"] * 7 + ["11.00"], taken_on="2026-03-02")
        small.run(copy, "cross", ["11.50", "11.51"] * 9, taken_on="2026-03-02")
    assert found(small) == []


# days


@pytest.mark.parametrize(
    ("table", "column", "cells"),
    [
        ("spacings", "taken_on", {"specimen_id": COPIES[5], "instrument_id": "cal"}),
        ("readings", "taken_on", {"specimen_id": COPIES[5], "quantity": "mass"}),
        ("playtests", "played_on", {"playtest_id": "bea-3"}),
        ("contributors", "since", {"contributor_id": "ole"}),
    ],
)
def test_days_that_are_still_to_come(table, column, cells):
    small = good()
    rows = rows_of(small, table, **cells)
    for row in rows:
        small.tables[table][row][column] = "2026-06-03"
    assert found(small) == [("future-date", table, at(rows[0]), column)]


def test_an_exception_decided_tomorrow_week():
    small = good()
    small.add("exceptions", rule="misclosure", row_key="one-a", reason="seen", who="ida", decided_on="2026-06-09")
    assert [item for item in found(small) if item[0] == "future-date"] == [("future-date", "exceptions", 2, "decided_on")]


@pytest.mark.parametrize("day", ["2026-06-01", "2026-06-02"])
def test_today_is_no_future_nor_is_it_tomorrow_elsewhere(day):
    small = good()
    for row in rows_of(small, "spacings", specimen_id=COPIES[5], instrument_id="cal"):
        small.tables["spacings"][row]["taken_on"] = day
    assert found(small) == []


def test_sessions_to_come_are_told_one_by_one():
    small = good()
    rows = [rows_of(small, "spacings", specimen_id=copy, instrument_id="cal") for copy in COPIES[5:7]]
    for row in rows[0] + rows[1]:
        small.tables["spacings"][row]["taken_on"] = "2062-03-01"
    assert found(small) == [("future-date", "spacings", at(some[0]), "taken_on") for some in rows]


def test_readings_from_before_joining_are_one_finding_a_person():
    small = good()
    (person,) = rows_of(small, "contributors", contributor_id="ole")
    small.tables["contributors"][person]["since"] = "2026-04-02"
    row = rows_of(small, "spacings", contributor_id="ole")[0]
    (item,) = findings(small)
    assert (item.code, item.table, item.line, item.column) == ("before-joining", "spacings", at(row), "taken_on")
    rows = len(rows_of(small, "spacings", contributor_id="ole")) + len(rows_of(small, "readings", contributor_id="ole"))
    assert f"in {rows:,} rows" in item.found


def test_one_reading_from_before_joining():
    small = good()
    row = rows_of(small, "readings", specimen_id=COPIES[1], quantity="head_width", contributor_id="ole")[0]
    small.tables["readings"][row]["taken_on"] = "2019-12-31"
    assert found(small) == [("before-joining", "readings", at(row), "taken_on")]


def test_a_person_who_joins_in_the_future_has_one_finding():
    small = good()
    (person,) = rows_of(small, "contributors", contributor_id="ole")
    small.tables["contributors"][person]["since"] = "2036-01-01"
    (item,) = findings(small)
    assert (item.code, item.table) == ("future-date", "contributors")
    assert [cause.code for cause in item.causes] == ["before-joining"]


# same-marks


@pytest.mark.parametrize(
    "columns", [("lift_vs_own",), ("control_vs_own", "comfort_vs_own"), ("control_vs_own", "lift_vs_own", "comfort_vs_own")]
)
def test_a_tester_who_gives_every_frame_the_same_mark(columns):
    small = good()
    rows = rows_of(small, "playtests", tester_id="bea")
    for row in rows:
        small.tables["playtests"][row] |= dict.fromkeys(columns, "1")
    assert found(small) == [("same-marks", "playtests", at(rows[0]), columns[0])]


def test_a_few_playtests_alike_are_no_finding():
    small = good()
    rows = rows_of(small, "playtests", tester_id="bea")
    for row in rows[:9]:
        small.tables["playtests"][row]["lift_vs_own"] = "1"
    small.tables["playtests"] = [row for number, row in enumerate(small.tables["playtests"]) if number not in rows[9:]]
    assert found(small) == []


def test_blank_marks_are_no_marks():
    small = good()
    for row in rows_of(small, "playtests", tester_id="bea"):
        small.tables["playtests"][row]["lift_vs_own"] = ""
    assert found(small) == []


def test_an_empty_package_has_no_findings():
    assert found(Small()) == []


def test_every_rule_says_why_and_how():
    codes = [rule.code for rule in QUALITY]
    assert codes == [
        "future-date", "before-joining", "release-year", "strung-not-stated", "instrument-plausible", "resolution",
        "same-spacings", "same-session", "too-regular", "repeats-scatter", "unsteady-person", "sessions-disagree",
        "copies-differ", "same-marks",
    ]  # fmt: skip
    for rule in QUALITY:
        assert rule.rationale.endswith((".", "finding."))
        assert rule.source
        assert not rule.fix.endswith(".")
