"""`compare` tells how beds handle, and keeps every figure whole in a narrow window."""

from __future__ import annotations

import json
import re
import shutil

import pytest
from rich.console import Console

from demo_rows import ROOT, derived
from gapbook.screens.grids import grid
from test_cli import gapbook

FOUR = ("fern-98", "sorrel-98-team", "drumlin-98", "clover-98")


def test_json_carries_the_rows_of_handling():
    document = json.loads(gapbook("compare", "fern-98", "fern-98-a", "--json").stdout)
    row = derived("handling")["fern-98"]
    for bed in document["beds"]:  # a copy is told its frame's
        assert bed["handling"]["basis"] == row["basis"]
        for name in set(row) - {"frame_id", "basis", "strung"}:
            assert bed["handling"][name] == float(row[name])


def test_the_screen_tells_mass_balance_and_swingweight():
    lines = gapbook("compare", "fern-98", "drumlin-98").stdout.splitlines()
    for label, name in (("mass, g", "mass_g"), ("swingweight, kg·cm²", "swingweight_kgcm2")):
        (line,) = [one for one in lines if one.startswith(label)]
        shown = re.findall(r"(\S+) ± (\S+)", line)
        for (value, expanded), frame in zip(shown, ("fern-98", "drumlin-98"), strict=True):
            row = derived("handling")[frame]
            assert float(value) == pytest.approx(float(row[name]), abs=0.5)
            assert float(expanded) == pytest.approx(2 * float(row["u_" + name]), rel=0.06)  # two digits
    imperial = gapbook("compare", "fern-98", "drumlin-98", "--units", "imperial").stdout
    ounces = float(re.search(r"mass, oz +(\S+) ±", imperial)[1])
    assert ounces == pytest.approx(float(derived("handling")["fern-98"]["mass_g"]) / 28.349523125, abs=0.005)  # NIST SP 811


@pytest.mark.parametrize("where", ["centre", "sides"])
def test_narrow_windows_lose_no_figure(where):
    names = FOUR[:3] if where == "sides" else FOUR
    figures = {}
    for columns in (50, 80, 130):
        run = gapbook("compare", *names, "--where", where, COLUMNS=str(columns))
        assert run.returncode == 0
        assert max(len(line) for line in run.stdout.splitlines()) <= columns
        figures[columns] = sorted(re.findall(r"[+−]?[\d.]+ ± [\d.]+", run.stdout[run.stdout.index("pattern") :]))
    assert figures[50] == figures[80] == figures[130]
    assert len(figures[50]) > 50


def test_a_package_without_handling(tmp_path):
    for name in ("catalogue", "schema"):
        shutil.copytree(ROOT / name, tmp_path / name)
    shutil.copyfile(ROOT / "datapackage.json", tmp_path / "datapackage.json")
    (tmp_path / "catalogue" / "derived" / "handling.csv").unlink()
    document = json.loads(gapbook("compare", "fern-98", "drumlin-98", "--json", "--package", str(tmp_path)).stdout)
    assert [bed["handling"] for bed in document["beds"]] == [None, None]


def printed(width: int, monkeypatch, **more: bool) -> str:
    monkeypatch.setenv("COLUMNS", str(width))
    rows = [("one", ["1.23 ± 0.45", "too close"]), ("another", ["6.78 ± 0.90", "more open"])]
    console = Console(width=width, color_system=None, record=True, file=None)
    with console.capture() as capture:
        console.print(grid("", ["first", "second"], rows, **more))
    return "\n".join(line.rstrip() for line in capture.get().splitlines())


def test_a_grid_as_it_is(monkeypatch):
    monkeypatch.setattr("gapbook.screens.page.width", lambda: 60)
    assert printed(60, monkeypatch) == (
        "              first    second\none     1.23 ± 0.45 too close\nanother 6.78 ± 0.90 more open"
    )


def test_a_grid_wraps_words_before_figures(monkeypatch):
    monkeypatch.setattr("gapbook.screens.page.width", lambda: 26)
    text = printed(26, monkeypatch)
    assert "1.23 ± 0.45" in text
    assert "too close" not in text
    assert max(map(len, text.splitlines())) <= 26


def test_a_grid_is_cut_where_words_do_not_fit(monkeypatch):
    monkeypatch.setattr("gapbook.screens.page.width", lambda: 22)
    text = printed(22, monkeypatch)
    assert max(map(len, text.splitlines())) <= 22
    assert text.count("another") == 2
    assert "6.78 ± 0.90" in text
    assert "more open" in text


def test_a_grid_is_turned_where_that_is_allowed(monkeypatch):
    monkeypatch.setattr("gapbook.screens.page.width", lambda: 22)
    text = printed(22, monkeypatch, turn=True)
    assert text.index("first") > text.index("one")
    assert re.search(r"^first +1.23 ± 0.45$", text, re.MULTILINE)
