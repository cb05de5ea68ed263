"""Corrections with memory: cells corrected, rows withdrawn, ids renamed, merged and forgotten; and what is remembered."""

from __future__ import annotations

import csv
import datetime
import json
import shutil
from functools import partial

import pytest

from contributed import even_bed, own, package_in, sent, session, state
from damaged import good
from gapbook.errors import GapbookError
from gapbook.intake import amending, amendments
from gapbook.intake.admit import Terms as Admitting
from gapbook.intake.admit import admit
from gapbook.intake.amending import Terms, amend
from gapbook.intake.check import check_layers
from gapbook.intake.history import history
from gapbook.intake.rules.structure import RULES as STRUCTURE
from gapbook.tables.derived import compute, derive
from gapbook.tables.freshness import changed
from gapbook.tables.opening import open_package
from killing import KILLED, SEEN, at_call, kill, run
from running import gapbook
from small import Small

TODAY = datetime.date(2026, 12, 1)
TERMS = Terms("read wrongly", "ida", today=TODAY, rules=STRUCTURE)
GAP = "one-a/main/0/gap/7/ida/cal/2026-03-01/1"
TOLD = ["table", "row_key", "decided_on", "no", "what", "column", "old", "new", "reason", "who"]


def noted() -> Small:
    """The good package with an exception, a note in quotation marks, and a person whose things carry their id."""
    small = good()
    small.add("exceptions", rule="mirror", row_key="one-a/main", reason="Ida Marsh saw it", who="ida", decided_on="2026-03-30")
    small.add("exceptions", rule="resolution", row_key=GAP, reason="seen", who="ole", decided_on="2026-03-30")
    small.tables["specimens"][0]["note"] = 'lent by Ida Marsh, "as new"'
    small.tables["contributors"][0]["name"] = "Ida Marsh"
    return small


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return package_in(tmp_path_factory.mktemp("made") / "package", noted()).root


@pytest.fixture
def root(made, tmp_path):
    return shutil.copytree(made, tmp_path / "package")


def rows(root, table):
    with open_package(root).path(table).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def lines(root, table):
    return open_package(root).path(table).read_bytes().splitlines()


def do(root, name, *arguments, terms=TERMS, **named):
    return amend(open_package(root), partial(_plan, name, arguments, named), terms)


def _plan(name, arguments, named, package):
    return getattr(amendments, name)(package, *arguments, **named)


def test_a_cell_is_corrected_and_nothing_else_touched(root):
    before = {table: lines(root, table) for table in ("spacings", "specimens", "exceptions")}
    outcome = do(root, "correct", "one-a/main/0/7/1", "value", "12.9")
    assert (outcome.status, outcome.rows) == ("changed", {"spacings": 1})
    after = lines(root, "spacings")
    assert [new for old, new in zip(before["spacings"], after, strict=True) if old != new] == [
        b"one-a,main,0,gap,7,ida,cal,2026-03-01,1,12.9,mm"
    ]
    assert lines(root, "specimens") == before["specimens"]
    (told,) = rows(root, "corrections")
    assert list(told) == TOLD
    assert list(told.values()) == [
        "spacings",
        GAP,
        "2026-12-01",
        "1",
        "corrected",
        "value",
        "12.5",
        "12.9",
        "read wrongly",
        "ida",
    ]


def test_what_is_derived_follows_and_the_package_is_sound(root):
    do(root, "correct", GAP, "value", "12.9")
    was = state(root)
    derive(open_package(root))
    assert state(root) == was
    assert changed(open_package(root)) == []
    assert check_layers(open_package(root), None, today=TODAY, rules=STRUCTURE).report.findings == ()


def test_the_beds_that_change_are_shown(root):
    outcome = do(root, "correct", GAP, "value", "12.9", terms=Terms("read wrongly", "ida", True, today=TODAY, rules=STRUCTURE))
    assert outcome.status == "would-change"
    assert [bed.specimen_id for bed in outcome.change.beds] == ["one-a"]


def test_corrections_of_one_row_and_day_are_numbered(root):
    for value in ("12.6", "12.7"):
        do(root, "correct", GAP, "value", value)
    assert [(row["no"], row["old"], row["new"]) for row in rows(root, "corrections")] == [
        ("1", "12.5", "12.6"),
        ("2", "12.6", "12.7"),
    ]


