"""A comparison as one page: what stands on it, that nothing overlaps or is cut off, and its files."""

from __future__ import annotations

import json
import re
import shutil
from itertools import combinations
from pathlib import Path

import pytest

from contributed import own, sent
from demo_rows import ROOT
from gapbook import open_catalogue
from gapbook.pictures import figure, review
from gapbook.questions.bed_data import drawn_beds
from gapbook.screens.comparisons import figures
from running import gapbook
from test_compare_handling import package_with_a_copy

LONG = "a folder with a name as long as people make them when nobody tells them not to"
PAGES = [
    (("fern-98", "moraine-98"), "centre", None, False),
    (("fern-98", "moraine-98", "16x19 98 sq in"), "centre", "imperial", False),
    (("fern-98", "sorrel-98-club", "drumlin-98", "tarn-95"), "sides", "metric", True),
    (("mine", "fern-98-a", "16x20", "18x20, 95-98 sq in"), "centre", "metric", False),
    (("16x19", "18x20"), "centre", None, True),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return package_with_a_copy(tmp_path_factory.mktemp("review") / LONG)


def page_of(names, where, units, dark, folder, caution="Invented data"):
    catalogue = open_catalogue(ROOT)
    comparison = catalogue.compare(*(str(folder) if name == "mine" else name for name in names), where=where)
    colours = figure.theme(dark)
    with figure.style(colours):
        entries = review.entries(comparison, drawn_beds(catalogue.package, comparison.beds))
        made = review.review_figure(comparison, entries, colours, units, caution)
        made.draw_without_rendering()
    return comparison, made


def texts(made) -> list:
    return [text for axes in made.axes for text in axes.texts if text.get_text().strip()]


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("names", "where", "units", "dark"), PAGES)
def test_nothing_is_cut_off_or_overlaps(names, where, units, dark, folder):
    _, made = page_of(names, where, units, dark, folder)
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts(made)]
    width, height = made.bbox.width, made.bbox.height
    for text, box in boxes:
        assert 0 < box.x0 <= box.x1 < width * (1 - 5 / review.WIDTH), text
        assert 0 < box.y0 <= box.y1 < height, text
    for (one, first), (other, second) in combinations(boxes, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        along = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert across <= 1.0 or along <= 1.0, (one, other)  # a pixel of a hundred an inch


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("names", "where", "units", "dark"), PAGES)
def test_the_page_says_what_the_screen_says(names, where, units, dark, folder):
    comparison, made = page_of(names, where, units, dark, folder)
    said = [text.get_text() for text in texts(made)]
    whole = " ".join(said)
    for label, cells in figures(comparison, units):
        assert label in said
        for cell in cells:
            assert cell in said
    for item in comparison.contrasts:
        if item.where == where:
            told = [float(one.replace("−", "-")) for one in re.findall(r"([+−]?[\d.]+) ± [\d.]+ % in", whole)]
            assert any(value == pytest.approx(item.difference_percent, abs=0.5) for value in told)
            assert item.verdict in whole
    for words in ("± is at k = 2", "see a physician", "qualified stringer", "Why they differ"):
        assert words in whole
    assert len([axes for axes in made.axes if str(axes.get_gid()).startswith("bed-")]) == len(names)
    assert whole.count("not measured") == sum(bed.basis == "counted" for bed in comparison.beds)


@pytest.mark.slow
def test_invented_data_are_said_only_if_the_package_says_so(folder):
    for caution, there in (("Invented data: no frame is real", True), (None, False)):
        _, made = page_of(("fern-98", "moraine-98"), "centre", None, False, folder, caution)
        assert ("Invented" in " ".join(text.get_text() for text in texts(made))) is there


@pytest.mark.parametrize(("suffix", "start"), [(".pdf", b"%PDF"), (".png", b"\x89PNG"), (".svg", b"<?xml")])
@pytest.mark.slow
def test_the_same_comparison_makes_the_same_bytes(tmp_path, suffix, start):
    seen = set()
    for number in range(2):
        out = tmp_path / f"{number}{suffix}"
        run = gapbook("compare", "fern-98", "moraine-98", "--out", str(out))
        assert (run.returncode, run.stdout) == (0, f"Wrote {out}\n"), run.stderr
        seen.add(out.read_bytes())
    (bytes_,) = seen
    assert bytes_.startswith(start)


@pytest.mark.slow
def test_the_document_of_a_page(tmp_path):
    out = tmp_path / "page.svg"
    run = gapbook("compare", "Fern-98", "16X19, 98 sq in", "--out", str(out), "--json", "--dark")
    assert json.loads(run.stdout) == {"written": [str(out)], "beds": ["fern-98", "16x19 98 sq in"]}


def descriptor_without_sources(tmp_path: Path) -> Path:
    root = tmp_path / "package"
    shutil.copytree(ROOT / "catalogue", root / "catalogue")
    shutil.copytree(ROOT / "schema", root / "schema")
    document = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
    document.pop("sources")
    (root / "datapackage.json").write_text(json.dumps(document), encoding="utf-8")
    return root


def test_the_caution_is_the_packages_own(tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr(review, "review", lambda *_, caution, **__: said.append(caution))
    from gapbook.commands.app import build

    for root in (ROOT, descriptor_without_sources(tmp_path)):
        arguments = ["compare", "fern-98", "moraine-98", "--out", str(tmp_path / "page.png"), "--package", str(root)]
        build()(arguments, standalone_mode=False)
    assert re.search("invented", said[0], re.IGNORECASE)
    assert said[1] is None


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("fern-98", "moraine-98", "--out", "page.gif"), "no picture file"),
        (("fern-98", "moraine-98", "--out", "none/page.png"), "no folder none"),
        (("fern-98", "moraine-98", "drumlin-98", "tarn-95", "16x19", "--out", "page.png"), "a page holds at most 4 beds"),
        (("fern-98", "moraine-98", "--dark"), "--dark is for a page"),
        (("fern-98", "fern-98", "--out", "page.png"), "two different beds"),
    ],
)
def test_what_no_page_can_be_made_of(tmp_path, arguments, said):
    run = gapbook("compare", *arguments, "--package", str(ROOT), cwd=tmp_path)
    assert (run.returncode, run.stdout) == (2, "")
    assert said in run.stderr
    assert not list(tmp_path.iterdir())


def test_counts_in_a_folder_are_drawn_as_not_measured(tmp_path):
    small = own()
    small.frame("attic-97", 18, 19, 625)
    folder = sent(small, tmp_path / "counts")
    _, made = page_of(("mine", "fern-98"), "centre", None, False, folder)
    assert sum("not measured" in text.get_text() for text in texts(made)) == 1
