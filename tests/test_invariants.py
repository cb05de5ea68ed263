"""What must not change a score: the face, the unit, the kind of reading, where the rule begins, the order of the rows."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_rows import SHARED, shared_steps
from effort import examples
from gapbook.tables.derived import compute, derive
from gapbook.tables.freshness import DIGESTS
from gapbook.tables.opening import open_package
from generated import rack_of, written
from small import ROOT, Small

seeds = st.integers(0, 2**32 - 1)
ONCE = examples(25)
SIX = 1.1e-5
"""Two figures of six significant digits that should be one, relative."""

Row = dict[str, object]


def of_uncertainty(name: str) -> bool:
    """Whether a column tells of uncertainty: how large it is, its parts, what is assumed of it, what is shared of it."""
    return name == "shared" or name.startswith(("u_", "budget_", "assumed_"))


def assert_same(found: dict[str, Row], wanted: dict[str, Row], uncertainty: bool = True) -> None:
    """The same rows to the rounding of derived figures; without `uncertainty` what tells of it may differ."""
    assert list(found) == list(wanted)
    for key, row in wanted.items():
        for name, value in row.items():
            if not uncertainty and of_uncertainty(name):
                continue
            if name == "shared":
                assert_same_shared(found[key][name], value)
            elif isinstance(value, float):
                assert found[key][name] == pytest.approx(value, rel=SIX, abs=1e-9), (key, name)
            else:
                assert found[key][name] == value, (key, name)


def assert_same_shared(found: object, wanted: object) -> None:
    """The same causes with the same effects, to the rounding of their steps."""
    told, steps = (shared_steps(text and str(text)) for text in (found, wanted))
    assert told.keys() == steps.keys()
    for cause in steps:
        assert told[cause] == pytest.approx(steps[cause], abs=1), cause


def swapped(rows: dict[str, Row], one: str, other: str) -> dict[str, Row]:
    """The same rows with the columns of two zones exchanged, and the effects on these zones of what is shared."""
    turn = {one: other, other: one}

    def name_of(name: str) -> str:
        return "_".join(turn.get(word, word) for word in name.split("_"))

    def turned(name: str, value: object) -> object:
        return swapped_shared(str(value), turn) if name == "shared" and value else value

    return {key: {name: turned(name, row[name_of(name)]) for name in row} for key, row in rows.items()}


def swapped_shared(text: str, turn: dict[str, str]) -> str:
    """The text of the column `shared` with the effects on two zones exchanged."""
    places = [SHARED.index(turn.get(zone, zone)) for zone in SHARED]
    told = {cause: [steps[place] for place in places] for cause, steps in shared_steps(text).items()}
    return "; ".join(" ".join(map(str, [cause, *steps])) for cause, steps in told.items())


def test_generated_packages_are_read_in_every_way():
    runs = [run for seed in range(40) for run in rack_of(seed).runs]
    ways = {(run.kind, run.edges, run.repeat) for run in runs}
    assert ways == {(kind, edges, repeat) for kind in ("gap", "mark") for edges in (True, False) for repeat in (1, 2)}
    assert {run.station for run in runs} == {-80, 0, 80, 85}
    rows = written(rack_of(1)).derived()
    assert all(row["openness_centre"] for row in rows["scores"].values())
    assert sum(row["side_opening"] is not None for row in rows["beds"].values()) > len(rows["beds"]) / 2


@given(seeds)
@ONCE
@pytest.mark.slow
def test_the_other_face_swaps_left_and_right_and_nothing_else(seed):
    rack = rack_of(seed)
    other = rack._replace(runs=[run.turned if run.family == "main" else run for run in rack.runs])
    here, there = written(rack).derived(), written(other).derived()
    for table in ("beds", "scores"):
        assert_same(swapped(there[table], "left", "right"), here[table])
    row = next(iter(here["beds"].values()))
    assert row["main_pitch_left_mm"] != row["main_pitch_right_mm"]


@given(seeds)
@ONCE
def test_upside_down_swaps_tip_and_throat_and_nothing_else(seed):
    rack = rack_of(seed)
    runs = [run.turned if run.family == "cross" else run for run in rack.runs]
    other = rack._replace(runs=[type(run)(**{**run.__dict__, "station": -run.station}) for run in runs])
    here, there = written(rack).derived(), written(other).derived()
    for table in ("beds", "scores"):
        assert_same(swapped(there[table], "tip", "throat"), here[table])


@given(seeds)
@ONCE
def test_inches_or_millimetres(seed):
    rack = rack_of(seed)
    metric, imperial = written(rack).derived(), written(rack, unit="in").derived()
    for table in ("beds", "scores"):
        assert_same(imperial[table], metric[table])


@given(seeds)
@ONCE
def test_gaps_or_marks(seed):
    rack = rack_of(seed)
    gaps, marks = written(rack, kind="gap").derived()["beds"], written(rack, kind="mark").derived()["beds"]
    assert_same(marks, gaps, uncertainty=False)


@given(seeds, st.floats(0.0, 400.0))
@examples(10)
def test_where_the_rule_begins(seed, start):
    rack = rack_of(seed, 2)
    here, there = written(rack, kind="mark").derived(), written(rack, kind="mark", start=start).derived()
    for table in ("beds", "scores"):
        assert_same(there[table], here[table])


# The order of the rows


def files(package: Path) -> dict[str, bytes]:
    """What deriving the package at a folder writes, but the digests of the files it read: these tell one order from another."""
    names = derive(open_package(package)).keys() - {DIGESTS}
    folder = package / "catalogue" / "derived"
    return {name: (folder / f"{name}.csv").read_bytes() for name in sorted(names)}


def shuffle_file(path: Path, rng: random.Random) -> None:
    header, *rows = path.read_text(encoding="utf-8").splitlines(keepends=True)
    rng.shuffle(rows)
    path.write_text("".join([header, *rows]), encoding="utf-8")


@given(seeds)
@ONCE
@pytest.mark.slow
def test_the_order_of_the_rows_does_not_matter(tmp_path_factory, seed):
    rng = random.Random(seed)
    small = written(rack_of(seed))
    folder = tmp_path_factory.mktemp("order")
    ordered = files(small.write(folder / "ordered"))
    for rows in small.tables.values():
        rng.shuffle(rows)
    assert files(small.write(folder / "shuffled")) == ordered
    assert len(ordered["beds"].splitlines()) > 3


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_the_demos_rows_does_not_matter(tmp_path, seed):
    small = Small()
    folder = small.write(tmp_path / "demo")
    for path in (ROOT / "catalogue").glob("*.csv"):
        (folder / "catalogue" / path.name).write_bytes(path.read_bytes())
        shuffle_file(folder / "catalogue" / path.name, random.Random(seed))
    found = files(folder)
    assert list(found) == ["beds", "handling", "mechanics", "scores"]
    for name, content in found.items():
        kept = (ROOT / "catalogue" / "derived" / f"{name}.csv").read_bytes()
        assert content.splitlines() == kept.splitlines(), name


def test_a_bed_does_not_depend_on_its_neighbours():
    # Alone, but for what is pooled: repeatability, which without repeats is the default for everybody.
    rack = rack_of(5, 4)
    rack = rack._replace(runs=[run for run in rack.runs if run.repeat == 1])
    together = written(rack).derived()["beds"]
    for copy, frame in rack.copies:
        alone = rack._replace(
            frames=[one for one in rack.frames if one[0] == frame],
            copies=[(copy, frame)],
            runs=[run for run in rack.runs if run.copy == copy],
            heads=[head for head in rack.heads if head[0] == copy],
        )
        assert_same(written(alone).derived()["beds"], {copy: together[copy]})


def test_parts_derived_alone_are_those_derived_together():
    package = open_package(ROOT)
    whole = compute(package)
    assert compute(package, ["beds"])["scores"].equals(whole["scores"])
    assert compute(package, ["handling"])["handling"].equals(whole["handling"])
