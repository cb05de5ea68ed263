"""`export`: what is read back is what the package holds, it says its units, and no folder of somebody's is touched."""

from __future__ import annotations

import hashlib
import json
import os
import shutil

import duckdb
import pyarrow.parquet as pq
import pytest
import yaml

from gapbook import GapbookError
from gapbook.tables import export as exporting
from gapbook.tables.opening import open_package
from gapbook.tables.reader import read_table
from running import gapbook
from small import ROOT, even


@pytest.fixture(scope="module")
def exported(catalogue, tmp_path_factory):
    out = tmp_path_factory.mktemp("exports") / "of-the-demo"
    return out, catalogue.export(out)


def descriptor(folder):
    return json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))


def test_every_table_reads_back_equal(catalogue, exported):
    folder, rows = exported
    resources = descriptor(folder)["resources"]
    stated = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))["resources"]
    kept = [item["name"] for item in stated if item["name"] != "digests"]  # those are of the CSV files
    assert [item["name"] for item in resources] == [*kept, "spacings_si", "readings_si", "playtests_with_beds"]
    for item in resources:
        back = pq.read_table(folder / item["path"])
        if item["name"] in kept:
            assert back.equals(read_table(catalogue.package, item["name"])), item["name"]
        assert back.equals(catalogue.table(item["name"]), check_metadata=True), item["name"]
        assert rows[item["name"]] == back.num_rows


def test_values_are_those_of_the_csv(exported):
    """DuckDB reads both files, the CSV as text: what stands in the one stands in the other."""
    folder, _ = exported
    for item in descriptor(folder)["resources"][:-3]:  # the last three are views
        fields = item["schema"]["fields"]
        texts = ", ".join(f'"{field["name"]}"' for field in fields if field["type"] == "string")
        table = ROOT / "catalogue" / f"{item['name']}.csv"
        table = table if table.exists() else ROOT / "catalogue" / "derived" / table.name
        numbers = ", ".join(
            f'coalesce(sum("{field["name"]}"::DOUBLE), 0)' for field in fields if field["type"] in ("number", "integer")
        )
        for columns in filter(None, (texts, numbers)):
            csv_rows = duckdb.sql(
                f"select {columns} from read_csv('{table}', all_varchar = true, header = true, delim = ',')"
            ).fetchall()
            rows = duckdb.sql(f"select {columns} from '{folder / item['path']}'").fetchall()
            if columns is texts:
                assert [[cell or None for cell in row] for row in csv_rows] == [list(row) for row in rows], item["name"]
            else:
                assert list(rows[0]) == pytest.approx(list(csv_rows[0]), rel=1e-12, nan_ok=True), item["name"]


def test_fields_say_their_unit(exported):
    folder, _ = exported
    for item in descriptor(folder)["resources"]:
        schema = pq.read_schema(folder / item["path"])
        for field in item["schema"]["fields"]:
            words = schema.field(field["name"]).metadata
            assert words.get(b"unit", b"").decode() == field.get("unit", "")
            assert words[b"description"].decode() == field["description"]


def test_the_descriptor_holds_for_the_files(exported):
    folder, _ = exported
    for item in descriptor(folder)["resources"]:
        data = (folder / item["path"]).read_bytes()
        assert "bytes" not in item  # frictionless counts none of a Parquet file
        assert item["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
        # Data Package v2: the media type registered with IANA for Parquet.
        assert (item["format"], item["mediatype"]) == ("parquet", "application/vnd.apache.parquet")


def test_checksums_cover_every_file(exported):
    folder, _ = exported
    lines = (folder / "SHA256SUMS").read_text(encoding="utf-8").splitlines()
    stated = {line[66:]: line[:64] for line in lines}
    files = [path for path in folder.rglob("*") if path.is_file() and path.name != "SHA256SUMS"]
    assert stated == {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_the_citation_is_a_citation_file(exported):
    """Citation File Format 1.2.0, schema guide: the four keys required, a dataset, an entity as author, an SPDX licence."""
    folder, _ = exported
    found = yaml.safe_load((folder / "CITATION.cff").read_text(encoding="utf-8"))
    stated = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
    assert {"cff-version", "message", "title", "authors"} <= set(found)
    assert (found["cff-version"], found["type"], found["license"]) == ("1.2.0", "dataset", "CC-BY-4.0")
    assert found["title"] == stated["title"]
    assert found["version"] == stated["version"]
    assert found["authors"] == [{"name": item["title"]} for item in stated["contributors"]]
    assert found["date-released"].isoformat() == stated["created"][:10]
    assert found["keywords"] == stated["keywords"]


def test_the_same_again_is_the_same(catalogue, exported, tmp_path):
    catalogue.export(tmp_path / "again")
    sums = (exported[0] / "SHA256SUMS").read_bytes()
    assert (tmp_path / "again" / "SHA256SUMS").read_bytes() == sums


def small_package(tmp_path):
    from gapbook.tables.derived import derive

    package = open_package(even().write(tmp_path / "package"))
    derive(package)
    return package


def test_an_earlier_export_is_replaced_and_an_empty_folder_filled(tmp_path):
    package, out = small_package(tmp_path), tmp_path / "out"
    out.mkdir()
    exporting.export(package, out)
    (out / "data" / "frames.parquet").write_bytes(b"spoilt")
    exporting.export(package, out)
    assert pq.read_table(out / "data" / "frames.parquet").num_rows == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "package"]


def put_file(out):
    (out / "mine.txt").write_text("mine", encoding="utf-8")


def put_link(out):
    (out / "data" / "mine.parquet").symlink_to("/etc/hostname")


def unmark(out):
    (out / "datapackage.json").write_text("{}", encoding="utf-8")


def no_sums(out):
    (out / "SHA256SUMS").unlink()


def in_place_of(out):
    shutil.rmtree(out)
    out.write_text("a file", encoding="utf-8")


def link_to(out):
    os.rename(out, out.with_name("elsewhere"))
    out.symlink_to(out.with_name("elsewhere"))


@pytest.mark.parametrize("change", [put_file, put_link, unmark, no_sums, in_place_of, link_to], ids=lambda one: one.__name__)
@pytest.mark.slow_after(2)
def test_what_is_not_an_export_stays_as_it_is(tmp_path, change):
    package, out = small_package(tmp_path), tmp_path / "out"
    exporting.export(package, out)
    change(out)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(GapbookError) as raised:
        exporting.export(package, out)
    assert raised.value.problems[0].code in ("not-empty", "not-a-folder")
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_nothing_is_left_of_an_export_that_fails(tmp_path, monkeypatch):
    package, out = small_package(tmp_path), tmp_path / "out"
    exporting.export(package, out)
    sums = (out / "SHA256SUMS").read_bytes()
    frames = package.path("frames")
    frames.write_text(frames.read_text(encoding="utf-8").replace("620", "wide"), encoding="utf-8")
    with pytest.raises(GapbookError):
        exporting.export(package, out)
    assert (out / "SHA256SUMS").read_bytes() == sums
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "package"]


