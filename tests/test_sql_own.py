"""SQL with tables and values of one's own, from files and stdin; a data dictionary; a row a line."""

from __future__ import annotations

import json
import subprocess
import sys

import pandas
import polars
import pyarrow as pa
import pyarrow.parquet
import pytest

from gapbook import GapbookError, open_catalogue
from running import gapbook
from small import ROOT

LOG = "copy,who,mark\nfern-98-a,me,2\nbracken-98-club-a,me,-1\n"
JOINED = "select mark, round(openness_centre) as o from mine join beds on copy = specimen_id order by mark"


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    return path


def test_own_tables_are_joined_as_csv_and_parquet(log, tmp_path):
    pa.parquet.write_table(pa.table({"copy": ["bracken-98-club-a", "fern-98-a"], "mark": [-1, 2]}), tmp_path / "log.parquet")
    texts = [gapbook("sql", JOINED, "--with", f"mine={path}", "--csv").stdout for path in (log, tmp_path / "log.parquet")]
    assert texts[0] == texts[1]
    assert [line.split(",")[0] for line in texts[0].splitlines()] == ["mark", "-1", "2"]


@pytest.mark.parametrize("made", [pa.table, pandas.DataFrame, polars.DataFrame], ids=["arrow", "pandas", "polars"])
def test_own_tables_from_python(made):
    own = made({"copy": ["fern-98-a"], "mark": [2]})
    assert open_catalogue(ROOT).sql(JOINED, tables={"mine": own})["mark"].to_pylist() == [2]


def test_files_are_out_of_reach_though_one_was_read(log):
    run = gapbook("sql", f"select * from '{log}'", "--with", f"mine={log}")
    assert run.returncode == 2
    assert "file system operations are disabled" in run.stderr


def test_values_of_question_marks():
    text = "select count(*) as n from frames where mains = ? and model <> ?"
    run = gapbook("sql", text, "--value", "16", "--value", "x' or 1=1 --", "--csv")
    by_python = open_catalogue(ROOT).sql("select count(*) as n from frames where mains = 16")
    assert run.stdout == f"n\n{by_python['n'][0]}\n"
    assert open_catalogue(ROOT).sql(text, [16, "nobody"]) == by_python


def test_a_statement_from_a_file_and_from_stdin(tmp_path):
    path = tmp_path / "count.sql"
    path.write_text("-- frames\nselect count(*) as n from frames", encoding="utf-8")
    by_file = gapbook("sql", "--file", str(path), "--csv")
    command = [sys.executable, "-m", "gapbook", "sql", "-", "--csv", "--package", str(ROOT)]
    by_stdin = subprocess.run(command, input=path.read_bytes(), capture_output=True, cwd=ROOT / "derive", check=True)
    assert by_file.stdout.encode() == by_stdin.stdout
    assert by_file.stdout.startswith("n\n")


def test_a_row_a_line():
    run = gapbook("sql", "select frame_id, mains from frames order by 1 limit 2", "--ndjson")
    rows = [json.loads(line) for line in run.stdout.splitlines()]
    assert [list(row) for row in rows] == [["frame_id", "mains"]] * 2


def test_views_by_name_and_as_a_dictionary():
    one = gapbook("sql", "--views", "testers").stdout
    assert "tester_id" in one
    assert "openness_centre" not in one
    text = gapbook("sql", "--views", "--markdown").stdout
    views = json.loads(gapbook("sql", "--views", "--json").stdout)["views"]
    assert text.count("\n## ") == len(views)
    assert text.count("\n| ") == sum(len(view["columns"]) + 2 for view in views)
    assert "from -20 to 60 deg" in text or "a number from" in text


def test_a_pivot_with_its_values_and_one_without():
    pivot = "pivot playtests on string_material {} using count(*) group by tester_id order by tester_id"
    run = gapbook("sql", pivot.format("in ('polyester', 'natural')"), "--csv")
    assert run.stdout.startswith("tester_id,polyester,natural\n")
    refused = gapbook("sql", pivot.format(""))
    assert "A PIVOT names its values" in refused.stderr


def test_an_endless_query_ends_in_words():
    endless = "with recursive t(n) as (select 1 union all select n + 1 from t) select n from t"
    run = gapbook("sql", endless, "--seconds", "0.5")
    assert run.returncode == 2
    assert "the query takes too long" in run.stderr
    with pytest.raises(GapbookError) as raised:
        open_catalogue(ROOT).sql(endless, seconds=0.5)
    assert raised.value.problems[0].code == "sql-time"


def test_a_long_cell_is_cut_on_a_screen_and_whole_elsewhere():
    text = "select repeat('x', 100000) as c"
    shown = gapbook("sql", text).stdout
    assert len(shown) < 1000
    assert "(100,000 characters)" in " ".join(shown.split())
    assert len(gapbook("sql", text, "--csv").stdout) > 100000


WRONG = [
    (["select 1", "--with", "log.csv"], "NAME=FILE"),
    (["select 1", "--with", "a b=log.csv"], "NAME=FILE"),
    (["select 1", "--with", "frames=LOG"], "there already"),
    (["select 1", "--with", "mine=missing.csv"], "missing.csv"),
    (["select 1", "--with", "mine=log.txt"], "CSV or Parquet"),
    (["select ?"], "parameters"),
    (["select 1", "--file", "x.sql"], "two statements"),
    (["select 1", "--markdown"], "--views --markdown"),
    (["--views", "scor"], "Nearest: scores"),
    (["select 1", "--csv", "--ndjson"], "one form"),
    ([], "needs a statement"),
]


@pytest.mark.parametrize(("arguments", "told"), WRONG, ids=[" ".join(case[0]) for case in WRONG])
def test_what_is_refused(log, arguments, told):
    run = gapbook("sql", *[text.replace("LOG", str(log)) for text in arguments])
    assert run.returncode == 2
    assert told in " ".join(run.stderr.split())
    assert "Traceback" not in run.stderr
