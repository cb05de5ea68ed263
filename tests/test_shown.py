"""Results show themselves: print gives the command's table, notebooks get HTML and SVG, completion shows what is ours."""

from __future__ import annotations

import html
import re
import runpy
import xml.etree.ElementTree as ET
from importlib.resources import files

import pytest

from gapbook import GapbookError, open_catalogue
from running import gapbook
from small import ROOT

SHOWN = {
    "ask": (lambda c: c.ask("16x19, tighter than fern-98"), ("ask", "16x19, tighter than fern-98")),
    "compare": (lambda c: c.compare("fern-98", "moraine-98"), ("compare", "fern-98", "moraine-98")),
    "relate": (lambda c: c.relate("openness_centre", "spin_rpm"), ("relate", "openness_centre", "spin_rpm")),
    "agreement": (lambda c: c.agreement(), ("agreement",)),
    "check": (lambda c: c.check(), ("check",)),
    "retension": (
        lambda c: c.retension("fern-98", "tarn-100", "24kg"),
        ("retension", "fern-98", "tarn-100", "--at", "24kg"),
    ),
    "advise": (lambda c: c.advise("fern-98"), ("advise", "fern-98")),
}


@pytest.fixture(scope="module")
def demo():
    return open_catalogue(ROOT)


@pytest.mark.parametrize("name", SHOWN)
@pytest.mark.slow_after(2)
def test_print_gives_what_the_command_prints(demo, name, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    make, command = SHOWN[name]
    printed = gapbook(*command, COLUMNS="80").stdout
    result = make(demo)
    lines = str(result).splitlines()
    assert len(lines) > 2 or name == "check"
    missing = [line for line in lines if line not in printed.splitlines()]
    assert not missing, missing  # the command may draw beds beside it
    text = html.unescape(re.sub(r"<[^>]*>", "", result._repr_html_()))
    assert [line.rstrip() for line in text.splitlines()] == lines


def test_completion_shows_what_is_ours(demo):
    answer = demo.ask("16x19, tighter than fern-98")
    assert {"matches", "undecided", "to_arrow"} <= set(dir(answer))
    assert not [name for name in dir(answer) if name.startswith(("model_", "_", "construct", "schema"))]


def test_hostile_words_are_no_html(demo):
    told = demo.relate("openness_centre", "spin_rpm").model_copy(update={"caution": "<script>alert(1)</script>"})
    assert "<script>" not in told._repr_html_()
    assert "&lt;script&gt;" in told._repr_html_()


PICTURES = {
    "draw": lambda c: c.draw("fern-98"),
    "draw two": lambda c: c.draw("fern-98", "moraine-98"),
    "chart": lambda c: c.chart("centre mesh", "swingweight", against="fern-98"),
    "plot": lambda c: c.plot(c.relate("openness_centre", "launch_angle_deg")),
}


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.slow_after(1)
def test_pictures_are_svg_and_saved_by_their_suffix(demo, tmp_path, name):
    picture = PICTURES[name](demo)
    assert ET.fromstring(picture._repr_svg_().encode()).tag.endswith("svg")
    picture.save(tmp_path / "one.png")
    assert (tmp_path / "one.png").read_bytes().startswith(b"\x89PNG")
    with pytest.raises(GapbookError):
        picture.save(tmp_path / "one.gif")


def test_a_drawing_is_the_commands_own(demo, tmp_path):
    assert gapbook("draw", "fern-98", "--out", str(tmp_path / "bed.svg")).returncode == 0
    assert demo.draw("fern-98")._repr_svg_() == (tmp_path / "bed.svg").read_text(encoding="utf-8")


def test_types_are_marked():
    """PEP 561: a package that states its types has a file py.typed."""
    assert (files("gapbook") / "py.typed").is_file()


@pytest.mark.slow
def test_the_worked_notebook_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    monkeypatch.delenv("GAPBOOK_PACKAGE", raising=False)
    path = ROOT / "derive" / "examples" / "your_own_trial.py"
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# %% [markdown]")
    found = runpy.run_path(str(path))
    assert found["launch"].verdict == "rises"
    assert found["residuals"].num_rows == found["launch"].playtests
    assert [row["copy"] for row in found["joined"].to_pylist()] == ["fern-98-a"]
    assert found["design"].chosen.power >= 0.8
    assert found["again"].slope == found["launch"].slope
    assert "the same slope from the export: True" in capsys.readouterr().out
