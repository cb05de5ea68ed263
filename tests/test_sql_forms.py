"""What `gapbook sql` gives in each of its forms, and how it is stopped: names, figures, dates and errors of a result."""

from __future__ import annotations

import csv
import io
import json
import threading

import pyarrow.parquet as pq
import pytest

from demo_rows import derived
from gapbook import GapbookError
from gapbook.screens import tables
from gapbook.tables import sql
from gapbook.tables.opening import open_package
from gapbook.tables.results import csv_pieces, write_parquet
from gapbook.tables.sql import Limits, Watch, query
from running import gapbook
from small import ROOT


def csv_text(result):
    return "".join(csv_pieces(result))


def json_rows(result):
    """The rows of the JSON document, which is written as Python's json writes it."""
    text = "".join(tables.json_pieces(result))
    document = json.loads(text)
    assert text == json.dumps(document, ensure_ascii=False, indent=2) + "\n"
    assert document["columns"] == result.column_names
    return document["rows"]


@pytest.fixture(scope="module")
def package():
    return open_package(ROOT)


class Deaf:
    """A connection whose query heeds an interrupt only when it has come `needed` times."""

    def __init__(self, needed):
        self.needed, self.heard = needed, threading.Event()

    def interrupt(self):
        self.needed -= 1
        if self.needed <= 0:
            self.heard.set()


def test_a_query_is_interrupted_until_it_heeds_it():
    deaf = Deaf(3)
    with Watch(deaf, Limits(0.001)) as watch:
        assert deaf.heard.wait(60)
    assert watch.passed.problems[0].code == "sql-time"


def test_the_program_is_ended_where_no_interrupt_helps(monkeypatch):
    monkeypatch.setattr(sql, "GRACE_S", 0.1)
    ended, told = threading.Event(), []
    with Watch(Deaf(10**9), Limits(0.001), lambda error: (told.append(error), ended.set())):
        assert ended.wait(60)
    assert [error.problems[0].code for error in told] == ["sql-time"]


def test_memory_the_process_takes_counts(monkeypatch):
    """By hand: 2 x 20 MB and 64 MB for the libraries are 104 MB."""
    left = [605.0, 603.0, 603.0, 500.0]
    monkeypatch.setattr(sql, "resident_mb", left.pop)
    deaf = Deaf(1)
    with Watch(deaf, Limits(60, 20)) as watch:
        assert deaf.heard.wait(60)
    assert watch.passed.problems[0].code == "sql-memory"
    assert left == []  # not at 103 MB more


def test_the_command_ends_a_step_that_takes_all_the_memory():
    run = gapbook("sql", "select list_sum(range(200000000))", "--memory", "50", "--seconds", "20")
    assert (run.returncode, run.stdout) == (2, "")
    assert run.stderr == "gapbook: the query takes too much memory; found more than 50 MB. Ask for less, or raise --memory\n"


REPEATED = [
    ("select 1 as a, 2 as a", {"a": 1, "a_2": 2}),
    ("select 1 as a, 2 as a, 3 as a_2, 4 as a", {"a": 1, "a_3": 2, "a_2": 3, "a_4": 4}),
]


@pytest.mark.parametrize(("statement", "row"), REPEATED)
def test_every_column_has_a_name_of_its_own(package, statement, row, tmp_path):
    result = query(package, statement)
    assert result.to_pylist() == json_rows(result) == [row]
    assert csv_text(result) == ",".join(row) + "\n" + ",".join(map(str, row.values())) + "\n"
    write_parquet(result, tmp_path / "rows.parquet")
    assert pq.read_table(tmp_path / "rows.parquet").to_pylist() == [row]
    run = gapbook("sql", statement)
    assert [line.split() for line in run.stdout.splitlines()] == [list(row), [str(value) for value in row.values()]]


FIGURES = ("1234567890", "18446744073709551615", "4294967295")
WIDE = "1234567890::uinteger a, 18446744073709551615::ubigint b, 4294967295::ubigint c, 'a-long-name-of-a-frame' as d"


@pytest.mark.parametrize("columns", [30, 50, 80])
@pytest.mark.parametrize("rows", [1, 9])
def test_no_figure_is_cut_on_a_narrow_screen(columns, rows):
    run = gapbook("sql", f"select {WIDE}, 116.341::double as e from range({rows})", COLUMNS=str(columns))
    assert max(map(len, run.stdout.splitlines())) <= max(columns, 40)  # no screen is taken for narrower than 40
    words = run.stdout.split()
    shown = [figure for figure in (*FIGURES, "a-long-name-of-a-frame", "116.341") if figure in words]
    assert [words.count(figure) for figure in shown] == [rows] * len(shown)
    if rows == 1:
        assert len(shown) == 5  # one below the other there is room for all
    elif len(shown) < 5:
        assert f"and {5 - len(shown)} more column" in run.stdout
        assert "(--csv or --json gives all)" in " ".join(words)
    assert all(word in shown for word in words if word.isdigit() and len(word) > 3)


@pytest.mark.parametrize("columns", [30, 50, 80])
def test_the_scores_are_whole_on_a_narrow_screen(columns):
    """A figure shown is one of the file, to six digits."""
    run = gapbook("sql", "select * from scores order by frame_id limit 3", COLUMNS=str(columns))
    first = derived("scores")[min(derived("scores"))]
    words = run.stdout.split()
    assert first["openness_centre"] in words
    assert first["frame_id"] in words


DATES = [
    ("date '20000-01-01'", "20000-01-01"),
    ("date '290308-12-22 (BC)'", "290308-12-22 (BC)"),
    ("timestamp '20000-01-01 10:00:00'", "20000-01-01 10:00:00"),
    ("date 'infinity'", "infinity"),
    ("interval '1 month 2 days 3 seconds'", "1 month 2 days 00:00:03"),
    ("date '2026-05-01'", "2026-05-01"),
]


@pytest.mark.parametrize(("cell", "text"), DATES)
def test_dates_and_intervals_are_text_in_every_form(package, cell, text):
    result = query(package, f"select {cell} as d")
    assert json_rows(result) == [{"d": text}]
    assert list(csv.reader(io.StringIO(csv_text(result)))) == [["d"], [text]]
    run = gapbook("sql", f"select {cell} as d")
    assert (run.returncode, run.stdout.splitlines()[1:]) == (0, [text])


@pytest.mark.parametrize("cell", ["[date '20000-01-01']", "{'a': timestamp 'infinity'}", "[interval '1 day']"])
@pytest.mark.parametrize("form", [json_rows, tables.result_screen, csv_text])
def test_a_list_of_what_cannot_be_shown_says_so(package, cell, form):
    with pytest.raises(GapbookError) as raised:
        form(query(package, f"select {cell} as d"))
    assert raised.value.problems[0].code == "sql-type"
    assert "CAST" in raised.value.problems[0].fix


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("select * from score", "found score. Nearest: scores"),
        ("select * from playtest_with_bed", "Nearest: playtests_with_beds"),
        ("select * from qqqqqq", "found qqqqqq. See gapbook sql --views"),
        ("show tables", "gapbook sql --views"),
        ("SHOW ALL TABLES", "gapbook sql --views"),
        ("describe", "gapbook sql --views"),
    ],
)
def test_names_offered_are_the_packages(package, statement, told):
    with pytest.raises(GapbookError) as raised:
        query(package, statement)
    assert told in str(raised.value)
    assert "Did you mean" not in str(raised.value)
    assert "pg_" not in str(raised.value)


def test_one_table_can_be_described(package):
    assert "openness_centre" in query(package, "describe scores")["column_name"].to_pylist()
