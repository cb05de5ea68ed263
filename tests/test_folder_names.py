"""A package is the same package whatever its folder is called: nothing reads wildcards, or columns, in a path."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from damaged import good
from gapbook.catalogue import open_catalogue
from gapbook.tables.derived import derive
from gapbook.tables.export import export
from gapbook.tables.opening import open_package

NAMES = (
    "plain", "basis=counted", "openness_centre=55.5", "specimen_id=x", "st*r", "**", "a?b", "[ab]", "a[!x]b", "{one,two}",
    "with blanks", "it's", 'say "so"', "100%", "a%20b", "a,b;c", "$HOME", "~", "-x", "ünï",
)  # fmt: skip
QUESTION = "16 mains, tighter than two"
SQL = "select s.*, f.maker from scores s join frames f using (frame_id) order by frame_id"


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = good().write(tmp_path_factory.mktemp("derived") / "package")
    derive(open_package(root))
    return root


@pytest.fixture(scope="module")
def plain(package: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[object, ...]:
    return seen(package, tmp_path_factory.mktemp("exported") / "out")


def seen(root: Path, scratch: Path) -> tuple[object, ...]:
    """What `ask`, `sql` and export say of a package, folders aside."""
    catalogue = open_catalogue(root)
    answer = catalogue.ask(QUESTION).model_dump(mode="json")
    export(open_package(root), scratch)
    exported = {path.stem: pq.read_table(path).to_pylist() for path in sorted((scratch / "data").iterdir())}
    return answer, catalogue.sql(SQL).to_pylist(), exported


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow_after(2)
def test_the_same_rows_are_seen(tmp_path: Path, package: Path, plain: tuple[object, ...], name: str):
    root = tmp_path / name / "package"
    shutil.copytree(package, root)
    for decoy in ("star", "axb", "a", "one"):  # what a wildcard would find as well
        if decoy != name:
            shutil.copytree(package, tmp_path / decoy / "package")
            scores = tmp_path / decoy / "package" / "catalogue" / "derived" / "scores.csv"
            scores.write_bytes(scores.read_bytes().replace(b"measured", b"counted"))
    assert seen(root, tmp_path / "again") == plain


@pytest.mark.parametrize("name", ["with blanks", "100%", "a,b"])
@pytest.mark.slow_after(1)
def test_so_are_they_in_a_folder_of_the_package(tmp_path: Path, package: Path, plain: tuple[object, ...], name: str):
    root = tmp_path / "package"
    shutil.copytree(package, root)
    (root / "catalogue").rename(root / name)
    descriptor = json.loads((root / "datapackage.json").read_text(encoding="utf-8"))
    for item in descriptor["resources"]:
        item["path"] = item["path"].replace("catalogue/", f"{name}/")
    (root / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    assert seen(root, tmp_path / "again") == plain
