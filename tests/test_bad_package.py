"""A package that cannot be opened, paths that leave it, and contributions that cannot be read with it."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from damaged import Folder, good, line_of
from gapbook.errors import GapbookError
from gapbook.tables.contribution import own_copy
from gapbook.tables.opening import open_package
from small import Small, marks


def refusal(act) -> list[tuple[str, str | None, int | None]]:
    """Code, file and line of every problem an act is refused for."""
    with pytest.raises(GapbookError) as stop:
        act()
    return [(p.code, p.place.file if p.place else None, p.place.line if p.place else None) for p in stop.value.problems]


def resource(folder: Folder, name: str, **changes: object) -> None:
    def change(descriptor: dict) -> None:
        next(item for item in descriptor["resources"] if item["name"] == name).update(changes)

    folder.descriptor(change)


def test_no_package(tmp_path):
    assert refusal(lambda: open_package(tmp_path)) == [("no-package", None, None)]
    assert refusal(lambda: open_package(tmp_path / "nowhere")) == [("no-package", None, None)]


def test_a_package_is_named_by_its_folder_its_descriptor_or_the_environment(tmp_path, monkeypatch):
    folder = good().write(tmp_path / "package")
    assert open_package(folder).root == open_package(folder / "datapackage.json").root == folder
    monkeypatch.setenv("GAPBOOK_PACKAGE", str(folder))
    assert open_package().root == folder
    monkeypatch.setenv("GAPBOOK_PACKAGE", str(tmp_path))
    assert refusal(open_package) == [("no-package", None, None)]


DESCRIPTORS = [
    (b"{\n\n  'resources': []}", "json", 3),
    (b'{"resources": [}', "json", 1),
    (b"", "json", 1),
    (b"[]", "json", 1),
    (b"[" * 100_000, "json", None),
    (b'{"name": "\xff"}', "encoding", None),
    (b"{}", "descriptor", None),
    (b'{"resources": {}}', "descriptor", None),
    (b'{"resources": [{"path": "x.csv"}]}', "descriptor", None),
    (b'{"resources": ["frames"]}', "descriptor", None),
    (b'{"resources": [{"name": "frames"}]}', "path", None),
    (b'{"resources": [{"name": "frames", "path": ["a.csv", "../b.csv"]}]}', "path", None),
]


@pytest.mark.parametrize(("content", "code", "line"), DESCRIPTORS, ids=lambda value: str(value)[:40])
def test_a_descriptor_that_cannot_be_used(tmp_path, content, code, line):
    (tmp_path / "datapackage.json").write_bytes(content)
    assert refusal(lambda: open_package(tmp_path)) == [(code, "datapackage.json", line)]


PATHS = [
    "../outside.csv",
    "catalogue/../../outside.csv",
    "catalogue/..",
    "/etc/passwd",
    "~/frames.csv",
    "http://example.org/frames.csv",
    "https://example.org/frames.csv",
    "HTTPS://example.org/frames.csv",
    "file:///etc/passwd",
    "ftp:frames.csv",
    "s3://bucket/frames.csv",
    "C:\\frames.csv",
    "..\\outside.csv",
    "\\\\server\\frames.csv",
    "catalogue/frames.csv\0.txt",
    "",
]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("key", ["path", "schema"])
def test_a_path_that_leaves_the_package(tmp_path, key, path):
    (tmp_path / "outside.csv").write_text("frame_id\n", encoding="utf-8")
    folder = Folder(tmp_path / "package")
    resource(folder, "frames", **{key: path})
    assert [problem.code for problem in folder.refused()] == ["path"]


@pytest.mark.parametrize("what", ["catalogue/frames.csv", "catalogue", "schema/spacings.json", "catalogue/derived"])
def test_a_link_is_not_followed(tmp_path, what):
    folder = Folder(tmp_path / "package")
    inside, outside = folder.path / what, tmp_path / "outside"
    inside.rename(outside)
    os.symlink(outside, inside)
    with pytest.raises(GapbookError) as stop:
        open_package(folder.path).schema("spacings")
    assert [problem.code for problem in stop.value.problems] == ["path"]
    assert what.split("/")[-1] in stop.value.problems[0].found or what == "catalogue"


def test_a_linked_descriptor_is_not_followed(tmp_path):
    folder = Folder(tmp_path / "package")
    (folder.path / "datapackage.json").rename(tmp_path / "elsewhere.json")
    os.symlink(tmp_path / "elsewhere.json", folder.path / "datapackage.json")
    assert refusal(lambda: open_package(folder.path)) == [("path", "datapackage.json", None)]


def bad_schema(**changes: object) -> str:
    return json.dumps({"fields": [{"name": "frame_id", "type": "string"}], "primaryKey": "frame_id"} | changes)


SCHEMAS = [
    ("{", "json", 1),
    (bad_schema(fields=None), "schema", None),
    (bad_schema(fields=[{"name": "frame_id", "type": "geopoint"}]), "schema", None),
    (bad_schema(fields=[{"type": "string"}]), "schema", None),
    (bad_schema(fields=[{"name": "frame_id", "type": "string", "constraints": {"pattern": "("}}]), "schema", None),
    (bad_schema(foreignKeys=[{"fields": ["a", "b"], "reference": {}}]), "schema", None),
]


@pytest.mark.parametrize(("content", "code", "line"), SCHEMAS, ids=range(len(SCHEMAS)))
def test_a_schema_that_cannot_be_used(tmp_path, content, code, line):
    folder = Folder(tmp_path / "package")
    (folder.path / "schema" / "frames.json").write_text(content, encoding="utf-8")
    assert [(p.code, p.place.file, p.place.line) for p in folder.refused()] == [(code, "schema/frames.json", line)]


def test_a_missing_schema_and_a_missing_table(tmp_path):
    folder = Folder(tmp_path / "package")
    (folder.path / "schema" / "readings.json").unlink()
    assert [(p.code, p.place.file) for p in folder.refused()] == [("unreadable", "schema/readings.json")]
    folder = Folder(tmp_path / "other")
    folder.descriptor(lambda content: content["resources"].pop(0))
    assert [problem.code for problem in folder.refused()] == ["no-table"]


# Contributions


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return open_package(good().write(tmp_path_factory.mktemp("catalogue") / "package"))


def offered() -> Small:
    """A copy of frame `one`, measured by its owner."""
    small = Small()
    for rows in small.tables.values():
        rows.clear()
    small.copy("mine", "one")
    small.run("mine", "main", [12.0] * 15)
    small.run("mine", "cross", [11.0] * 18)
    return small


def put(folder: Path, small: Small) -> Path:
    """Write only the tables that have rows, as a contribution folder has them."""
    whole = small.write(folder.with_name("whole"))
    folder.mkdir()
    for name, rows in small.tables.items():
        if rows:
            (whole / "catalogue" / f"{name}.csv").rename(folder / f"{name}.csv")
    return folder


def test_a_contribution_is_scored_with_the_catalogue(tmp_path, package):
    copy = own_copy(package, put(tmp_path / "mine", offered()))
    assert (copy.specimen_id, copy.frame_id, copy.mains, copy.crosses) == ("mine", "one", 16, 19)
    assert copy.scores["openness_centre"] == pytest.approx(10 * (12.0 * 11.0) ** 0.5, rel=6e-6)
    # Repeatability is pooled over catalogue and contribution: the catalogue's pairs of gaps agree to the hundredth, so
    # little is left but placement and calliper: well below the 0.2 mm that would count alone.
    alone = Small()
    alone.frame("one")
    alone.tables["specimens"], alone.tables["spacings"] = offered().tables["specimens"], offered().tables["spacings"]
    assert copy.scores["u_openness_centre"] < 0.97 * alone.bed()["u_openness_centre"]


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ({"value": "0"}, "gap-not-positive"),
        ({"value": "ten"}, "type"),
        ({"unit": "kg"}, "unit-dimension"),
        ({"instrument_id": "calx"}, "reference"),
        ({"specimen_id": "yours"}, "reference"),
        ({"no": "9"}, "repeated-key"),
    ],
)
@pytest.mark.parametrize("spelling", ["as is", "CRLF", "BOM", "blank line after the header", "blank line first"])
def test_a_fault_is_told_at_the_contributions_own_line(tmp_path, package, cells, code, spelling):
    small = offered()
    small.tables["spacings"][7].update(cells)  # line 9: gap 8
    path = put(tmp_path / "mine", small) / "spacings.csv"
    text, line = path.read_bytes(), line_of(small, "spacings", **cells)
    assert line == 9 or code == "repeated-key"
    if spelling == "CRLF":
        text = text.replace(b"\n", b"\r\n")
    elif spelling == "BOM":
        text = b"\xef\xbb\xbf" + text
    elif spelling == "blank line after the header":
        text, line = text.replace(b"\n", b"\n\n", 1), line + 1
    elif spelling == "blank line first":
        text, line = b"\n" + text, line + 1
    path.write_bytes(text)
    if code == "repeated-key":
        line += 1  # gap 9 of line 10 is the second of its key
    found = refusal(lambda: own_copy(package, path.parent))
    assert found[0] == (code, str(path), line)


def test_a_fault_of_the_catalogue_is_told_at_the_catalogues_line(tmp_path):
    folder = Folder(tmp_path / "package")
    folder.edit("spacings", 9, value="0")
    folder.drop("spacings", *(n for n, row in enumerate(good().tables["spacings"], 2) if row["repeat"] == "2"))
    found = refusal(lambda: own_copy(open_package(folder.path), put(tmp_path / "mine", offered())))
    assert found[0] == ("gap-not-positive", "catalogue/spacings.csv", 9)


def test_a_contribution_of_a_frame_nobody_knew(tmp_path, package):
    small = offered()
    small.frame("new", 18, 20, 610.0)
    small.tables["specimens"][0]["frame_id"] = "new"
    small.tables["spacings"].clear()
    small.run("mine", "main", marks([10.0] * 17), kind="mark")
    small.run("mine", "cross", marks([11.0] * 19), kind="mark")
    copy = own_copy(package, put(tmp_path / "mine", small))
    assert (copy.frame_id, copy.mains, copy.crosses, copy.head_area_cm2) == ("new", 18, 20, 610.0)


def test_contributions_that_do_not_measure_one_bed(tmp_path, package):
    def of(folder: Path):
        return lambda: own_copy(package, folder)

    (tmp_path / "empty").mkdir()
    assert refusal(of(tmp_path / "empty"))[0][0] == "empty-folder"
    assert refusal(of(tmp_path / "nowhere"))[0][0] == "no-folder"
    readings = Small()
    readings.reading("one-a", "head_width", 246)
    readings.tables = {"readings": readings.tables["readings"]} | {n: [] for n in readings.tables if n != "readings"}
    (tmp_path / "1").mkdir()
    assert refusal(of(put(tmp_path / "1" / "readings", readings)))[0][0] == "no-bed"
    two = offered()
    two.copy("mine-too", "one")
    two.run("mine-too", "main", [12.0] * 15)
    two.run("mine-too", "cross", [11.0] * 18)
    (tmp_path / "2").mkdir()
    assert refusal(of(put(tmp_path / "2" / "two", two)))[0][0] == "one-bed"


def test_a_contributions_links_are_not_followed(tmp_path, package):
    folder = put(tmp_path / "mine", offered())
    (folder / "spacings.csv").rename(tmp_path / "elsewhere.csv")
    os.symlink(tmp_path / "elsewhere.csv", folder / "spacings.csv")
    assert refusal(lambda: own_copy(package, folder)) == [("path", str(folder / "spacings.csv"), None)]
