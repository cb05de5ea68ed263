"""`compare` tells how beds handle, and keeps every figure whole in a narrow window."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from rich.console import Console

from demo_rows import ROOT, derived
from gapbook import open_catalogue
from gapbook.errors import GapbookError
from gapbook.screens.tables import grid
from running import gapbook
from small import even

FOUR = ("fern-98", "sorrel-98-club", "drumlin-98", "clover-98")


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
@pytest.mark.slow_after(1)
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


@pytest.mark.slow
def test_a_package_without_handling(copied):
    (copied / "catalogue" / "derived" / "handling.csv").unlink()
    document = json.loads(gapbook("compare", "fern-98", "drumlin-98", "--json", "--package", str(copied)).stdout)
    assert [bed["handling"] for bed in document["beds"]] == [None, None]
    run = gapbook("compare", "fern-98", "drumlin-98", "--package", str(copied))
    assert run.returncode == 0, run.stderr
    whole = gapbook("compare", "fern-98", "drumlin-98").stdout
    assert [line for line in run.stdout.splitlines() if "⡇" in line] == [line for line in whole.splitlines() if "⡇" in line]
    assert "⡇" in whole
    assert " ".join(run.stdout.split()).count("Handling is left out: it has not been derived") == 1
    assert "Handling is left out" not in whole


def package_with_a_copy(folder: Path) -> Path:
    """A folder with the readings of one copy of the demo's fern-98, under another name."""
    folder.mkdir()
    for name in ("specimens", "spacings"):
        lines = (ROOT / "catalogue" / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        own = [lines[0], *(line.replace("fern-98-a,", "mine,", 1) for line in lines if line.startswith("fern-98-a,"))]
        (folder / f"{name}.csv").write_text("\n".join(own) + "\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (("fern-98", "moraine-98"), ("fern-98", "moraine-98")),
        (("FERN-98", "moraine-98"), ("fern-98", "moraine-98")),
        (("fern-98", " Moraine-98"), ("fern-98", "moraine-98")),
        (("Fern-98-B", "MORAINE-98"), ("fern-98-b", "moraine-98")),
        (("Fern 98", "moraine98"), ("fern-98", "moraine-98")),
    ],
)
def test_ids_are_understood_in_any_case(typed, meant):
    found = open_catalogue(ROOT).compare(*typed)
    assert tuple(bed.name for bed in found.beds) == meant


@pytest.mark.parametrize(
    ("typed", "zone"),
    [
        ("center", "centre"),  # contract of the question language: center = centre
        ("Centre", "centre"),
        ("SIDES", "sides"),
        ("side", "sides"),
        ("left side", "left"),
        (" Tip ", "tip"),
        ("even drilling", "even"),
    ],
)
def test_zones_are_named_as_in_questions(typed, zone):
    assert open_catalogue(ROOT).compare("fern-98", "moraine-98", where=typed).where == zone


@pytest.mark.parametrize("typed", ["centr", "", "handle"])
def test_other_zones_are_refused(typed):
    with pytest.raises(GapbookError) as raised:
        open_catalogue(ROOT).compare("fern-98", "moraine-98", where=typed)
    assert raised.value.problems[0].code == "wrong-zone"


@pytest.mark.parametrize(
    "names",
    [
        ("fern-98", "fern-98"),
        ("fern-98", "FERN-98"),
        ("fern-98", "moraine-98", "Moraine-98"),
        ("./mine", "./mine/"),
        ("./mine", "./mine/../mine"),
        ("mine", "./mine"),
    ],
)
def test_a_bed_is_not_compared_with_itself(names, tmp_path, monkeypatch):
    package_with_a_copy(tmp_path / "mine")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(GapbookError) as raised:
        open_catalogue(ROOT).compare(*names)
    assert raised.value.problems[0].code == "two-beds"


def test_a_folder_is_compared_with_the_copy_it_is_made_of(tmp_path, monkeypatch):
    package_with_a_copy(tmp_path / "mine")
    monkeypatch.chdir(tmp_path)
    found = open_catalogue(ROOT).compare("./mine", "fern-98-a")
    assert [bed.kind for bed in found.beds] == ["folder", "specimen"]


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


@pytest.mark.parametrize("typed", ["one-b", "ONE-B"])
def test_a_copy_nobody_measured_is_told_as_such(typed, tmp_path):
    small = even()
    small.copy("one-b", "one")
    package = small.write(tmp_path / "package")
    assert gapbook("derive", "--part", "beds", "--package", str(package)).returncode == 0
    with pytest.raises(GapbookError) as raised:
        open_catalogue(package).compare("one", typed)
    assert raised.value.problems[0].code == "not-measured"
