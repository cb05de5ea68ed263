"""The page as a file: one self-contained text, safe whatever the data say, with beds coded without loss that shows."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from demo_rows import ROOT, derived
from gapbook.commands.app import build
from gapbook.errors import GapbookError
from gapbook.pictures.atlas import data as coding
from gapbook.pictures.atlas import write
from gapbook.pictures.atlas.writing import MARK, SCRIPTS, as_data, script_of
from gapbook.signs import safe
from gapbook.tables.copies import read_bed
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store

PAGE = Path(coding.__file__).parent / "page"
MOST_BYTES = 1_500_000


@pytest.fixture(scope="module")
def package():
    return open_package(ROOT)


@pytest.fixture(scope="module")
def text(package, tmp_path_factory):
    return write(package, tmp_path_factory.mktemp("atlas"))["out"].read_text(encoding="utf-8")


def data_in(text):
    return json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)[1])


def test_the_page_is_one_file_of_modest_size_that_names_no_other(text):
    assert len(text.encode()) < MOST_BYTES
    assert not re.search(r'(?:src|href)="(?!#)', text)
    assert not re.search(r"@import|url\((?!#)", text)
    assert "http" not in text.replace("http-equiv", "").replace("http://www.w3.org/2000/svg", "")


def test_the_policy_lets_in_the_style_and_the_script_of_the_page_and_nothing_else(text):
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)[1]
    style = re.search(r"<style>(.*?)</style>", text, re.S)[1]
    script = re.search(r'<script type="module">(.*?)</script>', text, re.S)[1]
    hashed = ["'sha256-" + base64.b64encode(hashlib.sha256(part.encode()).digest()).decode() + "'" for part in (style, script)]
    stated = "default-src 'none'; base-uri 'none'; form-action 'none'"
    assert policy == f"{stated}; style-src {hashed[0]}; script-src {hashed[1]}"


def test_the_same_package_makes_the_same_bytes(package, text, tmp_path):
    assert write(package, tmp_path)["out"].read_text(encoding="utf-8") == text


def test_every_script_of_the_folder_is_in_the_page_once():
    assert sorted(SCRIPTS) == sorted(path.name for path in PAGE.glob("*.js"))


def test_no_two_modules_give_a_name_twice():
    given = re.findall(r"^(?:const|let|function|class|async function) (\w+)", script_of(SCRIPTS), re.M)
    assert len(given) > 100
    assert sorted(given) == sorted(set(given))


def test_a_module_before_one_it_imports_from_is_refused():
    with pytest.raises(ValueError, match=r"compare\.js imports from"):
        script_of(("compare.js", "catalogue.js", "figures.js"))


def test_all_frames_and_their_figures_are_in_the_page_as_derived(text):
    frames = data_in(text)["frames"]
    rows = derived("scores")
    assert frames["frame_id"] == sorted(rows)
    for name in ("openness_centre", "u_openness_sides", "openness_even", "u_drilling_cross", "head_area_cm2"):
        assert frames[name] == [float(rows[one][name]) if rows[one][name] else None for one in frames["frame_id"]]


def test_handling_is_of_strung_frames(text):
    frames = data_in(text)["frames"]
    for name, value in zip(frames["frame_id"], frames["swingweight_kgcm2"], strict=True):
        row = derived("handling").get(name)
        strung = row if row is not None and row["strung"] == "true" else None
        assert value == (float(strung["swingweight_kgcm2"]) if strung and strung["swingweight_kgcm2"] else None)


def test_coded_beds_are_the_drawn_ones_to_a_hundredth_of_a_millimetre(package, text):
    data = data_in(text)
    ids = data["frames"]["frame_id"]
    measured = {row["frame_id"] for row in derived("beds").values()}
    assert {ids[int(place)] for place in data["beds"]} == measured
    for place in list(data["beds"])[::9]:
        specimen, width, length, exponent, mains, slopes, crosses, *u_gap = data["beds"][place]
        row, read = derived("beds")[specimen], read_bed(package, specimen)
        lines = read.lines
        assert row["frame_id"] == ids[int(place)]
        assert width * 0.01 == pytest.approx(float(row["head_width_mm"]), abs=0.00501)
        assert length * 0.01 == pytest.approx(float(row["head_length_mm"]), abs=0.00501)
        assert exponent * 0.001 == pytest.approx(float(row["head_exponent"]), abs=0.000501)
        np.testing.assert_allclose(np.cumsum(mains) * 0.01, lines.main_at_0, atol=0.00501)
        np.testing.assert_allclose(np.cumsum(slopes) * 1e-5, lines.main_slope, atol=0.501e-5)
        np.testing.assert_allclose(np.cumsum(crosses) * 0.01, lines.cross_y, atol=0.00501)
        np.testing.assert_allclose(np.array(u_gap) * 0.001, [read.u_main_gap, read.u_cross_gap], atol=0.000501)


def test_too_many_beds_are_left_out_and_that_is_said(package):
    ids = sorted(derived("scores"))
    found = coding.beds(Store(package), ids, most=55)
    assert found.coded == {}
    assert found.without == "The beds are not drawn: 56 measured frames are more than the 55 a page carries."
    assert coding.beds(Store(package), ids, most=56).without is None


@pytest.mark.parametrize("hostile", ["</script><b>", "<!--", "\u2028", "{{data}}", "\\u003c"])
def test_no_text_of_the_data_ends_the_data(hostile):
    coded = as_data({"model": hostile})
    assert not {"<", "\u2028"} & set(coded)
    assert json.loads(coded) == {"model": safe(hostile)}


def test_a_page_that_is_no_atlas_is_not_written_over(package, tmp_path):
    (tmp_path / "index.html").write_text("<p>my own page</p>", encoding="utf-8")
    with pytest.raises(GapbookError) as error:
        write(package, tmp_path)
    assert error.value.problems[0].code == "not-an-atlas"
    assert (tmp_path / "index.html").read_text(encoding="utf-8") == "<p>my own page</p>"


def test_an_earlier_atlas_is_replaced(package, tmp_path):
    (tmp_path / "index.html").write_text(f"<head>{MARK}</head>old", encoding="utf-8")
    write(package, tmp_path)
    assert "old" not in (tmp_path / "index.html").read_text(encoding="utf-8")[-20:]
    assert [path.name for path in tmp_path.iterdir()] == ["index.html"]


def test_a_folder_that_is_a_file_is_an_error(package, tmp_path):
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(GapbookError) as error:
        write(package, tmp_path / "taken")
    assert error.value.problems[0].code in ("unwritable", "unreadable")


def test_the_command_says_what_it_wrote(tmp_path):
    out = tmp_path / "new" / "atlas"
    result = CliRunner().invoke(build(["atlas", "draw"]), ["atlas", "--out", str(out), "--package", str(ROOT), "--json"])
    assert result.exit_code == 0, result.output
    said = json.loads(result.stdout)
    page = out / "index.html"
    assert said == {"written": [str(page)], "frames": 73, "beds": 56, "bytes": page.stat().st_size}


def test_without_mechanics_and_handling_there_is_still_a_page(copied, tmp_path):
    for name in ("mechanics", "handling"):
        (copied / "catalogue" / "derived" / f"{name}.csv").unlink()
    frames = data_in(write(open_package(copied), tmp_path / "out")["out"].read_text(encoding="utf-8"))["frames"]
    assert len(frames["frame_id"]) == 73
    assert not {"mass_g", "stiffness_centre_n_per_mm"} & set(frames)
