"""The view playtests_with_beds, and `gapbook sql` in its forms: values by hand from the files, limits, and the lock."""

from __future__ import annotations

import csv
import io
import json

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from demo_rows import TO_N, demo, derived
from gapbook import GapbookError, open_catalogue
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from gapbook.tables.sql import Limits, query
from gapbook.tables.views import views
from running import gapbook
from small import ROOT, Small

NAME = "playtests_with_beds"


@pytest.fixture(scope="module")
def package():
    return open_package(ROOT)


@pytest.fixture(scope="module")
def rows(package):
    return query(package, f"SELECT * FROM {NAME} ORDER BY playtest_id").to_pylist()


def test_one_row_a_playtest_with_what_is_known(rows):
    tests = sorted(demo("playtests"), key=lambda row: row["playtest_id"])
    assert [row["playtest_id"] for row in rows] == [row["playtest_id"] for row in tests]
    copies = {row["specimen_id"]: row for row in demo("specimens")}
    testers = {row["tester_id"]: row for row in demo("testers")}
    frames = {row["frame_id"]: row for row in demo("frames")}
    for row, test in zip(rows, tests, strict=True):
        copy = copies[test["specimen_id"]]
        bed, held = derived("beds").get(test["specimen_id"]), derived("handling").get(copy["frame_id"])
        factor = TO_N[test["tension_unit"]]
        assert row["main_tension_n"] == pytest.approx(float(test["main_tension"]) * factor, rel=1e-12)
        assert row["mean_tension_n"] == pytest.approx((row["main_tension_n"] + row["cross_tension_n"]) / 2, rel=1e-12)
        assert (row["frame_id"], row["style"]) == (copy["frame_id"], testers[test["tester_id"]]["style"])
        assert row["declared_head_area_cm2"] == float(frames[copy["frame_id"]]["head_area_cm2"])
        assert row["openness_centre"] == (None if bed is None else float(bed["openness_centre"]))
        assert row["mass_g"] == (float(held["mass_g"]) if held and held["mass_g"] else None)
        assert row["string_gauge_mm"] == float(test["string_gauge_mm"])
        assert row["bed_string_gauge_mm"] == (float(copy["string_gauge_mm"]) if copy["string_gauge_mm"] else None)


def test_stiffness_is_the_models_at_the_tension_of_the_playtest(rows):
    known = derived("mechanics")
    for row in rows:
        of_frame = known[row["frame_id"]]["stiffness_centre_n_per_mm"]
        # Linear in the tension, and stated at 245 N: by the definition of the table.
        assert row["stiffness_n_per_mm"] == pytest.approx(float(of_frame) * row["mean_tension_n"] / 245, rel=1e-12)
        assert 0 < row["u_stiffness_n_per_mm"] < row["stiffness_n_per_mm"]


def without(package, *tables):
    """The same package whose descriptor does not name these tables."""
    from dataclasses import replace

    kept = [item for item in package.descriptor["resources"] if item["name"] not in tables]
    return replace(package, descriptor={**package.descriptor, "resources": kept})


def test_without_mechanics_stiffness_is_blank(package, rows):
    found = query(without(package, "mechanics"), f"SELECT * FROM {NAME} ORDER BY playtest_id")
    assert found.schema.field("stiffness_n_per_mm").type == pa.float64()
    assert found["stiffness_n_per_mm"].null_count == len(rows)
    assert found["openness_centre"].to_pylist() == [row["openness_centre"] for row in rows]


@pytest.mark.parametrize("gone", [("beds", "mechanics"), ("handling", "testers"), ("frames",)])
def test_what_the_package_lacks_is_left_out(package, gone):
    bare = without(package, *gone)
    assert query(bare, f"SELECT * FROM {NAME}").num_rows == len(demo("playtests"))
    assert NAME in [view.name for view in views(bare)]


