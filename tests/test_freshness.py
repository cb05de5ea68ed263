"""Derived tables that do not follow from the catalogue any more: noticed by questions, by a check, and row by row."""

from __future__ import annotations

import datetime
import json
import os
import warnings

import pytest

from contributed import even_bed, package_in, sent
from gapbook.intake.admit import Terms, admit
from gapbook.intake.check import check_layers
from gapbook.intake.rules.freshness import RULE
from gapbook.tables import freshness
from gapbook.tables.drift import Drift, drift
from gapbook.tables.freshness import DIGESTS, SOURCES, Changed, StaleTables, changed
from gapbook.tables.opening import open_package
from gapbook.tables.package import DERIVED_TABLES
from gapbook.tables.store import Store
from running import gapbook

TODAY = datetime.date(2026, 12, 1)
ALL = ("beds", "scores", "mechanics")
"""What follows from the spacings."""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return package_in(tmp_path_factory.mktemp("made") / "package").root


@pytest.fixture
def root(made, tmp_path):
    import shutil

    return shutil.copytree(made, tmp_path / "package")


def edit(root, table, change, age=1.0):
    """Change a file's bytes; it is then `age` seconds younger than the digests."""
    path = open_package(root).path(table)
    before = path.read_bytes()
    after = change(before)
    assert (after != before) is (change is not untouched), "nothing was changed"
    path.write_bytes(after)
    then = os.stat(root / "catalogue" / "derived" / "digests.csv").st_mtime_ns + int(age * 1e9)
    os.utime(path, ns=(then, then))


def cut(text):
    return text[: text.rstrip(b"\n").rindex(b"\n") + 1]


def untouched(text):
    return text


def same_length(text):
    return text.replace(b"12.5,", b"12.6,", 1)


def test_every_derived_table_has_its_sources():
    assert set(SOURCES) == set(DERIVED_TABLES)


def test_what_was_derived_is_not_stale(root):
    assert changed(open_package(root)) == []
    assert drift(open_package(root)) == []


@pytest.mark.parametrize(
    ("table", "change", "age", "quick", "thorough"),
    [
        ("spacings", cut, 1, ALL, ALL),
        ("spacings", cut, -9, ALL, ALL),
        ("spacings", same_length, 1, ALL, ALL),
        ("spacings", same_length, -9, (), ALL),
        ("spacings", untouched, 1, (), ()),
        ("readings", cut, 1, DERIVED_TABLES, DERIVED_TABLES),
        ("contributors", lambda text: text.replace(b"Ida", b"Ada"), 1, (), ()),
        ("beds", lambda text: text.replace(b"one-a", b"one-b"), 1, ("beds",), ("beds",)),
    ],
)
def test_a_file_that_changed_is_noticed(root, table, change, age, quick, thorough):
    edit(root, table, change, age)
    for wanted, is_thorough in ((quick, False), (thorough, True)):
        found = changed(open_package(root), thorough=is_thorough)
        assert sorted(found) == sorted(Changed(one, table) for one in wanted)


def test_a_question_does_not_read_large_files(root, monkeypatch):
    monkeypatch.setattr(freshness, "LARGEST", 1000)
    edit(root, "spacings", same_length)
    assert changed(open_package(root), thorough=False) == []
    assert len(changed(open_package(root))) == 3


@pytest.mark.parametrize("text", [None, b"", b"table,source\n", b"table,source,bytes,sha256\nbeds,beds,x,y\n"])
def test_without_digests_nobody_can_tell(root, text):
    path = open_package(root).path(DIGESTS)
    path.unlink() if text is None else path.write_bytes(text)
    assert changed(open_package(root)) is None
    (finding,) = check_layers(open_package(root), None, today=TODAY, rules=(RULE,)).report.findings
    assert (finding.code, finding.file, finding.line) == ("stale", "catalogue/derived/beds.csv", None)
    assert [one.table for one in drift(open_package(root))][:1] == ["digests"]


def test_a_package_without_the_table_of_digests_still_opens(root):
    path = root / "datapackage.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    content["resources"] = [one for one in content["resources"] if one["name"] != DIGESTS]
    path.write_text(json.dumps(content), encoding="utf-8")
    edit(root, "spacings", same_length)
    assert changed(open_package(root)) == []
    assert gapbook("derive", "--package", root).returncode == 0
    assert gapbook("derive", "--check", "--package", root).returncode == 0


