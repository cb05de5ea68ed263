"""An older package gets the tables and fields that came later, all or none, and nothing else of it changes."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from contributed import package_in, state
from gapbook.errors import GapbookError
from gapbook.intake.check import check
from gapbook.tables.derived import derive
from gapbook.tables.files import Folder
from gapbook.tables.opening import open_package
from gapbook.tables.upgrading import Added, upgrade
from running import gapbook

LATER = ("corrections", "admissions", "digests")


def made_older(root: Path, inline: bool = False) -> Path:
    """Take out of a package what came later; schemas stand in files of its own, or in the descriptor."""
    path = root / "datapackage.json"
    stated = json.loads(path.read_text(encoding="utf-8"))
    (root / "schema").mkdir(exist_ok=True)
    kept = []
    for item in stated["resources"]:
        if item["name"] in LATER:
            (root / item["path"]).unlink(missing_ok=True)
            continue
        schema = item["schema"]
        if isinstance(schema, str):
            schema = json.loads((root / schema).read_text(encoding="utf-8"))
        if item["name"] == "contributors":
            schema["fields"] = [one for one in schema["fields"] if one["name"] != "orcid"]
            schema["fields"][1]["title"] = "What the club calls them"
        item["schema"] = schema if inline else f"schema/{item['name']}.json"
        if not inline:
            (root / item["schema"]).write_text(json.dumps(schema), encoding="utf-8")
        kept.append(item)
    if inline:
        shutil.rmtree(root / "schema")
    else:
        for table in LATER:
            (root / "schema" / f"{table}.json").unlink(missing_ok=True)
    path.write_text(json.dumps({**stated, "resources": kept}), encoding="utf-8")
    people = root / "catalogue" / "contributors.csv"
    rows = list(csv.DictReader(io.StringIO(people.read_text(encoding="utf-8"))))
    rest = "\r\n".join(f'{row["contributor_id"]},"{row["name"]}",{row["since"]}' for row in rows)
    people.write_bytes(f"\ufeffcontributor_id,name,since\r\n{rest}".encode())
    return root


@pytest.fixture(params=[False, True], ids=["schemas in files", "schemas in the descriptor"])
def root(tmp_path, request):
    return made_older(package_in(tmp_path / "package").root, request.param)


EVERYTHING = [Added("contributors", "orcid"), Added("corrections", ""), Added("admissions", ""), Added("digests", "")]


def test_what_came_later_is_added_and_nothing_else_changes(root):
    before = state(root)
    assert upgrade(open_package(root)) == EVERYTHING
    package = open_package(root)
    after = state(root)
    assert (
        package.read("contributors")
        == b'\xef\xbb\xbfcontributor_id,name,since,orcid\r\nida,"Ida",2020-01-01,\r\nole,"Ole",2020-01-01,'
    )
    assert package.schema("contributors").field("name").title == "What the club calls them"
    changed = {name for name in before if before[name] != after[name]} - {"schema/contributors.json"}
    assert changed == {"datapackage.json", "catalogue/contributors.csv"}
    derive(package)
    assert check(root).report.counts["error"] == 0
    assert upgrade(open_package(root)) == []


def test_a_dry_run_writes_nothing(root):
    before = state(root)
    assert upgrade(open_package(root), dry_run=True) == EVERYTHING
    assert state(root) == before


class Killed(BaseException):
    """The process ends here."""


@pytest.mark.slow_after(1)
def test_killed_at_any_rename_the_package_is_old_or_new(root, tmp_path, monkeypatch):
    old = state(root)
    whole = shutil.copytree(root, tmp_path / "whole")
    upgrade(open_package(whole))
    new, replace, seen = state(whole), Folder.replace, set()
    for number in range(1, 30):
        folder = shutil.copytree(root, tmp_path / f"copy-{number}")
        calls = 0

        def killing(self: Folder, before: str, after: str, number: int = number) -> None:
            nonlocal calls
            calls += 1
            if calls == number:
                raise Killed
            replace(self, before, after)

        monkeypatch.setattr(Folder, "replace", killing)
        try:
            upgrade(open_package(folder))
        except Killed:
            ended = False
        else:
            ended = True
        monkeypatch.setattr(Folder, "replace", replace)
        open_package(folder)
        found = {name: text for name, text in state(folder).items() if not name.endswith(".new")}
        assert found in (old, new), number
        seen.add("old" if found == old else "new")
        if ended:
            break
    assert ended
    assert seen == {"old", "new"}


def test_a_file_in_the_way_and_a_column_that_must_be_filled_are_told(root):
    (root / "catalogue" / "corrections.csv").write_text("mine\n", encoding="utf-8")
    with pytest.raises(GapbookError) as stop:
        upgrade(open_package(root))
    assert stop.value.problems[0].code == "in-the-way"


def test_the_command(root):
    told = gapbook("upgrade", "--dry-run", "--package", root)
    assert told.returncode == 0, told.stderr
    assert "Would add contributors.orcid\nWould add table corrections\n" in told.stdout
    done = json.loads(gapbook("upgrade", "--json", "--package", root).stdout)
    assert (done["status"], len(done["added"])) == ("upgraded", 4)
    assert gapbook("upgrade", "--package", root).stdout.startswith("Nothing to add")