@pytest.mark.parametrize("gone", ["playtests", "specimens"])
def test_no_view_without_playtests(package, gone):
    assert NAME not in [view.name for view in views(without(package, gone))]


def test_every_column_is_documented(package):
    for view in views(package):
        found = query(package, f'SELECT * FROM "{view.name}" LIMIT 1')
        assert found.column_names == [column.name for column in view.columns], view.name
        assert all(column.description for column in view.columns), view.name
    units = {column.name: column.unit for column in views(package)[-1].columns}
    known = {"main_tension_n": "N", "launch_angle_deg": "deg", "spin_rpm": "{rev}/min", "mass_g": "g"}
    assert known.items() <= units.items()
    assert units["stiffness_n_per_mm"] == "N/mm"


def test_a_tension_in_no_unit_of_force_is_blank():
    small = Small()
    small.frame("one")
    small.copy("one-a", "one")
    small.run("one-a", "main", [12.5] * 15)
    small.run("one-a", "cross", [12.5] * 18)
    small.add("testers", tester_id="t", style="flat", own_frame="none")
    row = {"specimen_id": "one-a", "tester_id": "t", "played_on": "2026-05-01", "string_material": "natural"}
    for number, unit in enumerate(["kgf", "mm", "[lbf_av]"]):
        tension = {"main_tension": 25, "cross_tension": 24, "tension_unit": unit}
        small.add("playtests", playtest_id=f"p{number}", **row, **tension)

    def look(package):
        derive(package, ["beds", "handling"])
        return query(package, f"SELECT main_tension_n, mean_tension_n FROM {NAME} ORDER BY playtest_id").to_pylist()

    kilograms, nothing, pounds = small.inspect(look)
    # NIST SP 811, B.8: 1 kgf = 9.80665 N, 1 lbf = 4.4482216152605 N.
    assert kilograms == {"main_tension_n": pytest.approx(245.16625), "mean_tension_n": pytest.approx(240.262925)}
    assert nothing == {"main_tension_n": None, "mean_tension_n": None}
    assert pounds["main_tension_n"] == pytest.approx(111.2055403815)


def test_csv_is_what_a_csv_reader_reads():
    statement = "select 1 as a, 'x,\"y\"' as b, null as c, [1, 2] as d, {'k': 'v'} as e, true as f, date '2026-01-02' as g"
    run = gapbook("sql", statement + ", '' as h, sum(mains) as i, 1.5 as j from frames", "--csv")
    assert run.returncode == 0, run.stderr
    header, row = csv.reader(io.StringIO(run.stdout))
    assert header == list("abcdefghij")
    mains = str(sum(int(item["mains"]) for item in demo("frames")))
    assert row == ["1", 'x,"y"', "", "[1, 2]", '{"k": "v"}', "true", "2026-01-02", "", mains, "1.5"]


def test_parquet_reads_back_equal(tmp_path, package):
    out = tmp_path / "rows.parquet"
    statement = f"select * from {NAME} order by playtest_id"
    run = gapbook("sql", statement, "--parquet", str(out), "--json")
    assert json.loads(run.stdout) == {"written": [str(out)], "rows": len(demo("playtests"))}
    assert pq.read_table(out).equals(query(package, statement))
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


def test_json_numbers_are_numbers():
    run = gapbook("sql", "select sum(mains) as s, 1.5 as b, count(*) as n from frames", "--json")
    mains = sum(int(item["mains"]) for item in demo("frames"))
    assert json.loads(run.stdout)["rows"] == [{"s": mains, "b": 1.5, "n": len(demo("frames"))}]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--csv", "--json"), "one form"),
        (("--csv", "--parquet", "x.parquet"), "one form"),
        (("--parquet", "nowhere/x.parquet"), "nowhere/x.parquet cannot be written"),
        (("--seconds", "0"), "--seconds"),
        (("--seconds", "inf"), "--seconds"),
        (("--seconds", "1e10"), "--seconds"),
        (("--seconds", "nan"), "--seconds"),
        (("--memory", "inf"), "--memory"),
        (("--memory", "1e300"), "--memory"),
        (("--views", "--csv"), "--views goes with --json and --markdown only"),
        (("--views", "--parquet", "x.parquet"), "--views goes with --json and --markdown only"),
    ],
)
def test_forms_that_cannot_be(arguments, told):
    run = gapbook("sql", "select 1", *arguments)
    assert run.returncode == 2
    assert told in run.stderr
    assert run.stdout == ""


