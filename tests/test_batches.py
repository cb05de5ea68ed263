"""What batches of whole specimens give is what the whole gives; what cannot be used is set aside with its reason."""

from __future__ import annotations

import pickle

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pytest

from gapbook.tables import batches
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derived import PARTS, compute, tables_of
from gapbook.tables.opening import open_package
from gapbook.tables.reader import read_table
from small import ROOT


@pytest.fixture(scope="module")
def demo():
    package = open_package(ROOT)
    return package, read_catalogue(package), plain(read_table(package, "spacings"))


@pytest.fixture(scope="module")
def whole():
    return compute(open_package(ROOT))


def plain(data):
    """The table with plain text, as other programs hand it over."""
    return data.cast(pa.schema([(f.name, pa.string() if pa.types.is_dictionary(f.type) else f.type) for f in data.schema]))


def dealt(data, parts):
    """The rows dealt into batches of whole specimens, each in an order of its own."""
    names = sorted(set(data["specimen_id"].to_pylist()))
    groups = [pa.array(names[part::parts], pa.string()) for part in range(parts)]
    found = [data.filter(pc.is_in(data["specimen_id"], value_set=group)) for group in groups]
    return [batch.take(np.random.default_rng(part).permutation(batch.num_rows)) for part, batch in enumerate(found)]


def derived(package, catalogue, parts):
    """The derived tables and the rejects, from batches; the job is sent as it is to another process."""
    job = pickle.loads(pickle.dumps(batches.job_of(package, catalogue)))
    first = [batches.first_pass(job, batch) for batch in parts]
    known = batches.pooled_of(job, [one.sums for one in first])
    measured = list(batches.second_pass(job, known, (block for one in first for block in one.blocks), ("beds", "mechanics")))
    rejects = pa.concat_tables([one.rejects for one in first])
    return dict(tables_of(package, catalogue, PARTS, lambda part: measured)), rejects


@pytest.mark.parametrize("parts", [3, pytest.param(1, marks=pytest.mark.slow), pytest.param(200, marks=pytest.mark.slow)])
def test_batches_give_what_the_whole_gives(demo, whole, parts):
    """200 parts are more than there are specimens, so some are empty."""
    package, catalogue, data = demo
    found, rejects = derived(package, catalogue, dealt(data, parts))
    assert {name: table.equals(whole[name]) for name, table in found.items()} == dict.fromkeys(whole, True)
    assert rejects.num_rows == 0


def test_errors_of_one_batch_alone_are_others(demo):
    """Why there are two passes."""
    package, catalogue, data = demo
    job = batches.job_of(package, catalogue)
    first = [batches.first_pass(job, batch) for batch in dealt(data, 3)]
    alone, all_of_them = (batches.pooled_of(job, [one.sums for one in some]) for some in (first[:1], first))
    assert not np.allclose(alone.repeatability.deviation, all_of_them.repeatability.deviation, rtol=1e-3)
    assert not np.allclose(alone.people.deviation, all_of_them.people.deviation, rtol=1e-3)


def test_texts_are_read_as_figures_are(demo, whole):
    package, catalogue, data = demo
    texts = data.cast(pa.schema([(name, pa.string()) for name in data.column_names]))
    found, _ = derived(package, catalogue, [texts])
    assert found["beds"].equals(whole["beds"])


FAULTS = {
    "nan": ("value", float("nan"), "type"),
    "infinite": ("value", float("inf"), "type"),
    "negative": ("value", -3.0, ("limit", "gap-not-positive")),
    "blank": ("value", None, "required"),
    "unit": ("unit", "furlong", "unit-unknown"),
    "mass": ("unit", "g", "unit-dimension"),
    "person": ("contributor_id", "no-one", "reference"),
    "tool": ("instrument_id", "no-tool", "reference"),
    "family": ("family", "diagonal", "enum"),
    "station": ("station_mm", 5000.0, "limit"),
    "number": ("no", 99, ("limit", "surplus-numbers", "missing-numbers")),
    "repeat": ("repeat", None, "required"),
}


def spoilt(data, column, value, row):
    """The table with one cell changed."""
    cells = data[column].to_pylist()
    cells[row] = value
    place = data.column_names.index(column)
    return data.set_column(place, data.schema.field(column), pa.array(cells, data.schema.field(column).type))


@pytest.mark.parametrize("fault", FAULTS)
def test_one_bad_cell_sets_its_specimen_aside(demo, fault):
    package, catalogue, data = demo
    column, value, codes = FAULTS[fault]
    row = data["kind"].to_pylist().index("gap") + 3
    specimen = data["specimen_id"][row].as_py()
    some = sorted(set(data["specimen_id"].to_pylist()))[:4]
    data = data.filter(pc.is_in(data["specimen_id"], value_set=pa.array(sorted({specimen, *some}))))
    row = data["specimen_id"].to_pylist().index(specimen) + 3
    job = batches.job_of(package, catalogue)
    found = batches.first_pass(job, spoilt(data, column, value, row))
    rejects = found.rejects.to_pylist()
    assert {one["specimen_id"] for one in rejects} == {specimen}
    assert (
        {one["code"] for one in rejects} <= {codes} if isinstance(codes, str) else {one["code"] for one in rejects} <= {*codes}
    )
    assert all(one["reason"] and one["fix"] for one in rejects)
    left = batches.first_pass(job, data.filter(pc.not_equal(data["specimen_id"], specimen)))
    assert pickle.dumps(found.sums) == pickle.dumps(left.sums)
    assert sum(len(np.unique(block.of_run.specimen)) for block in found.blocks) == len({*some} - {specimen})


def test_a_reading_given_twice_and_an_unknown_specimen(demo):
    package, catalogue, data = demo
    job = batches.job_of(package, catalogue)
    first = data["specimen_id"][0].as_py()
    mine = data.filter(pc.equal(data["specimen_id"], first))
    stranger = spoilt(mine.slice(0, 1), "specimen_id", "no-such-copy", 0)
    found = batches.first_pass(job, pa.concat_tables([mine, mine.slice(2, 1), stranger]))
    assert [(one["specimen_id"], one["code"], one["rows"]) for one in found.rejects.to_pylist()] == [
        (first, "repeated-key", 1),
        ("no-such-copy", "reference", 1),
    ]
    assert not found.blocks


def test_rows_that_are_not_whole_are_set_aside(demo):
    package, catalogue, data = demo
    job = batches.job_of(package, catalogue)
    some = data.slice(0, 500)
    broken = np.zeros(500, dtype=bool)
    broken[7] = True
    found = batches.first_pass(job, some, broken)
    assert (data["specimen_id"][7].as_py(), "width") in {(one["specimen_id"], one["code"]) for one in found.rejects.to_pylist()}
