"""Review and release: strict checks, annotations, Markdown of an admission, versions, changelog and citation."""

from __future__ import annotations

import datetime
import json
import shutil

import pytest
import yaml

from contributed import even_bed, package_in, sent
from gapbook.errors import GapbookError
from gapbook.intake.admit import Terms as Admitting
from gapbook.intake.admit import admit
from gapbook.intake.amending import Terms, amend
from gapbook.intake.amendments import correct, withdraw
from gapbook.intake.check import check
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.release import release
from gapbook.intake.rule import Report
from gapbook.intake.rules.identities import is_orcid
from gapbook.screens.annotations import annotated
from gapbook.tables.opening import open_package
from gapbook.tables.starting import Wishes, start
from running import gapbook
from small import Small

TODAY = datetime.date(2026, 12, 1)
WISHES = Wishes("Beds of the club", "CC0-1.0", "ida", "Ida Marsh")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A package that was begun and has two beds of one frame."""
    root = tmp_path_factory.mktemp("made") / "club"
    start(root, WISHES, datetime.date(2020, 1, 1))
    small = Small()
    for rows in small.tables.values():
        rows.clear()
    small.add("instruments", instrument_id="cal-ida", kind="calliper", resolution="0.01", max_error="0.05", unit="mm")
    small.frame("one")
    for copy in ("one-a", "one-b"):
        small.copy(copy, "one")
        small.run(copy, "main", [12.51] * 15, instrument_id="cal-ida")
        small.run(copy, "cross", [12.52] * 18, instrument_id="cal-ida")
    package = open_package(root)
    assert (
        admit(package, sent(small, root.parent / "first-beds"), Admitting(rules=(), today=TODAY, who="ida")).status
        == "admitted"
    )
    return root


@pytest.fixture
def root(made, tmp_path):
    return shutil.copytree(made, tmp_path / "club")


def made_release(root, version, out, **more):
    return release(open_package(root), version, out, today=TODAY, **more)


def test_a_release_states_its_version_everywhere(root, tmp_path):
    amend(open_package(root), lambda package: correct(package, "ida", "orcid", "0000-0002-1694-233X"),
          Terms("her own", "ida", today=TODAY))  # fmt: skip
    made = made_release(root, "1.0.0", tmp_path / "out")
    assert not made.is_refused, made.report.findings
    assert open_package(root).version == "1.0.0"
    assert json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))["version"] == "1.0.0"
    for folder in (root, tmp_path / "out"):
        stated = yaml.safe_load((folder / "CITATION.cff").read_text(encoding="utf-8"))
        assert (stated["version"], str(stated["date-released"])) == ("1.0.0", "2026-12-01")
        assert stated["authors"] == [{"name": "Ida Marsh", "orcid": "https://orcid.org/0000-0002-1694-233X"}]
    text = (root / "CHANGELOG.md").read_text(encoding="utf-8")
    assert text.startswith("# Changelog\n\n## 1.0.0 (2026-12-01)\n")
    for line in ("### Frames added\n\n- one\n", "- one-a\n- one-b\n", "first-beds", "her own (ida, 2026-12-01)"):
        assert line in text
    assert check(root, today=TODAY).report.errors == ()


@pytest.mark.slow
def test_the_changelog_tells_what_changed_since_the_version_before(root, tmp_path):
    made_release(root, "1.0.0", tmp_path / "out")
    for no in range(4, 13):
        amend(open_package(root), lambda package, no=no: correct(package, f"one-a/main/0/gap/{no}", "value", "13.5"),
              Terms("misread", "ida", today=TODAY, rules=()))  # fmt: skip
    amend(open_package(root), lambda package: withdraw(package, "one-b"), Terms("lost", "ida", today=TODAY, rules=()))
    changes = made_release(root, "1.1.0", tmp_path / "out").changes
    assert "### Beds changed by more than their standard uncertainty\n\n- one-a: openness in the centre 125.1" in changes
    assert "### Withdrawn\n\n- specimens one-b withdrawn: lost (ida, 2026-12-01)\n" in changes
    assert changes.count("corrected value: 12.51 → 13.5: misread") == 9
    assert "Frames added" not in changes
    assert "Contributions admitted" not in changes
    text = (root / "CHANGELOG.md").read_text(encoding="utf-8")
    assert text.index("## 1.1.0") < text.index("## 1.0.0")


def test_a_release_that_changes_nothing_says_so(root, tmp_path):
    made_release(root, "1.0.0", tmp_path / "first")
    made = made_release(root, "1.0.1", tmp_path / "second", since=tmp_path / "first")
    assert "Nothing that the logs or the beds show." in made.changes


def test_an_interrupted_release_can_be_made_again(root, tmp_path, monkeypatch):
    from gapbook.intake import release as module

    written = module._write

    def stops(path, text):
        if path.name == "datapackage.json":
            raise KeyboardInterrupt
        written(path, text)

    monkeypatch.setattr(module, "_write", stops)
    with pytest.raises(KeyboardInterrupt):
        made_release(root, "1.0.0", tmp_path / "out")
    monkeypatch.undo()
    assert open_package(root).version == "0.1.0"
    assert not made_release(root, "1.0.0", tmp_path / "out").is_refused
    assert (root / "CHANGELOG.md").read_text(encoding="utf-8").count("## 1.0.0") == 1


def everything(root):
    return {
        path.relative_to(root): path.read_bytes() for path in root.rglob("*") if path.is_file() and ".gapbook" not in path.parts
    }


@pytest.mark.parametrize("fault", ["stale", "error", "hand-made"])
def test_errors_and_stale_tables_stand_in_the_way(root, tmp_path, fault):
    path = open_package(root).path("beds" if fault == "hand-made" else "spacings")
    if fault == "error":
        path.write_bytes(path.read_bytes().replace(b",12.51,mm", b",12.51,furlong", 1))
    else:
        path.write_bytes(path.read_bytes().replace(b",12.51,", b",12.61,", 1))
    before = everything(root)
    made = made_release(root, "1.0.0", tmp_path / "out")
    assert made.is_refused
    assert {"stale": "stale", "error": "unit-unknown", "hand-made": "stale"}[fault] in {one.code for one in made.report.errors}
    assert everything(root) == before
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("version", ["1", "1.0", "v1.0.0", "0.1.0", "0.0.9", "0.1.0-rc.1", "01.0.0", ""])
def test_a_version_rises(root, tmp_path, version):
    with pytest.raises(GapbookError) as stop:
        made_release(root, version, tmp_path / "out")
    assert stop.value.problems[0].code == "version"


def test_a_changelog_that_is_a_link_is_not_followed(root, tmp_path):
    (tmp_path / "elsewhere.md").write_text("mine\n", encoding="utf-8")
    (root / "CHANGELOG.md").symlink_to(tmp_path / "elsewhere.md")
    with pytest.raises(GapbookError) as stop:
        made_release(root, "1.0.0", tmp_path / "out")
    assert stop.value.problems[0].code == "path"
    assert (tmp_path / "elsewhere.md").read_text(encoding="utf-8") == "mine\n"


# The examples of ORCID's documentation of its identifiers' structure, and the same with a digit changed or two exchanged
@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("0000-0002-1825-0097", True),
        ("0000-0002-1694-233X", True),
        ("0000-0001-5109-3700", True),
        ("0000-0002-1825-0098", False),
        ("0000-0002-1825-0079", False),
        ("0000-0002-1694-2330", False),
        ("0000-0001-5190-3700", False),
    ],
)
def test_the_check_digit_of_an_orcid(text, is_one):
    assert is_orcid(text) is is_one


def test_strict_fails_on_a_warning_that_nobody_accepted(tmp_path):
    small = even_bed("three", "three-a")
    small.tables["spacings"][7]["value"] = "14.5"
    root, folder = package_in(tmp_path / "package").root, sent(small, tmp_path / "sent")
    assert gapbook("check", folder, "--package", root).returncode == 0
    assert gapbook("check", folder, "--package", root, "--strict").returncode == 1


def test_annotations_name_file_and_line(tmp_path):
    root = package_in(tmp_path / "package").root
    path = root / "catalogue" / "frames.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",16,19,", ",sixteen,19,", 1), encoding="utf-8")
    run = gapbook("check", root, "--annotations")
    assert run.returncode == 1
    wanted = f"::error file={root.as_posix()}/catalogue/frames.csv,line=2,title=error type::mains: found 'sixteen'"
    assert any(line.startswith(wanted) for line in run.stdout.splitlines()), run.stdout


def test_an_annotation_stays_in_its_line():
    found = Finding(
        "frames", "maker", "Evil\n::error::mine 100%", "text", "Mend\r\nit", code="a",
        severity=Severity.warning, file="a,b:c.csv", line=3,
    )  # fmt: skip
    first, last = annotated(Report((found,), 1, ()), None).splitlines()
    assert first == (
        "::warning file=a%2Cb%3Ac.csv,line=3,title=warning a::"
        "maker: found Evil%0A::error::mine 100%25; expected text. Mend%0D%0Ait"
    )
    assert "1 warning" in last


def test_an_admission_as_markdown(root, tmp_path):
    small = even_bed("three", "three-a", instrument_id="cal-ida")
    small.tables["spacings"][7]["value"] = "14.5"
    small.tables["specimens"][0]["note"] = "a | b"
    folder = sent(small, tmp_path / "sent")
    run = gapbook("admit", folder, "--package", root, "--dry-run", "--markdown")
    assert run.returncode == 1
    for text in (
        "## Not admitted: ",
        "| specimens | 1 |",
        "### Openness changes in 1 bed",
        "| three-a | centre |",
        "`gap-out-of-line`",
    ):
        assert text in run.stdout, run.stdout
    assert "\x1b" not in run.stdout


def test_the_release_command(root, tmp_path):
    run = gapbook("release", "1.0.0", "--out", tmp_path / "out", "--package", root, "--json")
    assert run.returncode == 0, run.stderr + run.stdout
    document = json.loads(run.stdout)
    assert list(document) == ["version", "status", "errors", "drift", "rows", "changes", "package"]
    assert document["status"] == "released"
    assert gapbook("release", "1.0.0", "--out", tmp_path / "out", "--package", root).returncode == 2
