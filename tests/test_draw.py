"""Drawn beds: geometry against shapely and hand arithmetic, what stands in the SVG, bytes that repeat, errors."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

from demo_rows import ROOT, derived
from gapbook.commands.app import build
from gapbook.errors import GapbookError
from gapbook.pictures import draw as picture
from gapbook.pictures import figure
from gapbook.pictures.bed import woven
from gapbook.questions.bed_data import centre_verdict, drawn_bed
from gapbook.science.bed_geometry import (
    BedStrings,
    GapUncertainty,
    Hoop,
    differences,
    meshes,
    outline,
    pitch_between,
    size_over,
    windows,
)
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store
from small import even

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


@pytest.fixture(scope="module")
def page(store, tmp_path_factory):
    """The SVG of one bed, and the bed."""
    bed = drawn_bed(store, "fern-98-a")
    out = tmp_path_factory.mktemp("drawn") / "bed.svg"
    picture.draw(bed, None, out, dark=False, caution="Invented data")
    return ET.parse(out).getroot(), bed


def strings_of(mains, slopes, crosses):
    return BedStrings(np.array(mains, float), np.array(slopes, float), np.array(crosses, float))


@st.composite
def beds(draw):
    gaps = st.lists(st.floats(6.0, 25.0), min_size=3, max_size=20)
    across, along = draw(gaps), draw(gaps)
    x = np.cumsum(across) - sum(across) / 2
    fan = draw(st.floats(-0.0005, 0.0005))
    y = (np.cumsum(along) - sum(along) / 2)[::-1]
    return strings_of(x, fan * x, y)


@given(beds())
def test_meshes_fill_what_lies_between_the_outer_strings(strings):
    found = meshes(strings)
    cells = [Polygon(corners) for column in found.corners for corners in column]
    x = strings.mains_at(strings.cross_y)
    around = Polygon([(x[0, 0], strings.cross_y[0]), (x[-1, 0], strings.cross_y[0]),
                      (x[-1, -1], strings.cross_y[-1]), (x[0, -1], strings.cross_y[-1])])  # fmt: skip
    assert sum(cell.area for cell in cells) == pytest.approx(around.area, rel=1e-9)
    assert unary_union(cells).area == pytest.approx(around.area, rel=1e-9)  # and none lies over another
    # The main gap at half height times the cross gap is a trapezium's area, so size² is it, shapely's.
    assert (found.size**2).ravel() == pytest.approx([cell.area for cell in cells], rel=1e-9)


@given(beds(), st.floats(200, 260), st.floats(1.8, 2.6))
@pytest.mark.slow
def test_strings_end_on_the_hoop_and_pieces_leave_the_upper_string_clear(strings, width, exponent):
    hoop = Hoop(width, 1.33 * width, exponent)
    edge = Polygon(outline(hoop, 4000))
    gauge = 1.25
    found = woven(strings, hoop, gauge)
    for family in (found.mains, found.crosses):
        for pieces in family:
            for piece in pieces:
                assert edge.buffer(0.1).contains(LineString(piece))
    mains = [LineString(piece) for pieces in found.mains for piece in pieces]
    crosses = [LineString(piece) for pieces in found.crosses for piece in pieces]
    # At a crossing one of the two is whole and the other is not there, so that no two pieces meet inside the hoop.
    far = edge.buffer(-4.0)
    assert not any(a.intersects(b) and far.contains(a.intersection(b)) for a in mains for b in crosses)


def test_pieces_are_counted_by_hand():
    # 3 mains, 3 crosses, all nine crossings inside: main i is cut where i + j is odd, counted from 0:
    # mains 0, 1, 2 at 1, 2, 1 crossings, so 2 + 3 + 2 pieces; crosses at 2, 1, 2 crossings, so 3 + 2 + 3.
    found = woven(strings_of([-20, 0, 20], [0, 0, 0], [20, 0, -20]), Hoop(240, 320, 2.0), 1.25)
    assert [len(pieces) for pieces in found.mains] == [2, 3, 2]
    assert [len(pieces) for pieces in found.crosses] == [3, 2, 3]
    (low, high), (above, top) = found.mains[0]
    assert high[1] == pytest.approx(0 - 0.9 * 1.25)
    assert above[1] == pytest.approx(0 + 0.9 * 1.25)
    # The ellipse's chord at x = 20: ±160·√(1 − (20/120)²) = ±157.76 (hand).
    assert (low[1], top[1]) == pytest.approx((-157.762, 157.762), abs=1e-3)


def test_windows_are_those_of_the_definition():
    # Contract: squares of 67.0 mm about (0, 0), (∓60, 0), (0, ±80).
    expected = {"centre": (-33.5, -33.5), "left": (-93.5, -33.5), "right": (26.5, -33.5), "tip": (-33.5, 46.5),
                "throat": (-33.5, -113.5)}  # fmt: skip
    assert {zone: found[:2] for zone, found in windows().items()} == expected
    assert {found[2] for found in windows().values()} == {67.0}


def test_pitch_of_another_bed_by_hand():
    strings = np.array([-20.0, -10.0, 0.0, 12.0, 24.0])
    # From −5 to 6: 5/10 + 6/12 = 1 gap in 11 mm.
    assert pitch_between(strings, -5.0, 6.0) == pytest.approx(11.0)
    # From 18 to 26 the strings reach to 24: 6 mm of 8 is 75 %, under the 80 % that are needed.
    assert np.isnan(pitch_between(strings, 18.0, 26.0))


def test_a_bed_differs_from_itself_by_nothing_and_from_an_even_one_by_its_pitch():
    bed = strings_of(np.arange(-60, 61, 12.0), np.zeros(11), np.arange(60, -61, -12.0))
    found = meshes(bed)
    assert size_over(bed, found.corners) == pytest.approx(found.size)
    other = strings_of(np.arange(-90, 91, 9.0), np.zeros(21), np.arange(96, -97, -16.0))
    assert size_over(other, found.corners) == pytest.approx(12.0 * np.ones((10, 10)))  # √(9 · 16)


def test_a_difference_has_the_uncertainty_of_the_gaps_it_is_made_of():
    """By hand: meshes of 12 × 12 mm over ones of 10 × 10 mm; gaps are known to 0.3 and 0.4 mm, of the other bed to 0.6 and 0.
    Relative: ½·√(0.3² + 0.4²)/12 = 0.25/12 and ½·0.6/12 = 0.3/12, of 12 and of 10 mm: √(0.25² + 0.25²) mm.
    """
    bed = strings_of(np.arange(-24, 25, 12.0), np.zeros(5), np.arange(24, -25, -12.0))
    other = strings_of(np.arange(-60, 61, 10.0), np.zeros(13), np.arange(60, -61, -10.0))
    found = differences(bed, other, GapUncertainty(0.3, 0.4), GapUncertainty(0.6, 0.0))
    assert found.size == pytest.approx(2.0 * np.ones((4, 4)))
    assert found.u == pytest.approx(0.25 * 2**0.5 * np.ones((4, 4)))


@pytest.mark.parametrize(("name", "reading"), [("fern-98-a", 0.1), ("moraine-98-a", 0.25 * 2**0.5)])
def test_gaps_are_known_to_two_strings_out_of_place_and_a_reading(store, name, reading):
    """Contract, section 4: a string is placed to 0.3 mm, a calliper reads a gap to 0.10 mm and a rule each mark to 0.25 mm;
    what the package's own repeats show is less, so the reading lies between nothing and that.
    """
    for u in drawn_bed(store, name).u_gap:
        assert 0.3 * 2**0.5 < u < np.hypot(0.3 * 2**0.5, reading)


@pytest.mark.parametrize(
    ("name", "other", "title"),
    [
        ("fern-98", "moraine-98", "fern-98 is more open than moraine-98"),
        ("moraine-98", "fern-98", "moraine-98 is tighter than fern-98"),
        ("fern-98", "rowan-97", "fern-98 and rowan-97 are too close to call"),
    ],
)
def test_the_title_says_verdict_and_direction_and_undecided_meshes_have_no_colour(store, name, other, title):
    bed, second = drawn_bed(store, name), drawn_bed(store, other)
    with figure.style(figure.LIGHT):
        made = picture.bed_figure(bed, second, figure.LIGHT, None, centre_verdict(store, name, other))
    assert title in {text.get_text() for axes in made.axes for text in axes.texts}
    (coloured,) = [one for axes in made.axes for one in axes.collections if one.get_gid() == "meshes"]
    found = differences(bed.strings, second.strings, bed.u_gap, second.u_gap)
    decided = np.abs(found.size) > 2.0 * found.u
    assert len(coloured.get_paths()) == decided.sum()
    np.testing.assert_allclose(np.sort(np.asarray(coloured.get_array())), np.sort(found.size[decided]))
    assert coloured.get_clim() == (-2.0, 2.0)


def test_stiffness_has_a_palette_of_its_own_that_says_which_end_is_stiff(store):
    with figure.style(figure.LIGHT):
        made = picture.bed_figure(drawn_bed(store, "fern-98", True), None, figure.LIGHT, None)
    texts = [text.get_text() for axes in made.axes for text in axes.texts]
    assert {"← softer", "stiffer →"} <= set(texts)
    struck = drawn_bed(store, "fern-98", True).stiffness.zones["centre"]
    assert any(text.startswith(f"stiffness of this copy in the centre {struck:.1f} N/mm") for text in texts)
    assert figure.STIFFNESSES != figure.SIZES


def group(root, name):
    return next(item for item in root.iter(f"{SVG}g") if item.get("id") == name)


def numbers(text):
    return [float(one) for one in re.findall(r"-?\d+(?:\.\d+)?", text)]


def in_mm(root, bed, points):
    """Points of the page [pt] in mm of frame from the head's centre: 2 mm of frame a mm of paper, the hoop's middle at 0."""
    shape = next(group(root, "hoop").iter(f"{SVG}path")).get("d")
    hoop = np.array(numbers(shape)).reshape(-1, 2)
    middle = (hoop.min(axis=0) + hoop.max(axis=0)) / 2
    return (np.array(points) - middle) / 72 * 25.4 * 2 * [1, -1]


def test_svg_holds_every_piece_and_window_where_it_belongs(page):
    root, bed = page
    pieces = woven(bed.strings, bed.hoop, bed.gauge_mm)
    for name, family in (("mains", pieces.mains), ("crosses", pieces.crosses)):
        drawn = list(group(root, f"{name}-edge").iter(f"{SVG}path"))
        assert len(drawn) == sum(map(len, family))
    row = derived("beds")["fern-98-a"]
    shape = in_mm(root, bed, np.array(numbers(next(group(root, "hoop").iter(f"{SVG}path")).get("d"))).reshape(-1, 2))
    extent = shape.max(axis=0) - shape.min(axis=0)
    assert extent == pytest.approx([float(row["head_width_mm"]), float(row["head_length_mm"])], abs=0.02)
    for zone, corner in (("centre", (-33.5, -33.5)), ("left", (-93.5, -33.5)), ("tip", (-33.5, 46.5))):
        path = list(group(root, f"window-{zone}").iter(f"{SVG}path"))[-1].get("d")
        corners = in_mm(root, bed, np.array(numbers(path)).reshape(-1, 2))
        assert corners.min(axis=0) == pytest.approx(corner, abs=0.02)
        assert corners.max(axis=0) - corners.min(axis=0) == pytest.approx([67.0, 67.0], abs=0.02)


def test_strings_stand_where_the_readme_says_they_do(page):
    root, bed = page
    ends = [numbers(path.get("d")) for path in group(root, "mains-edge").iter(f"{SVG}path")]
    found = in_mm(root, bed, np.array(ends).reshape(-1, 2))
    # README: the mains of fern-98-a stand at … −37.84, −26.11, −15.19, −5.02, 4.71, 14.58, 26.07, 38.17 … mm.
    for x in (-37.84, -26.11, -15.19, -5.02, 4.71, 14.58, 26.07, 38.17):
        assert np.abs(found[:, 0] - x).min() < 0.02
    ends = [numbers(path.get("d")) for path in group(root, "crosses-edge").iter(f"{SVG}path")]
    found = in_mm(root, bed, np.array(ends).reshape(-1, 2))
    for y in (35.69, 23.15, 11.10, -0.14, -11.22, -21.88, -34.42):
        assert np.abs(found[:, 1] - y).min() < 0.02


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(
    ("name", "other", "dark", "struck"),
    [("fern-98", None, False, False), ("tarn-100-a", "yarrow-105", True, False), ("burdock-89", None, False, True)],
)
def test_same_bed_same_bytes(store, tmp_path, name, other, dark, struck):
    found = []
    for number in range(2):
        out = tmp_path / f"{number}.svg"
        second = drawn_bed(store, other) if other else None
        picture.draw(drawn_bed(store, name, struck), second, out, dark=dark, caution=None)
        found.append(out.read_bytes())
    assert found[0] == found[1]
    assert b"<dc:date>" not in found[0]


@pytest.mark.parametrize(
    ("name", "other", "struck"),
    [("burdock-89", None, False), ("meadow-110", None, True), ("fern-98", "yarrow-105", False), ("yarrow-100", None, False)],
)
@pytest.mark.slow_after(1)
def test_no_words_lie_over_others_or_leave_the_page(store, name, other, struck):
    with figure.style(figure.LIGHT):
        bed, second = drawn_bed(store, name, struck), drawn_bed(store, other) if other else None
        made = picture.bed_figure(bed, second, figure.LIGHT, "Invented data")
        made.canvas.draw()
        texts = [text for axes in made.axes for text in axes.texts if text.get_text()]
        texts += [text for axes in made.axes for text in (axes.xaxis.label, axes.yaxis.label) if text.get_text()]
        boxes = [text.get_window_extent(figure.renderer(made)) for text in texts]
        width, height = made.bbox.width, made.bbox.height
    for one in boxes:
        assert 0 <= one.x0 <= one.x1 <= width
        assert 0 <= one.y0 <= one.y1 <= height
    met = [
        (texts[i].get_text(), texts[j].get_text())
        for i in range(len(boxes)) for j in range(i) if boxes[i].overlaps(boxes[j])
    ]  # fmt: skip
    assert met == []


def test_figures_of_a_copy_are_called_by_the_copy(store):
    with figure.style(figure.LIGHT):
        contrast = centre_verdict(store, "fern-98", "moraine-98")
        made = picture.bed_figure(drawn_bed(store, "fern-98"), drawn_bed(store, "moraine-98"), figure.LIGHT, None, contrast)
    texts = [text.get_text() for axes in made.axes for text in (*axes.texts, axes.xaxis.label) if text.get_text()]
    beds = derived("beds")
    for copy in ("fern-98-a", "moraine-98-a"):
        assert copy in texts
        at = [text for text in texts if text.startswith(f"{float(beds[copy]['openness_centre']) / 10:.2f} ± ")]
        assert len(at) == 1
    assert "local mesh of fern-98-a less that of moraine-98-a, mm" in texts
    assert {"← tighter", "more open →"} <= set(texts)
    assert not {"fern-98", "moraine-98"} & set(texts)
    assert "mesh of each copy in 67 mm windows, mm (±, k = 2)" in texts


def test_figures_of_one_bed_say_that_they_are_of_the_copy(store):
    with figure.style(figure.LIGHT):
        made = picture.bed_figure(drawn_bed(store, "fern-98"), None, figure.LIGHT, None)
    texts = {text.get_text() for axes in made.axes for text in axes.texts}
    assert {"window, 67 mm", "mesh of this copy, mm (±, k = 2)"} <= texts


@pytest.mark.parametrize(("name", "specimen", "whole"), [("FERN-98", "fern-98-a", True), ("Fern-98-B", "fern-98-b", False)])
def test_an_id_may_be_in_any_case(store, name, specimen, whole):
    bed = drawn_bed(store, name)
    assert (bed.specimen_id, bed.scores is not None) == (specimen, whole)


def test_gaps_are_printed_one_a_gap(store):
    with figure.style(figure.LIGHT):
        made = picture.bed_figure(drawn_bed(store, "burdock-89"), None, figure.LIGHT, None)
    gaps = [(text.get_gid(), text.get_text()) for axes in made.axes for text in axes.texts if text.get_gid()]
    assert sum(name == "main-gap" for name, _ in gaps) == 19  # 20 × 21
    assert sum(name == "cross-gap" for name, _ in gaps) == 20


def test_formulae_in_a_name_are_letters(tmp_path):
    small = even()
    small.tables["frames"][0]["model"] = "$x^2$ \\frac {"
    small.write(tmp_path / "package")
    run("derive", "--package", str(tmp_path / "package"))
    run("draw", "one", "--package", str(tmp_path / "package"), "--out", str(tmp_path / "one.svg"))
    assert (tmp_path / "one.svg").read_bytes().startswith(b"<?xml")


def run(*arguments):
    build()(list(arguments), standalone_mode=False)


@pytest.mark.parametrize(("suffix", "head"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
@pytest.mark.slow_after(1)
def test_the_suffix_says_how(tmp_path, capsys, suffix, head):
    out = tmp_path / f"bed.{suffix.upper()}"
    run("draw", "fern-98", "--out", str(out), "--json")
    assert out.read_bytes().startswith(head)
    assert json.loads(capsys.readouterr().out) == {"written": [str(out)], "specimens": ["fern-98-a"]}
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("clover-98", "--out", "a.svg"), "not-measured"),
        (("fern-98", "--with", "clover-98", "--out", "a.svg"), "not-measured"),
        (("fern-98", "--with", "fern-98", "--out", "a.svg"), "two-beds"),
        (("fern-98", "--with", "fern-98-a", "--out", "a.svg"), "two-beds"),  # the frame's first copy
        (("fernn-98", "--out", "a.svg"), "unknown-frame"),
        (("fern-98", "--out", "a.gif"), "picture-suffix"),
        (("fern-98", "--out", "bed"), "picture-suffix"),
        (("fern-98", "--out", "nowhere/a.svg"), "no-folder"),
        (("fern-98", "--with", "tarn-100", "--stiffness", "--out", "a.svg"), "bad-option"),
    ],
)
def test_what_cannot_be_drawn_is_refused(tmp_path, monkeypatch, arguments, code):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(GapbookError) as caught:
        run("draw", *arguments, "--package", str(ROOT))
    assert caught.value.problems[0].code == code
    assert list(tmp_path.iterdir()) == []