def test_an_earlier_export_comes_back_if_the_swap_fails(tmp_path, monkeypatch):
    package, out = small_package(tmp_path), tmp_path / "out"
    exporting.export(package, out)
    rename = os.rename

    def failing(source, target):
        if target == out and source.name != "earlier":
            raise OSError(28, "No space left on device")
        rename(source, target)

    monkeypatch.setattr(os, "rename", failing)
    with pytest.raises(GapbookError, match="No space left"):
        exporting.export(package, out)
    assert pq.read_table(out / "data" / "frames.parquet").num_rows == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "package"]


def test_underived_says_what_to_run(tmp_path):
    package = open_package(even().write(tmp_path / "package"))
    with pytest.raises(GapbookError, match="gapbook derive"):
        exporting.export(package, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_command(tmp_path):
    run = gapbook("export", "--out", str(tmp_path / "out"), "--json")
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    assert list(document) == ["out", "rows", "package"]
    assert document["rows"]["frames"] == pq.read_table(tmp_path / "out" / "data" / "frames.parquet").num_rows
    again = gapbook("export", "--out", str(ROOT))
    assert again.returncode == 2
    assert "not empty" in again.stderr


# The one-liners of the guides, each in its engine.


def test_pandas(exported):
    pandas = pytest.importorskip("pandas", reason="pandas is not installed")
    scores = pandas.read_parquet(exported[0] / "data" / "scores.parquet")
    assert len(scores.query("basis == 'measured' and openness_centre < 105")) == duck(exported, "openness_centre < 105")


def test_polars(exported):
    polars = pytest.importorskip("polars", reason="polars is not installed")
    scores = polars.read_parquet(exported[0] / "data" / "scores.parquet")
    found = scores.filter((polars.col("basis") == "measured") & (polars.col("openness_centre") < 105))
    assert len(found) == duck(exported, "openness_centre < 105")


def test_arrow_tables_go_into_pandas_polars_and_duckdb(catalogue):
    pandas = pytest.importorskip("pandas", reason="pandas is not installed")
    polars = pytest.importorskip("polars", reason="polars is not installed")
    scores = catalogue.table("scores")
    total = sum(scores["openness_centre"].to_pylist())
    assert scores.to_pandas()["openness_centre"].sum() == pytest.approx(total, rel=1e-12)
    assert isinstance(scores.to_pandas(), pandas.DataFrame)
    assert polars.from_arrow(scores)["openness_centre"].sum() == pytest.approx(total, rel=1e-12)
    assert duckdb.sql("select sum(openness_centre) from scores").fetchall()[0][0] == pytest.approx(total, rel=1e-12)


def duck(exported, condition):
    path = exported[0] / "data" / "scores.parquet"
    return duckdb.sql(f"select count(*) from '{path}' where basis = 'measured' and {condition}").fetchall()[0][0]


def test_r(exported):
    if shutil.which("Rscript") is None:
        pytest.skip("R is not installed")
    import subprocess

    line = (
        "if (!requireNamespace('arrow', quietly = TRUE)) quit(status = 77); s <- arrow::read_parquet('data/scores.parquet'); "
        "cat(nrow(subset(s, basis == 'measured' & openness_centre < 105)))"
    )
    run = subprocess.run(["Rscript", "-e", line], cwd=exported[0], capture_output=True, text=True)
    if run.returncode == 77:
        pytest.skip("R has no package arrow")
    assert run.stdout == str(duck(exported, "openness_centre < 105"))