LONG = "select count(*) from range(100000000000) a, range(1000) b where (a.range * b.range) % 7 = 3"
LIMITED = [
    (LONG, Limits(0.3, 500), "sql-time"),
    ("with recursive t(x) as (select 1 union all select x + 1 from t) select max(x) from t", Limits(0.3, 500), "sql-time"),
    ("select * from range(100000000000)", Limits(60, 20), "sql-memory"),
    ("select list(range) from range(1000000000)", Limits(60, 50), "sql-memory"),
]


@pytest.mark.parametrize("limits", [Limits(float("nan")), Limits(float("inf")), Limits(0), Limits(1, 1e300), Limits(1, 0)])
def test_limits_nobody_can_mean(package, limits):
    with pytest.raises(GapbookError) as raised:
        query(package, "select 1", limits)
    assert raised.value.problems[0].code == "bad-limit"


@pytest.mark.parametrize(("statement", "limits", "code"), LIMITED)
def test_limits_hold(package, statement, limits, code):
    with pytest.raises(GapbookError) as raised:
        query(package, statement, limits)
    assert raised.value.problems[0].code == code


FORBIDDEN = [
    "select * from read_csv('datapackage.json')",
    "select * from read_blob('/etc/hostname')",
    "select * from 'catalogue/frames.csv'",
    "select * from 'https://example.org/x.parquet'",
    "select * from glob('*')",
    "select * from sniff_csv('catalogue/frames.csv')",
    "copy frames to 'out.csv'",
    "export database 'out'",
    "attach 'x.db' as x",
    "install httpfs",
    "load httpfs",
    "set memory_limit = '100GB'",
    "reset memory_limit",
    "pragma enable_profiling",
    "call pragma_version()",
    "select * from enable_logging()",
    "explain analyze select 1",
    "create view v as select 1",
    "insert into frames values (1)",
    "select 1; select 2",
    "select 1;; copy (select 1) to 'x'",
    "",
    "-- nothing",
]


@pytest.mark.parametrize("statement", FORBIDDEN)
def test_the_lock_holds(package, statement, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(GapbookError) as raised:
        query(package, statement)
    assert raised.value.problems[0].code in ("sql", "sql-not-select")
    assert list(tmp_path.iterdir()) == []


def test_python_objects_are_out_of_reach(package):
    secret = pa.table({"x": [1]})
    assert duckdb.sql("select x from secret").fetchall() == [(1,)]  # DuckDB itself would find it
    with pytest.raises(GapbookError, match="secret"):
        query(package, "select x from secret")
    assert secret.num_rows == 1


def test_tables_and_views_as_arrow_carry_their_units():
    catalogue = open_catalogue(ROOT)
    beds, joined = catalogue.table("beds"), catalogue.table(NAME)
    assert beds.schema.field("main_pitch_centre_mm").metadata[b"unit"] == b"mm"
    assert joined.schema.field("main_tension_n").metadata[b"unit"] == b"N"
    assert b"unit" not in joined.schema.field("tester_id").metadata
    assert [joined.schema.field(name).metadata[b"title"] for name in ("tester_id", "frame_id")] == [b"Tester", b"Frame"]
    assert catalogue.table("spacings_si").schema.field("unit").metadata[b"title"] == b"Unit"  # as schema/*.json have it
    assert joined.num_rows == len(demo("playtests"))
    with pytest.raises(GapbookError, match="playtests_with_beds"):
        catalogue.table("playtest_with_bed")
