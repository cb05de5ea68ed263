"""mechanics.csv, the map of a copy, what `show` says of them, and packages that have no such table."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest

from bench import plain_net
from demo_rows import demo, derived
from gapbook import open_catalogue
from gapbook.errors import GapbookError
from gapbook.science.mechanics import STRING_KG_MM
from gapbook.tables.copies import copy_map
from gapbook.tables.derived import compute, derive
from gapbook.tables.opening import open_package
from nets_made import demo_bed
from small import ROOT, Small, even

ZONES = ("centre", "left", "right", "tip", "throat")
T = 171.5  # 245 N less 30 %


@pytest.mark.parametrize("frame", ["fern-98", "moraine-98", "burdock-89", "bracken-102"])
@pytest.mark.slow_after(1)
def test_a_frame_is_the_geometric_mean_of_its_copies(frame):
    copies = [name for name, bed in derived("beds").items() if bed["frame_id"] == frame]
    row = derived("mechanics")[frame]
    beds = [demo_bed(name) for name in copies]
    each = np.log([plain_net.stiffness(bed, T, T) for bed in beds])
    for zone, log in zip(ZONES, each.mean(axis=0), strict=True):
        assert float(row[f"stiffness_{zone}_n_per_mm"]) == pytest.approx(math.exp(log), rel=2e-5), zone
    logs = [math.log(plain_net.frequency(bed, T, T, STRING_KG_MM)) for bed in beds]
    assert float(row["frequency_hz"]) == pytest.approx(math.exp(math.fsum(logs) / len(logs)), rel=2e-5)


def test_every_measured_frame_has_a_row_and_no_other():
    measured = {name for name, row in derived("scores").items() if row["basis"] == "measured"}
    assert set(derived("mechanics")) == measured
    assert len(measured) > 40


def test_figures_are_of_the_size_published():
    # 220 to 270 N pulls are in common use (Cross 2000); at them lowest frequencies of strung heads are some hundred hertz:
    # 2.404826/(2πR)·√(T/2μ) of a circle of 600 to 720 cm² is 640 to 570 Hz (Cross & Bower 2001: the area decides).
    for name, row in derived("mechanics").items():
        area = float(derived("scores")[name]["head_area_cm2"]) * 100
        circle = 2.404826 / math.tau / math.sqrt(area / math.pi) * math.sqrt(T / (2 * STRING_KG_MM) * 1e3)
        assert float(row["frequency_hz"]) == pytest.approx(circle, rel=0.035), name
        assert 0.004 < float(row["u_stiffness_centre_n_per_mm"]) / float(row["stiffness_centre_n_per_mm"]) < 0.03, name


def test_tighter_centres_are_stiffer_on_the_whole():
    # Common practice, no source. Stiffness goes as tension over pitch: ranks of openness and stiffness run opposite ways.
    from scipy.stats import spearmanr

    rows = derived("mechanics")
    openness = [float(derived("scores")[name]["openness_centre"]) for name in rows]
    stiffness = [float(row["stiffness_centre_n_per_mm"]) for row in rows.values()]
    assert spearmanr(openness, stiffness).statistic < -0.9


def test_one_copy_alone_by_hand():
    # One even bed of 12.5 mm gaps, read once without edges: the copy spread is 1 % where too few copies tell, and one copy
    # carries it twice in variance, so u is at least √2 %.
    small = even()
    small.reading("one-a", "head_width", 245)
    small.reading("one-a", "head_length", 327)
    row = small.derived(["mechanics"])["mechanics"]["one"]
    # By the definition n solves W·L·k(n) = 620 cm²: k = 0.77389 (an ellipse has 0.78540), n = 1.951 by scipy's brentq.
    from scipy.optimize import brentq
    from scipy.special import gamma

    factor = 62_000 / (245 * 327)
    exponent = brentq(lambda n: gamma(1 + 1 / n) ** 2 / gamma(1 + 2 / n) - factor, 1.7, 2.7, xtol=1e-13)
    plain = plain_net.PlainBed(
        [((k - 7.5) * 12.5, 0.0) for k in range(16)], [(9 - k) * 12.5 for k in range(19)], 245.0, 327.0, exponent
    )
    for zone, value in zip(ZONES, plain_net.stiffness(plain, T, T), strict=True):
        assert row[f"stiffness_{zone}_n_per_mm"] == pytest.approx(value, rel=6e-6), zone
        assert row[f"u_stiffness_{zone}_n_per_mm"] / value > math.sqrt(2) * 0.01 * (1 - 1e-5), zone


def test_a_zone_nobody_can_strike_is_blank():
    row = even(cross=5.0, crosses=9).derived(["mechanics"])["mechanics"]["one"]
    blank = {name for name, value in row.items() if value is None}
    assert blank == {f"{u}stiffness_{zone}_n_per_mm" for u in ("", "u_") for zone in ("tip", "throat")}


def test_a_package_without_beds_has_no_rows():
    small = Small()
    small.frame("one")
    assert small.derived(["mechanics"])["mechanics"] == {}


@pytest.fixture
def older(tmp_path) -> Path:
    """The demo as an older copy: no word of mechanics in its descriptor, no schema, no file."""
    folder = tmp_path / "older"
    for part in ("catalogue", "schema"):
        shutil.copytree(ROOT / part, folder / part)
    (folder / "catalogue" / "derived" / "mechanics.csv").unlink()
    (folder / "schema" / "mechanics.json").unlink()
    descriptor = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
    descriptor["resources"] = [item for item in descriptor["resources"] if item["name"] != "mechanics"]
    (folder / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    return folder


def test_an_older_package_answers_shows_and_derives(older):
    catalogue = open_catalogue(older)
    question = "95-98 sq in, 16 mains, tighter centre than fern-98"
    assert catalogue.ask(question).matches == open_catalogue(ROOT).ask(question).matches
    assert catalogue.show("fern-98").mechanics is None
    assert catalogue.compare("fern-98", "moraine-98").contrasts
    assert set(derive(open_package(older))) == {"beds", "scores", "handling", "digests"}
    catalogue = open_catalogue(older)
    with pytest.raises(GapbookError) as stop:
        compute(open_package(older), ["mechanics"])
    assert stop.value.problems[0].code == "no-table"
    with pytest.raises(GapbookError) as stop:
        catalogue.retension("fern-98", "moraine-98", "24kg")
    assert stop.value.problems[0].code == "no-table"
    assert catalogue.retension("fern-98-a", "fern-98-b", "24kg").tension is not None


def test_a_table_that_is_not_derived_yet(copied):
    (copied / "catalogue" / "derived" / "mechanics.csv").unlink()
    assert open_catalogue(copied).show("fern-98").mechanics is None
    with pytest.raises(GapbookError) as stop:
        open_catalogue(copied).retension("fern-98", "moraine-98", "24kg")
    assert stop.value.problems[0].code == "not-derived"


def test_the_map_of_a_copy():
    plain = demo_bed("fern-98-a")
    found = open_catalogue(ROOT).stiffness_map("fern-98-a", (-60.0, 0.0, 60.0, 200.0), (80.0, 0.0, -80.0))
    five = dict(zip(ZONES, plain_net.stiffness(plain, T, T), strict=True))
    assert found[:, 1] == pytest.approx([five["tip"], five["centre"], five["throat"]], rel=2e-5)
    assert found[1, [0, 2]] == pytest.approx([five["left"], five["right"]], rel=2e-5)
    assert np.isnan(found[:, 3]).all()
    read_anew = copy_map(open_package(ROOT), "fern-98-a", (-60.0, 0.0, 60.0, 200.0), (80.0, 0.0, -80.0))
    assert read_anew[:, :3] == pytest.approx(found[:, :3], rel=2e-5)
    with pytest.raises(GapbookError) as stop:
        open_catalogue(ROOT).stiffness_map("nobodys", (0.0,), (0.0,))
    assert stop.value.problems[0].code == "not-measured"


def test_show_tells_it_and_says_that_it_is_a_model(capsys):
    from gapbook.commands.app import build

    app = build(["show", "sql"])
    app(["show", "fern-98"], standalone_mode=False)
    told = " ".join(capsys.readouterr().out.split())
    row = derived("mechanics")["fern-98"]
    value, u = (float(row[name]) for name in ("stiffness_centre_n_per_mm", "u_stiffness_centre_n_per_mm"))
    assert f"centre {value:.2f} ± {2 * u:.2f}" in told
    for words in (
        "left",
        "right",
        "tip",
        "throat",
        "A model of geometry and tension, strung at 245 N, of which 30 % is then lost",
        "not a reading",
        "mm if crossings hold, and",
    ):
        assert words in told, words
    app(["show", "fern-98", "--json"], standalone_mode=False)
    shown = json.loads(capsys.readouterr().out)["mechanics"]
    assert {name: shown[name] for name in row if name != "frame_id"} == {
        name: float(text) for name, text in row.items() if name != "frame_id"
    }
    counted = next(name for name, score in derived("scores").items() if score["basis"] == "counted")
    app(["show", counted], standalone_mode=False)
    assert "tiffness" not in capsys.readouterr().out


def test_sql_knows_the_table():
    found = open_catalogue(ROOT).sql("SELECT count(*) AS n, min(stiffness_centre_n_per_mm) AS least FROM mechanics").to_pylist()
    assert found[0]["n"] == len(derived("mechanics"))
    assert found[0]["least"] == min(float(row["stiffness_centre_n_per_mm"]) for row in derived("mechanics").values())
    assert len(demo("frames")) > found[0]["n"]
