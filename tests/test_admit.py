"""Contributions admitted, refused and passed over: in process, on small packages, by rules made up here."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from contributed import BROKEN, TOO_WIDE, WIDE, even_bed, own, package_in, sent, session, state
from gapbook.catalogue import open_catalogue
from gapbook.errors import GapbookError
from gapbook.intake import admit as admission
from gapbook.intake.admit import Acceptance, Terms, admit
from gapbook.intake.check import check_layers
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import contribution_layer
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from small import Small

TODAY = datetime.date(2026, 4, 1)
PLAIN = Terms(rules=(), today=TODAY)
STRICT = Terms(rules=(WIDE, TOO_WIDE), today=TODAY)
BY_IDA = Acceptance(("wide",), "Looked at: stepped drilling", "ida")


@pytest.fixture
def package(tmp_path):
    return package_in(tmp_path / "package")


def wide(gap: float = 15.0) -> Small:
    """A new frame whose outer gap is `gap` mm wide."""
    small = even_bed("three", "three-a")
    small.tables["spacings"][0]["value"] = str(gap)
    return small


def test_rows_are_added_and_what_follows_from_them(package, tmp_path):
    outcome = admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), PLAIN)
    assert outcome.status == "admitted"
    assert outcome.rows == {"frames": 1, "specimens": 1, "spacings": 33}
    catalogue = open_catalogue(package.root)
    frames = {row["frame_id"]: row for row in catalogue.table("scores").to_pylist()}
    assert frames["three"]["openness_centre"] == 125.0  # 10·√(12.5 mm · 12.5 mm)
    assert frames["three"]["basis"] == "measured"


def test_what_is_derived_is_what_derive_would_write(package, tmp_path):
    admit(package, sent(session(), tmp_path / "sent"), PLAIN)
    admitted = state(package.root)
    derive(open_package(package.root))
    assert state(package.root) == admitted


def meanwhile(act: Callable[[], object]) -> Terms:
    """Terms under which `act` happens while the contribution is checked."""

    def look(_: object) -> Iterator[Finding]:
        act()
        yield from ()

    return Terms(rules=(replace(WIDE, look=look),), today=TODAY)


@pytest.mark.parametrize("dry_run", [False, True])
def test_what_was_judged_is_admitted_though_the_files_are_exchanged_meanwhile(package, tmp_path, dry_run):
    expected = package_in(tmp_path / "expected")
    admit(expected, sent(even_bed("three", "three-a"), tmp_path / "as sent" / "mine"), PLAIN)  # admissions tell its name
    folder = sent(even_bed("three", "three-a"), tmp_path / "mine")
    before = state(package.root)

    def exchange() -> None:
        (folder / "frames.csv").unlink()
        (folder / "specimens.csv").unlink()
        (folder / "specimens.csv").symlink_to("spacings.csv")
        (folder / "testers.csv").write_text("tester_id,style,own_frame\nbad,flat,none\n", encoding="utf-8")
        sent(even_bed("three", "three-a", main=99.0), folder / "other")
        (folder / "other" / "spacings.csv").rename(folder / "spacings.csv")

    outcome = admit(package, folder, replace(meanwhile(exchange), dry_run=dry_run))
    assert outcome.status == ("admissible" if dry_run else "admitted")
    assert outcome.rows == {"frames": 1, "specimens": 1, "spacings": 33}
    assert state(package.root) == (before if dry_run else state(expected.root))


def test_a_file_that_was_refused_is_not_admitted_in_another_form(package, tmp_path, monkeypatch):
    """A link is told by the check; if it is a sound file by then, what it holds was not what was sent."""
    folder = sent(even_bed("three", "three-a"), tmp_path / "mine")
    sound = folder / "specimens.csv"
    sound.rename(tmp_path / "specimens.csv")
    sound.symlink_to(tmp_path / "specimens.csv")
    check, before = admission.check_layers, state(package.root)

    def exchanged(*arguments: Any, **named: Any) -> Any:
        (tmp_path / "specimens.csv").replace(sound)
        return check(*arguments, **named)

    monkeypatch.setattr(admission, "check_layers", exchanged)
    with pytest.raises(GapbookError) as stop:
        admit(package, folder, PLAIN)
    assert stop.value.problems[0].code == "contribution-changed"
    assert state(package.root) == before


def test_nothing_is_left_beside_the_tables(package, tmp_path):
    before = set(state(package.root))
    admit(package, sent(session(), tmp_path / "sent"), PLAIN)
    assert set(state(package.root)) == before
    assert not package.is_changing


def test_the_same_again_is_nothing_to_add(package, tmp_path):
    folder = sent(even_bed("three", "three-a"), tmp_path / "sent")
    admit(package, folder, PLAIN)
    before = state(package.root)
    outcome = admit(package, folder, PLAIN)
    assert outcome.status == "already-there"
    assert (outcome.rows, outcome.there) == ({}, {"frames": 1, "specimens": 1, "spacings": 33})
    assert state(package.root) == before


def test_the_same_values_in_other_words_are_the_same(package, tmp_path):
    admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), PLAIN)
    again = even_bed("three", "three-a", main="12.50")
    for row in again.tables["spacings"]:
        row["station_mm"] = "0.0"
    assert admit(package, sent(again, tmp_path / "again", end="\r\n"), PLAIN).status == "already-there"


def test_warnings_do_not_matter_where_nothing_is_added(package, tmp_path):
    folder = sent(wide(), tmp_path / "sent")
    admit(package, folder, PLAIN)
    assert admit(package, folder, STRICT).status == "already-there"


def test_only_new_rows_are_added(package, tmp_path):
    admit(package, sent(session(), tmp_path / "sent"), PLAIN)
    more = session()
    more.tables["spacings"] += even_bed("one", "one-a", repeat=7, taken_on="2026-03-20").tables["spacings"]
    outcome = admit(package, sent(more, tmp_path / "more"), PLAIN)
    assert (outcome.status, outcome.rows, outcome.there) == ("admitted", {"spacings": 33}, {"spacings": 33})


def test_the_same_key_with_another_value_shows_both(package, tmp_path):
    small = own()
    small.reading("one-a", "head_width", 264.5)  # the good package has 246.5
    before = state(package.root)
    outcome = admit(package, sent(small, tmp_path / "sent"), PLAIN)
    (finding,) = outcome.report.errors
    assert outcome.status == "refused"
    assert (finding.code, finding.table, finding.line, finding.column) == ("conflicting-key", "readings", 2, "value")
    assert "264.5" in finding.found + finding.expected
    assert "246.5" in finding.found + finding.expected
    assert state(package.root) == before


@pytest.mark.parametrize(
    ("twice", "value", "status"),
    [
        ("246.5", 246.5, "already-there"),
        ("246.5", 264.5, "refused"),
        ("247.5", 247.5, "already-there"),
        ("247.5", 246.5, "refused"),
        ("247.5", 264.5, "refused"),
    ],
)
def test_of_a_key_that_the_catalogue_has_twice_the_last_row_counts(package, tmp_path, twice, value, status):
    path = package.path("readings")
    (row,) = (line for line in path.read_text().splitlines() if ",head_width," in line and ",246.5," in line)
    path.write_text(path.read_text() + row.replace("246.5", twice) + "\n")
    small = own()
    small.reading("one-a", "head_width", value)
    before = state(package.root)
    outcome = admit(package, sent(small, tmp_path / "sent"), PLAIN)
    assert outcome.status == status
    errors = [(finding.code, finding.line, finding.found, finding.expected) for finding in outcome.report.errors]
    assert [error[:3] for error in errors] == [("conflicting-key", 2, f"value '{value}'")] * (status == "refused")
    assert all(expected.endswith(f"value '{twice}'") for *_, expected in errors)
    assert state(package.root) == before


def test_an_error_refuses_all_rows(package, tmp_path):
    before = state(package.root)
    outcome = admit(package, sent(wide(21.0), tmp_path / "sent"), replace(STRICT, acceptance=BY_IDA))
    assert outcome.status == "refused"
    assert [finding.code for finding in outcome.report.errors] == ["too-wide"]
    assert state(package.root) == before


def test_a_warning_refuses_until_it_is_accepted(package, tmp_path):
    folder = sent(wide(), tmp_path / "sent")
    before = state(package.root)
    outcome = admit(package, folder, STRICT)
    assert (outcome.status, [finding.code for finding in outcome.open]) == ("refused", ["wide"])
    assert state(package.root) == before
    outcome = admit(package, folder, replace(STRICT, acceptance=BY_IDA))
    assert (outcome.status, outcome.rows["exceptions"]) == ("admitted", 1)
    line = package.path("exceptions").read_text(encoding="utf-8").splitlines()[-1]
    key = "three-a/main/0/gap/1/ida/cal/2026-03-01/1"
    assert line == f"wide,{key},Looked at: stepped drilling,ida,2026-04-01"


def test_the_next_check_shows_what_was_accepted(package, tmp_path):
    admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, acceptance=BY_IDA))
    checked = check_layers(open_package(package.root), None, today=TODAY, rules=STRICT.rules)
    (finding,) = [item for item in checked.report.findings if "three-a" in item.row_key]
    assert (finding.code, finding.severity) == ("wide", Severity.note)
    assert "ida" in finding.fix
    assert "stepped drilling" in finding.fix


def test_a_contribution_cannot_excuse_itself(package, tmp_path):
    small = wide()
    key = "three-a/main/0/gap/1/ida/cal/2026-03-01/1"
    small.add("exceptions", rule="wide", row_key=key, reason="fine by me", who="ole", decided_on="2026-03-30")
    folder = sent(small, tmp_path / "sent")
    outcome = admit(package, folder, STRICT)
    assert (outcome.status, [finding.code for finding in outcome.open]) == ("refused", ["wide"])
    outcome = admit(package, folder, replace(STRICT, acceptance=BY_IDA))
    assert (outcome.status, outcome.rows["exceptions"]) == ("admitted", 1)
    assert package.path("exceptions").read_text(encoding="utf-8").splitlines()[1:] == [f"wide,{key},fine by me,ole,2026-03-30"]


@pytest.mark.parametrize(
    ("acceptance", "code"),
    [
        (Acceptance(("no-such-rule",), "why", "ida"), "not-a-warning"),
        (Acceptance(("too-wide",), "why", "ida"), "not-a-warning"),
        (Acceptance(("wide",), "why", "nobody"), "unknown-contributor"),
        (Acceptance(("wide",), "=1+1", "ida"), "exception"),
        (Acceptance(("wide",), "two\nlines", "ida"), "exception"),
        (Acceptance(("wide",), "x" * 401, "ida"), "exception"),
        (Acceptance(("wide",), "  ", "ida"), "exception"),
        (Acceptance(("wide",), "--- 12!", "ida"), "exception"),
        (Acceptance(("wide",), "why", " "), "unknown-contributor"),
    ],
)
def test_what_cannot_be_accepted(package, tmp_path, acceptance, code):
    before = state(package.root)
    with pytest.raises(GapbookError) as stop:
        admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, acceptance=acceptance))
    assert stop.value.problems[0].code == code
    assert state(package.root) == before


def test_a_rule_that_breaks_admits_nothing(package, tmp_path):
    before = state(package.root)
    with pytest.raises(GapbookError) as stop:
        admit(package, sent(session(), tmp_path / "sent"), replace(PLAIN, rules=(BROKEN,)))
    assert stop.value.problems[0].code == "rule-broken"
    assert state(package.root) == before


def test_the_copy_of_an_installation_is_left_alone(package, tmp_path):
    with pytest.raises(GapbookError) as stop:
        admit(replace(package, installed=True), sent(session(), tmp_path / "sent"), PLAIN)
    assert stop.value.problems[0].code == "read-only"
    assert "--package" in str(stop.value)


def test_a_whole_package_is_no_contribution(package, tmp_path):
    with pytest.raises(GapbookError) as stop:
        admit(package, package_in(tmp_path / "other").root, PLAIN)
    assert stop.value.problems[0].code == "not-a-contribution"


def test_what_the_catalogue_could_not_be_derived_with_is_not_written(package, tmp_path):
    """A gap is missing: no rule asked for here says so, but the bed cannot be laid out."""
    small = even_bed("three", "three-a")
    del small.tables["spacings"][4]
    before = state(package.root)
    with pytest.raises(GapbookError):
        admit(package, sent(small, tmp_path / "sent"), PLAIN)
    assert state(package.root) == before


def test_the_first_contribution_to_an_empty_catalogue(tmp_path):
    empty = own()
    package = open_package(empty.write(tmp_path / "package"))
    small = even_bed("three", "three-a")
    whole = Small()
    small.tables |= {name: whole.tables[name] for name in ("instruments", "contributors")}
    assert admit(package, sent(small, tmp_path / "sent"), PLAIN).status == "admitted"
    assert open_catalogue(package.root).table("beds").num_rows == 1


def test_a_dry_run_writes_nothing_and_shows_what_admission_would(package, tmp_path):
    folder = sent(session(), tmp_path / "sent")
    before = {str(path): path.stat().st_mtime_ns for path in package.root.rglob("*")}
    tried = admit(package, folder, replace(PLAIN, dry_run=True))
    assert {str(path): path.stat().st_mtime_ns for path in package.root.rglob("*")} == before
    done = admit(package, folder, PLAIN)
    assert (tried.status, done.status) == ("admissible", "admitted")
    assert (tried.rows, tried.change) == (done.rows, done.change)


def test_a_dry_run_shows_the_change_beside_open_warnings(package, tmp_path):
    outcome = admit(package, sent(wide(), tmp_path / "sent"), replace(STRICT, dry_run=True))
    assert (outcome.status, [finding.code for finding in outcome.open]) == ("refused", ["wide"])
    assert [bed.specimen_id for bed in outcome.change.beds] == ["three-a"]


def test_a_table_the_package_lacks_is_not_passed_over(package, tmp_path):
    resources = [item for item in package.descriptor["resources"] if item["name"] != "exceptions"]
    descriptor = {**package.descriptor, "resources": resources}
    small = own()
    small.add("exceptions", rule="wide", row_key="x", reason="why", who="ida", decided_on="2026-03-01")
    folder = sent(small, tmp_path / "sent")
    assert list(contribution_layer(folder).files) == ["exceptions"]
    outcome = admit(replace(package, descriptor=descriptor), folder, PLAIN)
    assert outcome.status == "refused"
    assert "unknown-file" in [finding.code for finding in outcome.report.errors]
