"""The partial-regression plot: files of every kind, the same each time, and what is drawn is what was found."""

from __future__ import annotations

import json
import shutil
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from gapbook import GapbookError, open_catalogue
from gapbook.pictures.relation import plot_relation
from running import gapbook
from small import ROOT

STARTS = {".png": b"\x89PNG\r\n\x1a\n", ".pdf": b"%PDF-", ".svg": b"<?xml"}


@pytest.fixture(scope="module")
def found():
    return open_catalogue(ROOT).relate("openness_centre", "launch_angle_deg", ["head_area_cm2", "main_tension_n"])


@pytest.mark.parametrize("suffix", STARTS)
@pytest.mark.slow_after(1)
def test_files_are_what_their_suffix_says_and_repeat(tmp_path, found, suffix):
    first, second = tmp_path / f"one{suffix}", tmp_path / f"two{suffix}"
    plot_relation(found, first)
    plot_relation(found, second)
    assert first.read_bytes().startswith(STARTS[suffix])
    assert first.read_bytes() == second.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == [first.name, second.name]


def test_the_points_have_the_slope(found):
    """Frisch, Waugh and Lovell: a line through what is left of both has the slope of the whole regression."""
    points = found.associations[0].points
    slope, _ = np.polyfit(points.trait, points.outcome, 1)
    assert slope == pytest.approx(found.associations[0].slope, rel=1e-9)
    assert len(points.trait) == len(points.frame_ids) == found.associations[0].playtests


def test_axes_say_what_they_show_and_in_which_unit(found, monkeypatch, tmp_path):
    from gapbook.pictures import figure as paper

    drawn = []
    monkeypatch.setattr(paper, "save", lambda figure, out, title: drawn.append(figure))
    plot_relation(found, tmp_path / "plot.png")
    (axes,) = drawn[0].axes
    assert axes.get_xlabel().replace("\n", " ").startswith("openness_centre (1), adjusted for tester, head_area_cm2,")
    assert axes.get_ylabel() == "launch_angle_deg (deg), adjusted likewise"
    assert "Association, not cause." in drawn[0].texts[0].get_text()
    playtests, frames = (collection.get_offsets() for collection in axes.collections[:2])
    assert (len(playtests), len(frames)) == (found.associations[0].playtests, found.associations[0].frames)
    line = axes.lines[0].get_xydata()
    rise = (line[-1, 1] - line[0, 1]) / (line[-1, 0] - line[0, 0])
    assert rise == pytest.approx(found.associations[0].slope, rel=1e-9)


@pytest.mark.slow
def test_nothing_drawn_runs_out_of_the_figure(monkeypatch, tmp_path):
    from gapbook.pictures import figure as paper

    drawn = []
    monkeypatch.setattr(paper, "save", lambda figure, out, title: drawn.append(figure))
    traits = ["openness_centre", "mean_tension_n", "mass_g", "side_opening"]
    plot_relation(
        open_catalogue(ROOT).relate(traits, "comfort_vs_own", ["string_material", "head_area_cm2"]), tmp_path / "p.png"
    )
    figure = drawn[0]
    figure.canvas.draw()
    whole = figure.bbox
    texts = [
        *figure.texts,
        *(text for axes in figure.axes for text in (axes.title, axes._left_title, axes.xaxis.label, axes.yaxis.label)),
    ]
    boxes = [text.get_window_extent() for text in texts if text.get_text()]
    assert len(boxes) == 1 + 3 * len(traits)
    for box in boxes:
        assert whole.x0 <= min(box.x0, box.x1) <= max(box.x0, box.x1) <= whole.x1
        assert whole.y0 <= min(box.y0, box.y1) <= max(box.y0, box.y1) <= whole.y1
    assert not any(one.overlaps(other) for number, one in enumerate(boxes) for other in boxes[:number])


def test_svg_is_xml_and_holds_no_text_from_elsewhere(tmp_path, found):
    out = tmp_path / "plot.svg"
    plot_relation(found, out)
    root = ET.fromstring(out.read_bytes())
    assert root.tag.endswith("svg")
    assert b"http" not in out.read_bytes().replace(b"http://www.w3.org", b"").replace(b"http://purl.org", b"").replace(
        b"http://creativecommons.org", b""
    )


def test_no_figure_no_plot(tmp_path):
    found = open_catalogue(ROOT).relate("openness_centre", "spin_rpm", ["style"])
    with pytest.raises(GapbookError, match="no figure to plot"):
        plot_relation(found, tmp_path / "plot.png")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("form", [[], ["--json"]])
def test_without_a_figure_the_answer_is_given_all_the_same(tmp_path, form):
    out = tmp_path / "plot.png"
    run = gapbook("relate", "openness_centre", "spin_rpm", "--given", "style", "--plot", str(out), *form)
    assert run.returncode == 0
    assert "what is held follows from the testers" in " ".join(run.stdout.split())
    assert run.stderr == f"gapbook: no figure, so {out} was not written\n"
    assert not out.exists()


@pytest.mark.parametrize("invented", [True, False])
def test_the_plot_says_whether_the_data_are_invented_as_the_descriptor_does(tmp_path, monkeypatch, invented):
    from gapbook.commands.app import build
    from gapbook.pictures import figure as paper

    package = ROOT
    if not invented:
        package = tmp_path / "package"
        shutil.copytree(ROOT / "catalogue", package / "catalogue")
        shutil.copytree(ROOT / "schema", package / "schema")
        descriptor = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
        descriptor["sources"] = [{"title": "Read off frames by a club"}]
        (package / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    drawn = []
    monkeypatch.setattr(paper, "save", lambda figure, out, title: drawn.append(figure))
    asked = ["relate", "openness_centre", "spin_rpm", "--plot", str(tmp_path / "p.png"), "--package", str(package)]
    build()(asked, standalone_mode=False)
    said = [text.get_text() for text in drawn[0].texts if text.get_gid() == "caution"]
    assert said == (["Invented data: no frame in this package is real."] if invented else [])


def test_the_screen_says_what_was_written(tmp_path):
    out = tmp_path / "plot.png"
    run = gapbook("relate", "openness_centre", "spin_rpm", "--plot", str(out))
    assert run.stdout.splitlines()[-1] == f"Wrote {out}"
    assert out.exists()


@pytest.mark.parametrize(("name", "told"), [("plot.jpg", ".svg, .png, .pdf"), ("nowhere/plot.png", "nowhere")])
def test_a_plot_that_cannot_be(tmp_path, name, told):
    run = gapbook("relate", "openness_centre", "spin_rpm", "--plot", str(tmp_path / name))
    assert run.returncode == 2
    assert run.stdout == ""
    assert told in run.stderr
