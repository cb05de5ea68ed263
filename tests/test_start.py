"""A package begun with `gapbook start`, and what a check says of descriptors."""

from __future__ import annotations

import datetime
import json

import pytest
import yaml

from gapbook.errors import GapbookError
from gapbook.intake.check import check, check_layers
from gapbook.intake.rules.descriptor import RULE
from gapbook.tables.derived import derive
from gapbook.tables.drift import drift
from gapbook.tables.opening import open_package
from gapbook.tables.package import RAW_TABLES, caution
from gapbook.tables.reader import read_table
from gapbook.tables.starting import Wishes, spdx, start
from running import gapbook

TODAY = datetime.date(2026, 5, 4)
WISHES = Wishes("Beds of the Lathe club", "CC0-1.0", "ada-moss", "Ada Moss")
OPTIONS = ("--title", "Beds", "--licence", "CC0-1.0", "--who", "ada-moss", "--name", "Ada Moss")


@pytest.fixture
def root(tmp_path):
    start(tmp_path / "club", WISHES, TODAY)
    return tmp_path / "club"


def test_it_is_a_package_that_a_check_and_a_derivation_pass(root):
    package = open_package(root)
    assert check(root, today=TODAY).report.findings == ()
    assert drift(package) == []
    assert {name: read_table(package, name).num_rows for name in RAW_TABLES if name in package.resources} == {
        name: int(name == "contributors") for name in RAW_TABLES if name in package.resources
    }
    before = {path: path.read_bytes() for path in root.rglob("*.csv")}
    derive(package)
    assert {path: path.read_bytes() for path in root.rglob("*.csv")} == before


def test_nothing_of_the_demo_is_in_it(root):
    texts = [path.read_text(encoding="utf-8") for path in root.rglob("*") if path.is_file()]
    assert not [text for text in texts if "invent" in text.lower() or "fern-98" in text or "tam-veldrick" in text]
    assert caution(open_package(root)) is None


def test_the_descriptor_says_what_was_asked_for(root):
    stated = json.loads((root / "datapackage.json").read_text(encoding="utf-8"))
    assert (stated["name"], stated["title"], stated["licenses"][0]["name"]) == ("club", WISHES.title, "CC0-1.0")
    assert (
        (root / "catalogue" / "contributors.csv")
        .read_text(encoding="utf-8")
        .splitlines()[1]
        .startswith("ada-moss,Ada Moss,2026-05-04")
    )


def test_frictionless_finds_nothing_to_mend(root):
    from frictionless import validate

    report = validate(str(root / "datapackage.json"))
    assert report.valid, report.flatten(["code", "message"])


def test_the_files_for_hooks_and_workflows_are_yaml_and_run_the_checks(root):
    hooks = yaml.safe_load((root / ".pre-commit-config.yaml").read_text(encoding="utf-8"))
    entries = [hook["entry"] for repo in hooks["repos"] for hook in repo["hooks"]]
    assert entries == ["gapbook check --strict .", "gapbook derive --check --package ."]
    steps = []
    for path in sorted((root / ".github" / "workflows").iterdir()):
        for job in yaml.safe_load(path.read_text(encoding="utf-8"))["jobs"].values():
            steps += [step["run"] for step in job["steps"] if "run" in step]
    text = "\n".join(steps)
    for command in ("gapbook check --strict --annotations .", "gapbook derive --check --package .", "--dry-run --markdown"):
        assert command in text
    assert "--who ada-moss" in text
    assert "@" not in text.replace("admission@users", "")


def test_a_folder_with_a_repository_just_made_will_do(tmp_path):
    (tmp_path / "club" / ".git").mkdir(parents=True)
    start(tmp_path / "club", WISHES, TODAY)
    assert check(tmp_path / "club", today=TODAY).report.findings == ()


def test_a_bed_can_be_read_into_it_at_once(root, tmp_path):
    run = gapbook("sheet", "16x19", "--contributor", "ada-moss", "--out", tmp_path / "sheet.svg", "--package", root)
    assert run.returncode == 0, run.stderr


@pytest.mark.parametrize(
    ("wishes", "code"),
    [
        ({"licence": "free for all"}, "licence"),
        ({"licence": "MIT AND CC0-1.0"}, "licence"),
        ({"licence": "LicenseRef-mine"}, "licence"),
        ({"licence": ""}, "licence"),
        ({"who": "Ada Moss"}, "bad-contributor"),
        ({"name": "=1+1"}, "bad-contributor"),
        ({"name": "two\nlines"}, "bad-contributor"),
        ({"title": "  "}, "bad-title"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(tmp_path, wishes, code):
    with pytest.raises(GapbookError) as stop:
        start(tmp_path / "club", Wishes(**{**vars(WISHES), **wishes}), TODAY)
    assert stop.value.problems[0].code == code
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("there", ["a file", "a link", "a package"])
def test_what_is_there_is_not_written_over(tmp_path, there):
    folder = tmp_path / "club"
    if there == "a file":
        folder.write_text("mine", encoding="utf-8")
    elif there == "a link":
        (tmp_path / "elsewhere").mkdir()
        folder.symlink_to(tmp_path / "elsewhere")
    else:
        start(folder, WISHES, TODAY)
    with pytest.raises(GapbookError) as stop:
        start(folder, WISHES, TODAY)
    assert stop.value.problems[0].code in ("not-a-folder", "not-empty")


@pytest.mark.parametrize(("text", "wanted"), [("cc-by-4.0", "CC-BY-4.0"), ("ODbL-1.0", "ODbL-1.0")])
def test_licences_are_those_of_the_spdx_list(text, wanted):
    assert spdx(text) == wanted


def test_the_command(tmp_path):
    run = gapbook("start", tmp_path / "club", *OPTIONS, "--json")
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    assert list(document) == ["root", "written", "name", "licence"]
    assert str(tmp_path / "club" / "datapackage.json") in document["written"]
    again = gapbook("start", tmp_path / "club", *OPTIONS)
    assert (again.returncode, again.stderr[:9]) == (2, "gapbook: ")
    bare = gapbook("start", tmp_path / "other")
    assert bare.returncode == 2
    assert "--name" in bare.stderr


@pytest.mark.parametrize(
    ("change", "column"),
    [
        ({"name": "Club Beds"}, "name"),
        ({"name": None}, "name"),
        ({"version": "one"}, "version"),
        ({"version": None}, "version"),
        ({"title": ""}, "title"),
        ({"licenses": None}, "licenses"),
        ({"licenses": []}, "licenses"),
        ({"licenses": [{"name": "mine"}]}, "licenses"),
        ({"licenses": [{"name": "mine", "path": "LICENCE.txt"}]}, None),
        ({"version": "1.2.3-rc.1"}, None),
    ],
)
def test_a_check_looks_at_the_descriptor(root, change, column):
    path = root / "datapackage.json"
    stated = json.loads(path.read_text(encoding="utf-8")) | change
    path.write_text(json.dumps({name: value for name, value in stated.items() if value is not None}), encoding="utf-8")
    found = check_layers(open_package(root), None, today=TODAY, rules=(RULE,)).report.findings
    assert [(one.code, one.file, one.column) for one in found] == (
        [("descriptor", "datapackage.json", column)] if column else []
    )


def test_a_resource_twice_is_a_finding(root):
    path = root / "datapackage.json"
    stated = json.loads(path.read_text(encoding="utf-8"))
    stated["resources"].append(stated["resources"][0])
    path.write_text(json.dumps(stated), encoding="utf-8")
    (found,) = check_layers(open_package(root), None, today=TODAY, rules=(RULE,)).report.findings
    assert found.found == "frames twice"
