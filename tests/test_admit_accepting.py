"""What a reviewer accepts of a contribution, and what a contribution would accept of itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from contributed import TOO_WIDE, WIDE, own, package_in, sent, state
from damaged import good
from gapbook.commands.accepting import ask
from gapbook.errors import GapbookError
from gapbook.intake.accepting import Acceptance, One, is_at
from gapbook.intake.admit import admit
from gapbook.intake.check import check_layers
from gapbook.intake.findings import Severity
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rules.exceptions import OWN, STALE
from gapbook.tables.opening import open_package
from small import Small
from test_admit import BY_IDA, STRICT, TODAY, wide


@pytest.fixture
def package(tmp_path):
    return package_in(tmp_path / "package")


def excusing(key: str, reason: str = "fine by me", code: str = "wide") -> Small:
    """A contribution of one exception."""
    small = own()
    small.add("exceptions", rule=code, row_key=key, reason=reason, who="ole", decided_on="2026-03-30")
    return small


@pytest.mark.parametrize("code", ["wide", "too-wide", "no-such-rule"])
@pytest.mark.parametrize("acceptance", [None, BY_IDA])
def test_no_contribution_excuses_what_comes_later(package, tmp_path, code, acceptance):
    """The row it names is not there yet: nobody could have looked at it."""
    before = state(package.root)
    rules = (WIDE, TOO_WIDE, STALE)
    folder = sent(excusing("three-a/main/0/gap/1/ida/cal/2026-03-01/1", code=code), tmp_path / "sent")
    outcome = admit(package, folder, replace(STRICT, rules=rules, acceptance=acceptance))
    assert (outcome.status, [finding.code for finding in outcome.report.errors]) == ("refused", ["exception-stale"])
    assert (outcome.report.errors[0].table, outcome.report.errors[0].line) == ("exceptions", 2)
    assert state(package.root) == before
    seen = check_layers(package, contribution_layer(folder), today=TODAY, rules=rules).report
    assert seen.findings == outcome.report.findings


def test_an_exception_the_catalogue_has_is_no_fault_of_a_contribution(tmp_path):
    small = good()
    small.tables["exceptions"] = excusing("gone").tables["exceptions"]
    package = package_in(tmp_path / "package", small)
    outcome = admit(package, sent(excusing("gone"), tmp_path / "sent"), replace(STRICT, rules=(WIDE, STALE)))
    assert (outcome.status, outcome.there) == ("already-there", {"exceptions": 1})


def test_check_and_admit_say_the_same_of_what_a_contribution_would_excuse(package, tmp_path):
    small = wide()
    key = "three-a/main/0/gap/1/ida/cal/2026-03-01/1"
    small.tables["exceptions"] = excusing(key).tables["exceptions"]
    folder = sent(small, tmp_path / "sent")
    (seen,) = check_layers(package, contribution_layer(folder), today=TODAY, rules=STRICT.rules).report.findings
    assert (seen.severity, seen.fix) == (Severity.warning, "Read it again; proposed by ole: fine by me")
    assert admit(package, folder, STRICT).open == (seen,)
    admit(package, folder, replace(STRICT, acceptance=BY_IDA))
    checked = check_layers(open_package(package.root), None, today=TODAY, rules=STRICT.rules)
    (note,) = [item for item in checked.report.findings if item.row_key == key]
    assert (note.severity, note.fix) == (Severity.note, "Accepted by ole on 2026-03-30: fine by me")


def test_nobody_accepts_who_comes_with_the_contribution(package, tmp_path):
    small = wide()
    small.add("contributors", contributor_id="una", name="Una", since="2026-01-01")
    folder = sent(small, tmp_path / "sent")
    by_una = replace(STRICT, acceptance=replace(BY_IDA, who="una"))
    with pytest.raises(GapbookError) as stop:
        admit(package, folder, by_una)
    assert stop.value.problems[0].code == "unknown-contributor"
    people = own()
    people.tables["contributors"] = small.tables["contributors"]
    admit(package, sent(people, tmp_path / "people"), STRICT)
    assert admit(package, folder, by_una).status == "admitted"


def test_blanks_around_a_reason_are_not_written(package, tmp_path):
    outcome = admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, acceptance=replace(BY_IDA, reason="  seen ")))
    assert outcome.status == "admitted"
    assert package.path("exceptions").read_text(encoding="utf-8").splitlines()[-1].split(",")[2] == "seen"


# what is accepted; what of it was not found
UNUSED = {
    "all found": (("wide",), ()),
    "one not found": (("other", "wide"), ("other",)),
    "twice": (("other", "other"), ("other",)),
}


@pytest.mark.parametrize("case", UNUSED)
def test_what_there_was_nothing_of_is_said(package, tmp_path, case):
    codes, wanted = UNUSED[case]
    other = replace(WIDE, code="other", look=lambda context: [])
    terms = replace(STRICT, rules=(WIDE, other), acceptance=replace(BY_IDA, codes=codes))
    outcome = admit(package, sent(wide(), tmp_path / "sent"), terms)
    assert outcome.unused == wanted


KEY, SECOND = ("three-a/main/0/gap/1/ida/cal/2026-03-01/1", "three-a/main/0/gap/2/ida/cal/2026-03-01/1")


def two_wide() -> Small:
    """A new bed with two wide gaps."""
    small = wide()
    small.tables["spacings"][1]["value"] = "15.5"
    return small


@pytest.mark.parametrize(
    ("place", "is_meant"),
    [
        (KEY, True),
        ("three-a/main/0/1", True),
        ("three-a/main/1", True),
        ("three-a", True),
        ("three-b/main/1", False),
        ("main/0/gap/1", False),
        ("three-a/1/main", False),
        ("three-a/main/0/gap/2", False),
    ],
)
def test_a_place_is_a_row_s_key_or_parts_of_it_in_order(place, is_meant):
    assert is_at(KEY, place) is is_meant


# what is accepted; what becomes of it; what stays open or is unused
PLACES = {
    "the whole key": ((One("wide", KEY),), "refused", 1, ()),
    "parts": ((One("wide", "three-a/main/0/gap/1"),), "ambiguous-place", 0, ()),
    "parts of both": ((One("wide", KEY), One("wide", "three-a/gap/2/ida")), "admitted", 0, ()),
    "each with its reason": ((One("wide", KEY, "seen"), One("wide", "three-a/gap/2/ida", "so too")), "admitted", 0, ()),
    "another row": ((One("wide", "three-b"),), "refused", 2, ("wide@three-b",)),
}


@pytest.mark.parametrize("case", PLACES)
def test_one_row_is_accepted_and_no_other(package, tmp_path, case):
    ones, status, left, unused = PLACES[case]
    before = state(package.root)
    terms = replace(STRICT, acceptance=Acceptance((), "looked at", "ole", ones))
    if status == "ambiguous-place":
        with pytest.raises(GapbookError) as stop:
            admit(package, sent(two_wide(), tmp_path / "sent"), terms)
        assert stop.value.problems[0].code == status
        assert KEY in stop.value.problems[0].expected
        assert state(package.root) == before
        return
    outcome = admit(package, sent(two_wide(), tmp_path / "sent"), terms)
    assert (outcome.status, len(outcome.open), outcome.unused) == (status, left, unused)
    rows = package.path("exceptions").read_text(encoding="utf-8").splitlines()[1:]
    wanted = [one.reason or "looked at" for one in ones] if status == "admitted" else []
    assert [row.split(",")[2] for row in rows] == wanted


def notes(root, rules):
    """The notes of a check of the package."""
    found = check_layers(open_package(root), None, today=TODAY, rules=rules).report.findings
    return [one for one in found if one.severity is Severity.note]


def test_who_accepts_a_finding_on_their_own_reading_is_named(package, tmp_path):
    rules = (WIDE, STALE, OWN)
    outcome = admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, rules=rules, acceptance=BY_IDA))
    assert (outcome.status, [one.row_key for one in outcome.own]) == ("admitted", [KEY])
    found = notes(package.root, rules)
    assert [(one.code, one.table) for one in found] == [("own-exception", "exceptions"), ("wide", "spacings")]
    assert found[0].found == f"ida on wide of {KEY}"


def test_nobody_is_named_if_somebody_else_accepts(package, tmp_path):
    rules = (WIDE, STALE, OWN)
    by_ole = replace(BY_IDA, who="ole")
    assert admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, rules=rules, acceptance=by_ole)).own == ()
    assert [one.code for one in notes(package.root, rules)] == ["wide"]


def test_a_contribution_that_accepts_its_own_is_named_too(package, tmp_path):
    small = wide()
    small.add("exceptions", rule="wide", row_key=KEY, reason="fine", who="ida", decided_on="2026-03-30")
    layer = contribution_layer(sent(small, tmp_path / "sent"))
    found = check_layers(package, layer, today=TODAY, rules=(WIDE, STALE, OWN)).report.findings
    assert [(one.code, str(one.severity)) for one in found] == [("wide", "warning"), ("own-exception", "note")]


@pytest.mark.parametrize(
    ("answers", "accepted"),
    [
        (["seen", "so too"], [KEY, KEY.replace("gap/1", "gap/2")]),
        (["", " seen "], [KEY.replace("gap/1", "gap/2")]),
        (["q"], []),
    ],
)
def test_asked_one_by_one(package, tmp_path, answers, accepted, capsys):
    folder = sent(two_wide(), tmp_path / "sent")
    opened = admit(package, folder, STRICT)
    typed = iter(answers)
    acceptance = ask(opened.open, None, "ida", lambda text: next(typed))
    assert [one.place for one in acceptance.ones] == accepted
    shown = capsys.readouterr().out
    assert "wide (1 of 2)" in shown
    assert "reading of your own" in shown
    outcome = admit(package, folder, replace(STRICT, acceptance=acceptance))
    assert outcome.status == ("admitted" if len(accepted) == 2 else "refused")
