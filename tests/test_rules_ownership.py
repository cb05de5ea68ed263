"""Ids that anybody would choose, and things that somebody else brought in."""

from __future__ import annotations

import datetime

import pytest

from contributed import own, package_in, sent, session
from damaged import good
from gapbook.intake.admit import Terms, admit
from gapbook.intake.check import check_layers
from gapbook.intake.findings import Severity
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rules.exceptions import STALE
from gapbook.intake.rules.ownership import OTHERS_INSTRUMENT, OTHERS_SPECIMEN, PLACEHOLDER, RULES
from gapbook.tables.opening import open_package
from small import Small

TODAY = datetime.date(2026, 12, 1)


def found(small: Small, folder, layer=None) -> list[tuple[str, str, str]]:
    """Code, table and the id that is named of each finding of the rules of ownership."""
    package = open_package((small if layer is None else good()).write(folder / "package"))
    contribution = None if layer is None else contribution_layer(sent(layer, folder / "sent"))
    report = check_layers(package, contribution, today=TODAY, rules=RULES).report
    assert report.broken == ()
    return [(one.code, one.table, one.found.split(",")[0].split()[-1]) for one in report.findings]


def called(table: str, name: str) -> Small:
    """A good package with one more row of this id."""
    small = good()
    if table == "contributors":
        small.add(table, contributor_id=name, name="Una", since="2020-01-01")
    elif table == "instruments":
        small.add(table, instrument_id=name, kind="rule", resolution="0.5", max_error="0.3", unit="mm")
    elif table == "frames":
        small.frame(name)
    elif table == "testers":
        small.add(table, tester_id=name, style="flat", own_frame="none")
    else:
        small.copy(name, "one")
    return small


@pytest.mark.parametrize(
    ("table", "name", "is_found"),
    [
        ("contributors", "me", True),
        ("contributors", "your-name", True),
        ("contributors", "anonymous", True),
        ("contributors", "mei", False),
        ("contributors", "ada-me", False),
        ("instruments", "my-rule", True),
        ("instruments", "rule-me", True),
        ("instruments", "rule-mei", False),
        ("instruments", "mylar-rule", False),
        ("specimens", "one-mine", True),
        ("specimens", "mine", True),
        ("specimens", "goldmine-98-ada", False),
        ("frames", "my-16x19", True),
        ("frames", "16x19", True),
        ("frames", "goldmine", False),
        ("frames", "16x19-ada", False),
        ("testers", "me", True),
    ],
)
def test_an_id_that_anybody_would_choose_is_an_error(tmp_path, table, name, is_found):
    assert found(called(table, name), tmp_path) == ([("placeholder", table, name)] if is_found else [])
    assert PLACEHOLDER.severity is Severity.error


def test_one_finding_an_id_however_many_rows_name_it(tmp_path):
    small = good()
    small.add("contributors", contributor_id="me", name="Una", since="2020-01-01")
    small.tables["spacings"] += session(contributor_id="me").tables["spacings"]
    assert found(small, tmp_path) == [("placeholder", "contributors", "me")]


def test_a_contribution_cannot_go_on_as_somebody_the_catalogue_calls_me(tmp_path):
    small = good()
    small.add("contributors", contributor_id="me", name="Una", since="2020-01-01")
    package = open_package(small.write(tmp_path / "package"))
    layer = contribution_layer(sent(session(contributor_id="me"), tmp_path / "sent"))
    report = check_layers(package, layer, today=TODAY, rules=RULES).report
    assert [(one.code, one.table) for one in report.errors] == [("placeholder", "spacings")]


def reading(person: str, copy: str, tool: str) -> Small:
    """A contribution of one run, with rows for those that the good package lacks."""
    small = own()
    if person == "una":
        small.add("contributors", contributor_id="una", name="Una", since="2020-01-01")
    if tool == "cal-una":
        small.add("instruments", instrument_id=tool, kind="calliper", resolution="0.01", max_error="0.05", unit="mm")
    if copy == "one-una":
        small.copy(copy, "one")
    for family, gaps in (("main", 15), ("cross", 18)):
        row = {"contributor_id": person, "instrument_id": tool, "taken_on": "2026-03-09"}
        small.run(copy, family, [12.5] * gaps, **row)
    return small


# In the good package ida read one-a and two-a, with cal and with rule; nobody used cal-2 yet.
@pytest.mark.parametrize(
    ("person", "copy", "tool", "codes"),
    [
        ("una", "one-una", "cal-una", []),
        ("una", "one-a", "cal-una", [("others-specimen", "one-a")]),
        ("una", "one-una", "cal", [("others-instrument", "cal")]),
        ("una", "one-a", "cal", [("others-instrument", "cal"), ("others-specimen", "one-a")]),
        ("una", "one-una", "cal-2", []),
        ("ole", "one-a", "cal-2", [("others-specimen", "one-a")]),
        ("ida", "one-a", "cal", []),
    ],
)
def test_what_somebody_else_brought_in_is_a_warning(tmp_path, person, copy, tool, codes):
    assert [(code, about) for code, _, about in found(good(), tmp_path, reading(person, copy, tool))] == codes
    assert {OTHERS_SPECIMEN.severity, OTHERS_INSTRUMENT.severity} == {Severity.warning}


def test_the_warning_names_both(tmp_path):
    package = open_package(good().write(tmp_path / "package"))
    layer = contribution_layer(sent(reading("una", "one-a", "cal-una"), tmp_path / "sent"))
    (finding,) = check_layers(package, layer, today=TODAY, rules=RULES).report.findings
    assert finding.found == "una reads one-a, which ida brought in"
    assert (finding.contributor, finding.column, finding.line) == ("una", "specimen_id", 2)


def test_two_people_may_bring_one_copy_together(tmp_path):
    small = reading("una", "one-una", "cal-una")
    small.tables["spacings"] += reading("ole", "one-una", "cal-una").tables["spacings"]
    assert found(good(), tmp_path, small) == []


def test_readings_that_are_only_of_the_whole_frame_are_looked_at(tmp_path):
    small = own()
    small.reading("one-a", "head_length", 330, contributor_id="ole", taken_on="2026-03-09")
    assert found(good(), tmp_path, small) == [
        ("others-instrument", "readings", "rule"),
        ("others-specimen", "readings", "one-a"),
    ]


def test_what_was_accepted_is_neither_found_again_nor_stale(tmp_path):
    package = package_in(tmp_path / "package")
    from gapbook.intake.admit import Acceptance

    rules = (*RULES, STALE)
    by_ida = Acceptance(("others-specimen",), "the very same copy, lent to her", "ida")
    sent_in = sent(reading("una", "one-a", "cal-una"), tmp_path / "sent")
    assert admit(package, sent_in, Terms(today=TODAY, rules=rules)).status == "refused"
    assert admit(package, sent_in, Terms(by_ida, today=TODAY, rules=rules)).status == "admitted"
    assert check_layers(open_package(package.root), None, today=TODAY, rules=rules).report.findings == ()
    later = own()
    later.reading("one-a", "head_length", 330, contributor_id="una", instrument_id="rule-in", taken_on="2026-04-09")
    layer = contribution_layer(sent(later, tmp_path / "later"))
    assert check_layers(open_package(package.root), layer, today=TODAY, rules=rules).report.findings == ()
    assert len(package.path("exceptions").read_text(encoding="utf-8").splitlines()) == 2