def test_nothing_derived_is_not_stale(root):
    for path in (root / "catalogue" / "derived").iterdir():
        path.unlink()
    assert changed(open_package(root)) == []
    assert {one.kind for one in drift(open_package(root))} == {"missing"}


def test_a_check_names_the_file_and_what_came_of_it(root):
    edit(root, "spacings", same_length, -9)
    (finding,) = check_layers(open_package(root), None, today=TODAY, rules=(RULE,)).report.findings
    assert (finding.code, str(finding.severity), finding.file) == ("stale", "error", "catalogue/spacings.csv")
    assert all(f"catalogue/derived/{name}.csv" in finding.found for name in ALL)


def test_a_contribution_is_not_blamed_for_it_and_mends_it(root, tmp_path):
    edit(root, "spacings", same_length)
    outcome = admit(open_package(root), sent(even_bed("three", "three-a"), tmp_path / "sent"), Terms(rules=(RULE,)))
    assert (outcome.status, outcome.report.findings) == ("admitted", ())
    assert changed(open_package(root)) == []


def test_deriving_one_part_leaves_the_digests_of_the_others(root):
    edit(root, "readings", cut)
    assert gapbook("derive", "--part", "handling", "--package", root).returncode == 0
    assert {pair.table for pair in changed(open_package(root))} == set(ALL)


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        (lambda text: text.replace(b"one-a", b"one-b"), [("one-b", "left-over", ()), ("one-a", "missing", ())]),
        (lambda text: b"".join(text.splitlines(keepends=True)[:2]), [("two-a", "missing", ())]),
        (lambda text: text.replace(b",125,", b",125.1,", 1), [("one-a", "differs", ("openness_centre",))]),
        (lambda text: text.replace(b",125,", b",125.001,", 1), []),
        (lambda text: text.replace(b"openness_centre,", b"open_centre,", 1), [("", "differs", ("openness_centre",))]),
    ],
)
def test_the_rows_that_differ_are_named(root, change, wanted):
    edit(root, "beds", change)
    assert drift(open_package(root), ["beds"]) == [Drift("beds", *one) for one in wanted]


def test_a_source_that_changes_no_figure_still_has_its_digest(root):
    edit(root, "specimens", lambda text: text.replace(b"two-a,two,1.25,", b"two-a,two,1.25,a note"))
    found = drift(open_package(root))
    assert {(one.table, one.row_key) for one in found} == {("digests", f"{name}/specimens") for name in DERIVED_TABLES}


def test_a_stranger_s_link_is_not_followed(root, tmp_path):
    (tmp_path / "secret").write_text("table,source,bytes,sha256\n", encoding="utf-8")
    path = root / "catalogue" / "derived" / "digests.csv"
    path.unlink()
    path.symlink_to(tmp_path / "secret")
    run = gapbook("ask", "98 sq in", "--package", root)
    assert run.returncode == 2
    assert "link" in run.stderr


def test_a_question_and_an_export_warn_on_stderr(root, tmp_path):
    clean = gapbook("find", "--json", "--package", root)
    assert (clean.returncode, clean.stderr) == (0, "")
    edit(root, "spacings", cut)
    for command in (("find", "--json"), ("sql", "select count(*) from scores"), ("export", "--out", tmp_path / "out")):
        run = gapbook(*command, "--package", root)
        assert run.returncode == 0
        assert "scores.csv is out of date: catalogue/spacings.csv changed since it was derived" in run.stderr
        assert "out of date" not in run.stdout


def test_from_python_it_is_a_warning(root):
    edit(root, "spacings", cut)
    with pytest.warns(StaleTables):
        Store(open_package(root)).load("scores")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        Store(open_package(root)).load("frames")


def test_derive_check_writes_nothing_and_says_what_differs(root):
    edit(root, "beds", lambda text: text.replace(b"one-a", b"one-b"))
    before = (root / "catalogue" / "derived" / "beds.csv").read_bytes()
    run = gapbook("derive", "--check", "--package", root)
    assert run.returncode == 1
    assert "one-b left-over" in run.stdout
    document = json.loads(gapbook("derive", "--check", "--json", "--package", root).stdout)
    assert list(document) == ["drift", "package"]
    assert document["drift"][0] == {"table": "beds", "row_key": "one-b", "kind": "left-over", "columns": []}
    assert (root / "catalogue" / "derived" / "beds.csv").read_bytes() == before
