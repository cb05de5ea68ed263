"""Whole lines of a large file read on their own: the same as the whole file, or a refusal that costs a closer look."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from unittest import mock

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gapbook.tables import loose
from gapbook.tables.opening import open_package
from gapbook.tables.reading import all_finite, coded_by_run, extremes, narrow, read_rows, read_table

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = open_package(ROOT)
ROW = "fern-98-a,main,0,gap,3,ilsa-quarrow,calliper-ilsa,2025-05-13,1,14.42,mm\n"


def lines_of(table: str) -> bytes:
    return PACKAGE.path(table).read_bytes().partition(b"\n")[2]


def test_the_rows_of_the_demo_are_those_of_its_table():
    found = read_rows(lines_of("spacings"), PACKAGE.schema("spacings"))
    assert found is not None
    assert found.to_pylist() == read_table(PACKAGE, "spacings").to_pylist()
    assert [column.type for column in found.columns] == [column.type for column in read_table(PACKAGE, "spacings").columns]


def changed(**cells: str) -> bytes:
    names = PACKAGE.schema("spacings").names
    row = dict(zip(names, ROW.strip().split(","), strict=True)) | cells
    return (ROW * 2 + ",".join(row.values()) + "\n").encode()


REFUSED = {
    "quotation marks": changed(unit='"mm"'),
    "letters beyond ASCII": changed(contributor_id="ilsa-quårrow"),
    "bytes that are no text": changed(contributor_id="ilsa").replace(b"ilsa,", b"il\xff,", 1),
    "a blank text": changed(contributor_id=""),
    "a blank text that only may not be long": changed(unit=""),
    "a text with a capital": changed(contributor_id="Ilsa"),
    "a blank figure": changed(value=""),
    "an infinite figure": changed(value="inf"),
    "a figure out of bounds": changed(no="-1"),
    "a figure as machines write it": changed(no="0x3"),
    "a blank beside a figure": changed(value=" 14.42"),
    "a date that is none": changed(taken_on="2025-02-30"),
    "a word that is not in the list": changed(family="diagonal"),
    "a cell too many": changed(unit="mm,mm"),
}


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_rows_that_need_a_closer_look_are_refused(text):
    assert read_rows((ROW * 3).encode(), PACKAGE.schema("spacings")) is not None
    assert read_rows(text, PACKAGE.schema("spacings")) is None


def test_a_blank_for_text_is_refused_where_it_may_be_too():
    schema = PACKAGE.schema("specimens")
    filled, blank = b"fern-98-a,fern-98,1.20,given\n", b"fern-98-b,fern-98,1.20,\n"
    found = read_rows(filled, schema)
    assert found is not None
    assert found.to_pylist() == [{"specimen_id": "fern-98-a", "frame_id": "fern-98", "string_gauge_mm": 1.2, "note": "given"}]
    assert read_rows(filled + blank, schema) is None
    assert not schema.field("note").required


@pytest.mark.parametrize("limits", [(0, 60), (1, 255), (1, 256), (-1, 60), (-300, 10), (0, 70_000), (-1, 2**31)], ids=str)
def test_whole_numbers_are_read_as_wide_as_their_limits_ask(limits):
    field = replace(PACKAGE.schema("spacings").field("no"), minimum=limits[0], maximum=limits[1])
    assert pa.array(limits, narrow(field)).to_pylist() == list(limits)
    assert narrow(field) != pa.int64() or limits[1] >= 2**31
    assert narrow(replace(field, minimum=None)) == narrow(replace(field, maximum=None)) == pa.int64()


@pytest.mark.parametrize("chunks", [[[3, 1], [7]], [[7], [], [1, 2]], [[1, None], [7, 3]]], ids=str)
def test_the_extremes_are_those_of_all_chunks(chunks):
    assert extremes(pa.chunked_array(chunks, pa.int64())) == (1, 7)


FINITE = {
    "some": ([1.0, -2.5], True),
    "a sum that is not": ([1e308, 1e308], True),
    "infinite": ([1.0, float("inf")], False),
    "infinite both ways": ([float("inf"), float("-inf")], False),
    "not a number": ([float("nan"), 1.0], False),
}


@pytest.mark.parametrize(("figures", "finite"), FINITE.values(), ids=FINITE)
def test_figures_that_are_not_finite_are_seen(figures, finite):
    assert all_finite(pa.chunked_array([figures], pa.float64())) is finite


@given(st.lists(st.lists(st.sampled_from(["fern-98-a", "fern-98", "", "mm", "Ω"]), max_size=6), max_size=4))
def test_text_coded_by_run_is_the_text(chunks):
    column = pa.chunked_array([pa.array(chunk, pa.string()) for chunk in chunks], pa.string())
    found = coded_by_run(column)
    assert found.type == pa.dictionary(pa.int32(), pa.string())
    assert found.to_pylist() == column.to_pylist()
    distinct = [text for chunk in found.chunks for text in chunk.dictionary.to_pylist()]
    assert sorted(distinct) == sorted(set(column.to_pylist()))
    assert found.num_chunks <= 1 or not np.any([len(chunk) for chunk in found.chunks])


BESIDE_AN_END = re.compile(rb'(?:\A|[,\n"]) | (?:\Z|[,\n\r"])')


@given(st.text(alphabet=' ,\n\r"ab', min_size=1, max_size=20), st.integers(1, 22))
def test_a_blank_at_an_end_of_a_cell_is_seen_wherever_the_text_is_cut(text, part):
    with mock.patch.object(loose, "_PART", part):
        assert loose.holds_loose(text.encode()) is (BESIDE_AN_END.search(text.encode()) is not None)