def test_another_column_is_corrected(root):
    do(root, "correct", "two", "mass_g", "321", table="frames")
    assert [row["mass_g"] for row in rows(root, "frames")] == ["320", "321"]


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("correct", "one-a/main/0/7", "value", "12.9"), "ambiguous-place"),
        (("correct", "one-z/main", "value", "12.9"), "no-row"),
        (("correct", GAP, "value", "twelve"), "bad-value"),
        (("correct", GAP, "value", "12,9"), "bad-value"),
        (("correct", GAP, "value", "12.5"), "nothing-to-change"),
        (("correct", GAP, "taken_on", "2026-03-02"), "bad-column"),
        (("correct", "one-a", "note", "=1+1"), "bad-value"),
        (("withdraw", "one-z"), "no-row"),
        (("rename", "one-z", "one-y"), "no-row"),
        (("rename", "one-a", "two-a"), "id-in-use"),
        (("rename", "one-a", "One A"), "bad-id"),
        (("merge", "one-a", "one-a"), "nothing-to-change"),
        (("merge", "one-a", "two"), "no-row"),
        (("forget", "una"), "no-row"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_written(root, arguments, code):
    before = state(root)
    with pytest.raises(GapbookError) as stop:
        do(root, *arguments)
    assert stop.value.problems[0].code == code
    assert state(root) == before


@pytest.mark.parametrize(
    ("reason", "who", "code"),
    [("", "ida", "reason"), ("12!", "ida", "reason"), ("two\nlines", "ida", "reason"), ("=1+x", "ida", "reason"),
     ("why", "una", "unknown-contributor")],
)  # fmt: skip
def test_a_reason_and_a_known_person_are_needed(root, reason, who, code):
    before = state(root)
    with pytest.raises(GapbookError) as stop:
        do(root, "correct", GAP, "value", "12.9", terms=Terms(reason, who, today=TODAY, rules=STRUCTURE))
    assert stop.value.problems[0].code == code
    assert state(root) == before


def test_what_would_break_the_catalogue_is_refused(root):
    before = state(root)
    outcome = do(root, "withdraw", "two", table="frames")  # its copy would name a frame that is not there
    assert (outcome.status, [one.code for one in outcome.findings]) == ("refused", ["reference"])
    assert state(root) == before


def test_a_specimen_is_withdrawn_with_all_that_names_it(root):
    do(root, "withdraw", "one-a")
    for table in ("specimens", "spacings", "readings"):
        assert {row["specimen_id"] for row in rows(root, table)} <= {"two-a"}
    assert rows(root, "exceptions") == []
    told = {row["table"]: row for row in rows(root, "corrections")}
    assert {(row["what"], row["row_key"]) for row in told.values()} == {("withdrawn", "one-a")}
    assert told["specimens"]["old"].startswith("one-a,one,1.25,")
    with (root / "catalogue" / "derived" / "beds.csv").open(encoding="utf-8", newline="") as file:
        assert [row["specimen_id"] for row in csv.DictReader(file)] == ["two-a"]


def test_a_session_and_a_row_are_withdrawn(root, tmp_path):
    admit(open_package(root), sent(session(), tmp_path / "sent"), Admitting(rules=(), today=TODAY))
    before = len(rows(root, "spacings"))
    do(root, "withdraw", "one-a/ole/cal-2/2026-03-09")
    assert len(rows(root, "spacings")) == before - 33
    do(root, "withdraw", "one-a/mass")
    assert {row["quantity"] for row in rows(root, "readings")} == {"head_width"}
    assert rows(root, "corrections")[0]["old"] == "33 rows"
    assert "321.5" in rows(root, "corrections")[1]["old"]


def test_an_id_is_renamed_wherever_it_is_used(root):
    do(root, "rename", "one-a", "one-red")
    for table in ("specimens", "spacings", "readings"):
        assert "one-a" not in {row["specimen_id"] for row in rows(root, table)}
    assert [row["row_key"] for row in rows(root, "exceptions")] == ["one-red/main", GAP.replace("one-a", "one-red")]
    do(root, "rename", "ida", "ida-marsh")
    assert {row["contributor_id"] for row in rows(root, "spacings")} == {"ida-marsh"}
    assert [row["who"] for row in rows(root, "exceptions")] == ["ida-marsh", "ole"]
    assert rows(root, "exceptions")[1]["row_key"] == "one-red/main/0/gap/7/ida-marsh/cal/2026-03-01/1"
    assert [(row["old"], row["new"], row["who"]) for row in rows(root, "corrections")] == [
        ("one-a", "one-red", "ida-marsh"),
        ("ida", "ida-marsh", "ida-marsh"),
    ]


def test_a_renamed_bed_is_no_new_bed(root):
    assert do(root, "rename", "one-a", "one-red").change.beds == ()
    assert do(root, "rename", "one", "uno").change.beds == ()
    assert rows(root, "specimens")[0]["frame_id"] == "uno"


def test_an_id_in_several_tables_needs_the_table(root):
    do(root, "rename", "ole", "two", table="contributors")
    with pytest.raises(GapbookError) as stop:
        do(root, "rename", "two", "due")
    assert stop.value.problems[0].code == "ambiguous-id"
    do(root, "rename", "two", "due", table="frames")
    assert {row["contributor_id"] for row in rows(root, "contributors")} == {"ida", "two"}


def twins() -> Small:
    """Two copies and two people that are one: ole read one-b as ida read one-a, on the same day with the same instrument."""
    small = good()
    small.copy("one-b", "one")
    small.run("one-b", "main", [29.5, *[12.6] * 15, 29.5], edges=True)
    small.run("one-b", "cross", [30.5, *[12.5] * 18, 29.5], edges=True)
    return small


def test_two_copies_become_one_and_their_repeats_stay_apart(tmp_path):
    root = package_in(tmp_path / "package", twins()).root
    do(root, "merge", "one-a", "one-b")
    mains = [row for row in rows(root, "spacings") if row["specimen_id"] == "one-a" and row["family"] == "main"]
    assert sorted({row["repeat"] for row in mains}) == ["1", "2", "3"]
    assert {row["value"] for row in mains if row["repeat"] == "3" and row["no"] == "3"} == {"12.6"}
    crosses = [row for row in rows(root, "spacings") if row["specimen_id"] == "one-a" and row["family"] == "cross"]
    assert {row["repeat"] for row in crosses} == {"1", "2"}  # the very same figures were filed twice
    assert [row["specimen_id"] for row in rows(root, "specimens")] == ["one-a", "two-a"]
    assert [(row["what"], row["old"], row["new"]) for row in rows(root, "corrections")] == [("merged", "one-b", "one-a")]


def test_two_people_become_one(root):
    do(root, "merge", "ida", "ole")
    assert [row["contributor_id"] for row in rows(root, "contributors")] == ["ida"]
    assert {row["who"] for row in rows(root, "exceptions")} == {"ida"}


def test_a_person_is_forgotten_and_the_readings_stay(root):
    do(root, "correct", GAP, "value", "12.6", terms=Terms("Ida Marsh misread it", "ida", today=TODAY, rules=STRUCTURE))
    do(root, "rename", "cal", "calliper-ida")
    before = len(rows(root, "spacings"))
    outcome = do(root, "forget", "ida", terms=Terms("she asked", "ole", today=TODAY, rules=STRUCTURE))
    assert outcome.status == "changed"
    assert len(rows(root, "spacings")) == before
    for path in (root / "catalogue").rglob("*.csv"):
        text = path.read_text(encoding="utf-8").lower()
        assert "marsh" not in text, path
        assert "ida" not in text, path
    assert rows(root, "contributors")[0]["name"] == "Person 1"
    assert {row["instrument_id"] for row in rows(root, "spacings")} == {"calliper-person-1", "rule"}
    assert rows(root, "specimens")[0]["note"] == 'lent by Person 1, "as new"'
    assert any("version control" in note for note in outcome.notes)


def test_an_admission_is_remembered(root, tmp_path):
    folder = sent(even_bed("three", "three-a"), tmp_path / "2026-ida-three")
    assert admit(open_package(root), folder, Admitting(rules=(), today=TODAY, who="ole")).status == "admitted"
    told = rows(root, "admissions")
    assert [(row["table"], row["subject"], row["rows"]) for row in told] == [
        ("frames", "three", "1"), ("specimens", "three-a", "1"), ("spacings", "three-a", "33"),
    ]  # fmt: skip
    assert {(row["folder"], row["who"], row["admitted_on"], row["no"]) for row in told} == {
        ("2026-ida-three", "ole", "2026-12-01", "1")
    }
    assert len({row["digest"] for row in told}) == 1
    assert admit(open_package(root), folder, Admitting(rules=(), today=TODAY)).status == "already-there"
    assert rows(root, "admissions") == told


def test_who_admits_must_be_known(root, tmp_path):
    with pytest.raises(GapbookError) as stop:
        admit(open_package(root), sent(even_bed("three", "three-a"), tmp_path / "sent"), Admitting(rules=(), who="una"))
    assert stop.value.problems[0].code == "unknown-contributor"


def test_a_contribution_brings_no_logs(root, tmp_path):
    folder = sent(own(), tmp_path / "sent")
    (folder / "corrections.csv").write_text(",".join(TOLD) + "\n", encoding="utf-8")
    found = admit(open_package(root), folder, Admitting(rules=STRUCTURE)).report.findings
    assert {one.code for one in found} == {"missing-file", "unknown-file"}


def test_a_package_without_logs_still_admits_and_refuses_to_correct(root, tmp_path):
    path = root / "datapackage.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    content["resources"] = [one for one in content["resources"] if one["name"] not in ("corrections", "admissions")]
    path.write_text(json.dumps(content), encoding="utf-8")
    folder = sent(even_bed("three", "three-a"), tmp_path / "sent")
    assert admit(open_package(root), folder, Admitting(rules=(), today=TODAY)).status == "admitted"
    with pytest.raises(GapbookError) as stop:
        do(root, "correct", GAP, "value", "12.9")
    assert stop.value.problems[0].code == "no-log"


def test_history_tells_of_a_frame_and_its_copies(root, tmp_path):
    admit(
        open_package(root), sent(even_bed("three", "three-a"), tmp_path / "sent"), Admitting(rules=(), today=TODAY, who="ole")
    )
    do(root, "correct", "three-a/main/0/7", "value", "12.9")
    do(root, "rename", "three-a", "three-red")
    events = history(open_package(root), "three")
    assert [one.what for one in events] == ["read", *["admitted"] * 3, "corrected", "renamed"]
    assert events[-2].detail == "value: 12.5 → 12.9"
    assert events[-2].reason == "read wrongly"
    assert history(open_package(root), "three-red")[-1].what == "renamed"
    with pytest.raises(GapbookError) as stop:
        history(open_package(root), "nothing")
    assert stop.value.problems[0].code == "no-row"


def test_line_ends_and_marks_stay_as_they_are(root):
    path = open_package(root).path("spacings")
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    do(root, "correct", GAP, "value", "12.9")
    assert path.read_bytes() == before.replace(b"gap,7,ida,cal,2026-03-01,1,12.5,mm", b"gap,7,ida,cal,2026-03-01,1,12.9,mm", 1)


@pytest.mark.parametrize("start", [1, 2, 3])
@pytest.mark.slow
def test_killed_at_any_moment_the_package_is_old_or_new(root, tmp_path, start, monkeypatch):
    """Before every eleventh call that touches a file, from one on; what is checked and derived is done once."""
    old = state(root)
    whole = shutil.copytree(root, tmp_path / "whole")
    do(whole, "rename", "one-a", "one-red")
    new = state(whole)
    before, after = compute(open_package(root), ["beds"]), compute(open_package(whole))
    monkeypatch.setattr(amending, "compute", lambda _, parts=None: before if parts else after)
    monkeypatch.setattr(amending, "_new_findings", lambda *_: (False, ()))

    def killed(folder, number):
        package = open_package(folder)
        at_call(number, kill)()
        SEEN[0] = 0
        amend(package, partial(_plan, "rename", ("one-a", "one-red"), {}), TERMS)

    step, number, seen = 11, start, set()
    while True:
        folder = shutil.copytree(root, tmp_path / f"copy-{number}")
        ended = run(partial(killed, folder, number))
        assert ended in (0, KILLED)
        package = open_package(folder)
        assert not package.is_changing
        found = {name: text for name, text in state(folder).items() if not name.endswith(".new")}
        assert found in (old, new), number
        seen.add("old" if found == old else "new")
        shutil.rmtree(folder)
        if ended == 0:
            break
        number += step
    assert seen == {"old", "new"}


def test_the_commands(root):
    run_ = gapbook("correct", "one-a/main/0/7/1", "--value", "12.9", "--reason", "misread", "--who", "ida", "--package", root,
                   "--dry-run", "--json")  # fmt: skip
    assert run_.returncode == 0, run_.stderr
    document = json.loads(run_.stdout)
    assert list(document) == ["status", "dry_run", "rows", "corrections", "findings", "change", "notes", "package"]
    assert document["status"] == "would-change"
    assert list(document["corrections"][0]) == ["table", "row_key", "what", "column", "old", "new"]
    shown = gapbook("withdraw", "two", "--table", "frames", "--reason", "no such frame", "--who", "ida", "--package", root)
    assert shown.returncode == 1
    assert "Refused" in shown.stdout
    told = gapbook("history", "one", "--json", "--package", root)
    assert list(json.loads(told.stdout)) == ["id", "events", "package"]
    assert gapbook("rename", "one-z", "b", "--reason", "why", "--who", "ida", "--package", root).returncode == 2
