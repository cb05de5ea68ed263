"""A package's schema is gapbook's own, adds fields, or allows less; good, one thing changed, refused or not."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from gapbook.errors import GapbookError
from gapbook.tables.opening import OtherPackage, open_package
from gapbook.tables.package import Package
from hostile import gapbook

ROOT = Path(__file__).resolve().parents[1]


def field(schema: dict, name: str) -> dict:
    return next(item for item in schema["fields"] if item["name"] == name)


def constraint(name: str, **limits: object) -> Callable[[dict], object]:
    return lambda schema: field(schema, name)["constraints"].update(limits)


def without(name: str, limit: str) -> Callable[[dict], object]:
    return lambda schema: field(schema, name)["constraints"].pop(limit)


REFUSED: dict[str, tuple[str, Callable[[dict], object]]] = {
    "a kind that gapbook does not know": ("instruments", constraint("kind", enum=["calliper", "laser"])),
    "no kinds": ("instruments", without("kind", "enum")),
    "counts from zero": ("frames", constraint("mains", minimum=0)),
    "no least count": ("frames", without("mains", "minimum")),
    "a count that may be blank": ("frames", without("mains", "required")),
    "another unit": ("frames", lambda schema: field(schema, "mass_g").update(unit="kg")),
    "another type": ("frames", lambda schema: field(schema, "mains").update(type="number")),
    "another pattern of ids": ("frames", constraint("frame_id", pattern=".*")),
    "longer names": ("frames", constraint("maker", maxLength=10**6)),
    "a field that is missing": ("frames", lambda schema: schema["fields"].pop()),
    "another key": ("frames", lambda schema: schema.update(primaryKey=["maker"])),
    "a key of an unknown field": ("frames", lambda schema: schema.update(primaryKey=["nothing"])),
    "no reference": ("specimens", lambda schema: schema.update(foreignKeys=[])),
    "a derived table with other words": ("scores", constraint("basis", enum=["measured", "counted", "guessed"])),
    "a field's name that does not print": ("frames", lambda s: s["fields"].append({"name": "a\x1b[2J", "type": "string"})),
    "a name twice": ("frames", lambda schema: schema["fields"].append(field(schema, "maker"))),
    "a description that is no text": ("frames", lambda schema: field(schema, "maker").update(description=["x"])),
    "a limit that is a text": ("frames", constraint("release_year", maximum="2100")),
    "an enum that is a text": ("instruments", constraint("kind", enum="rule")),
}
TAKEN: dict[str, tuple[str, Callable[[dict], object]]] = {
    "other words for people": ("frames", lambda schema: field(schema, "maker").update(title="Brand", description="Who")),
    "tighter limits": ("frames", constraint("mains", minimum=10, maximum=24)),
    "fewer kinds": ("instruments", constraint("kind", enum=["calliper", "rule", "scale"])),
    "what may not be blank": ("frames", constraint("release_year", required=True)),
}


def change(package: Package, table: str, act: Callable[[dict], object]) -> Package:
    path = package.root / "schema" / f"{table}.json"
    schema = json.loads(path.read_text(encoding="utf-8"))
    act(schema)
    path.write_text(json.dumps(schema), encoding="utf-8")
    return open_package(package.root)


@pytest.mark.parametrize(("table", "act"), REFUSED.values(), ids=REFUSED)
def test_a_schema_that_allows_more_is_refused(spoilt, table, act):
    with pytest.raises(GapbookError) as stop:
        change(spoilt, table, act).schema(table)
    (problem,) = stop.value.problems
    assert (problem.code, problem.place.file) == ("schema", f"schema/{table}.json")


@pytest.mark.parametrize(("table", "act"), TAKEN.values(), ids=TAKEN)
def test_a_schema_that_allows_less_is_taken(spoilt, table, act):
    assert change(spoilt, table, act).schema(table).names


def test_a_field_that_is_added_is_read_and_exported(spoilt):
    package = change(spoilt, "testers", lambda schema: schema["fields"].append({"name": "shoe size", "type": "number"}))
    path = package.path("testers")
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([f"{lines[0]},shoe size", *(f"{line},42.5" for line in lines[1:])]) + "\n", encoding="utf-8")
    run = gapbook("sql", 'select "shoe size" from testers', "--csv", "--package", package.root)
    assert (run.status, run.out.split()[-1]) == (0, "42.5")


# what datapackage.json holds; a word of the refusal
JSON = [
    ('{"resources": [], "x": NaN}', "finite"),
    ('{"resources": [], "x": -Infinity}', "finite"),
    ('{"resources": [], "x": 1e999}', "finite"),
    ('{"resources": [], "x": ' + "9" * 5000 + "}", "JSON"),
    ('{"resources": [], "x": "\\ud800"}', "surrogate"),
]


@pytest.mark.parametrize(("text", "word"), JSON, ids=range(len(JSON)))
def test_json_that_cannot_be_handed_on_is_refused(tmp_path, text, word):
    (tmp_path / "datapackage.json").write_text(text, encoding="utf-8")
    with pytest.raises(GapbookError) as stop:
        open_package(tmp_path)
    assert word in str(stop.value)


def test_a_package_that_is_not_used_is_told_of(spoilt, monkeypatch):
    monkeypatch.chdir(spoilt.root / "catalogue")
    monkeypatch.delenv("GAPBOOK_PACKAGE", raising=False)
    with pytest.warns(OtherPackage) as told:
        assert open_package().root == ROOT
    assert str(spoilt.root) in str(told[0].message)
    monkeypatch.chdir(ROOT / "tests")
    assert open_package().root == ROOT
    (spoilt.root / "datapackage.json").write_text('{"resources": [{"name": ["frames"]}]}', encoding="utf-8")
    monkeypatch.chdir(spoilt.root)
    assert open_package().root == ROOT


@pytest.mark.parametrize("kind", ["settings", "pipe"])
@pytest.mark.slow
def test_settings_for_matplotlib_in_the_current_folder_are_not_read(tmp_path, spoilt, kind):
    drawn = []
    for name in ("plain", "planted"):
        (tmp_path / name).mkdir()
        if name == "planted" and kind == "settings":
            (tmp_path / name / "matplotlibrc").write_text("path.sketch: 3, 100, 2\ntext.usetex: True\nno\x1b[2Jsense\n")
        elif name == "planted":
            os.mkfifo(tmp_path / name / "matplotlibrc")
        run = subprocess.run(
            [sys.executable, "-m", "gapbook", "draw", "one", "--out", "bed.svg", "--package", str(spoilt.root)],
            cwd=tmp_path / name,
            env={**os.environ, "PYTHONPATH": str(ROOT / "derive")},
            capture_output=True,
            timeout=120,
        )
        assert (run.returncode, run.stderr) == (0, b"")
        drawn.append((tmp_path / name / "bed.svg").read_bytes())
    assert drawn[0] == drawn[1]
