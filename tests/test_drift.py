"""What is kept in catalogue/derived is what follows from the catalogue, and figures are written at six significant digits."""

from __future__ import annotations

import csv
import json
import math
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gapbook.intake.rules import RULES
from gapbook.screens.findings import rules_markdown
from gapbook.tables.derived import PARTS, derive
from gapbook.tables.opening import open_package
from gapbook.tables.writing import rounded
from small import ROOT, Small

DERIVED = ROOT / "catalogue" / "derived"


@pytest.fixture(scope="module")
def derived_anew(tmp_path_factory):
    """The demo's raw tables in a folder of their own, derived."""
    folder = Small().write(tmp_path_factory.mktemp("drift") / "demo")
    for path in (ROOT / "catalogue").glob("*.csv"):
        (folder / "catalogue" / path.name).write_bytes(path.read_bytes())
    return folder, derive(open_package(folder))


def test_the_kept_tables_are_what_the_catalogue_gives(derived_anew):
    folder, rows = derived_anew
    for name, count in rows.items():
        kept, anew = DERIVED / f"{name}.csv", folder / "catalogue" / "derived" / f"{name}.csv"
        assert kept.read_bytes() == anew.read_bytes(), (
            f"catalogue/derived/{name}.csv is not what the catalogue gives: run `gapbook derive` and commit the outcome"
        )
        assert len(kept.read_text(encoding="utf-8").splitlines()) == count + 1


def test_every_derived_table_is_derived(derived_anew):
    described = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))["resources"]
    names = {item["name"] for item in described if item["path"].startswith("catalogue/derived/")}
    assert set(derived_anew[1]) == names
    assert {path.stem for path in DERIVED.glob("*.csv")} == names
    assert set(PARTS) <= names


@pytest.mark.parametrize("part", PARTS)
def test_deriving_one_part_leaves_the_others_alone(tmp_path, part):
    folder = Small().write(tmp_path / "package")
    others = [path for path in folder.glob("schema/*.json") if path.stem in ("beds", "scores", "handling", "mechanics")]
    for path in others:
        (folder / "catalogue" / "derived" / f"{path.stem}.csv").write_text("kept as it is\n", encoding="utf-8")
    rows = derive(open_package(folder), [part])
    for path in (folder / "catalogue" / "derived").glob("*.csv"):
        assert (path.read_text(encoding="utf-8") == "kept as it is\n") == (path.stem not in rows), path.stem


def test_the_kept_tables_have_their_headers_and_six_digits():
    for path in DERIVED.glob("*.csv"):
        schema = json.loads((ROOT / "schema" / f"{path.stem}.json").read_text(encoding="utf-8"))["fields"]
        numbers = {field["name"] for field in schema if field["type"] == "number"}
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert list(rows[0]) == [field["name"] for field in schema]
        for row in rows:
            for name in numbers & {key for key, text in row.items() if text}:
                digits = Decimal(row[name]).normalize().as_tuple().digits
                assert len(digits) <= 6, (path.stem, name, row[name])


@given(st.floats(-1e9, 1e9).filter(lambda value: abs(value) > 1e-9 or value == 0.0))
def test_figures_have_six_significant_digits(value):
    # The decimal module's rounding of the double's exact value is the judge; a tie within a few parts in 10¹⁵ may fall
    # to either side.
    (found,) = rounded(np.array([value])).to_pylist()
    exact = Decimal(value)
    if value == 0.0:
        assert found == 0.0
        return
    place = Decimal(1).scaleb(exact.adjusted() - 5)
    wanted = float(exact.quantize(place, rounding=ROUND_HALF_EVEN))
    tie = abs(abs(exact % place) - place / 2) < abs(exact) * Decimal("4e-15")
    assert found == wanted or (tie and found == pytest.approx(wanted, rel=1.1e-5))
    assert len(Decimal(repr(found)).normalize().as_tuple().digits) <= 6


@pytest.mark.parametrize(
    ("value", "text"),
    [(123456.7, "123457.0"), (0.00123456789, "0.00123457"), (99999.96, "100000.0"), (12.5, "12.5"), (-0.0, "0.0")],
)
def test_figures_by_hand(value, text):
    assert repr(rounded(np.array([value])).to_pylist()[0]) == text


FIGURES = st.one_of(
    st.sampled_from([0.0, 0.1, 1.0, 9.999995, 10.0, 99999.95, 1e6, math.nan]), st.floats(-1e9, 1e9), st.floats(0.5, 500)
)


@given(st.lists(FIGURES, max_size=8), st.integers(-20, 20))
def test_a_column_is_rounded_as_each_figure_alone(values, power):
    column = np.array(values) * 10.0**power
    alone = [rounded(column[place : place + 1]).to_pylist()[0] for place in range(len(column))]
    assert rounded(column).to_pylist() == alone


def test_what_is_not_known_is_blank():
    assert rounded(np.array([math.nan, 1.0, math.inf])).to_pylist() == [None, 1.0, None]


def test_nothing_measured_gives_empty_beds_and_counted_scores(tmp_path):
    small = Small()
    small.frame("one")
    folder = small.write(tmp_path / "package")
    rows = derive(open_package(folder))
    assert (rows["beds"], rows["scores"], rows["handling"]) == (0, 1, 0)
    lines = (folder / "catalogue" / "derived" / "beds.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1
    row = small.derived()["scores"]["one"]
    # 620 cm², 304 crossings, by the line learned of the demo: exp(4.6173 - 0.5429·ln 304)·√620 = 113.11, and that to 1 %.
    assert row["basis"] == "counted"
    assert row["openness_centre"] == pytest.approx(113.11, rel=0.011)
    assert row["u_openness_centre"] / row["openness_centre"] == pytest.approx(0.06, rel=2e-5)


def test_the_documented_rules_are_the_rules():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    kept = text.split("<!-- rules -->\n")[1].split("<!-- /rules -->")[0]
    assert kept == rules_markdown(RULES), "paste `gapbook check --rules --markdown` between the marks in DEVELOPERS.md"
