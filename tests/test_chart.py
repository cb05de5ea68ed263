"""Charts of two traits: what stands on them against the tables, names that keep apart, marks, bytes, errors."""

from __future__ import annotations

import json
import random
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_rows import ROOT, demo, derived
from gapbook.commands.app import build
from gapbook.errors import GapbookError
from gapbook.pictures import chart as picture
from gapbook.pictures import figure
from gapbook.questions.chart_data import Axis, ChartData, Point, axis, chart_data, wanted
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


def run(*arguments):
    build()(list(arguments), standalone_mode=False)


@pytest.mark.parametrize(
    ("text", "units", "label", "column", "factor"),
    [
        ("centre mesh", None, "mesh in the centre, mm", "openness_centre", 0.1),
        ("mesh", None, "mesh in the centre, mm", "openness_centre", 0.1),
        ("Sides Mesh", "imperial", "mesh in the sides, in", "openness_sides", 0.1 / 25.4),  # NIST SP 811: 25.4 mm
        ("mesh tip", None, "mesh at the tip, mm", "openness_tip", 0.1),
        ("head area", None, "head area, sq in", "head_area_cm2", 1 / 6.4516),  # NIST SP 811: 1 in² = 6.4516 cm²
        ("head_area", "metric", "head area, cm²", "head_area_cm2", 1.0),
        ("side-opening", None, "side opening, %", "side_opening", 100.0),
        ("balance", None, "balance (head light is negative), points", "balance_points", 1.0),
        ("mass", "imperial", "mass, oz", "mass_g", 1 / 28.349523125),  # NIST SP 811
        ("drilling_main", None, "drilling, mains", "drilling_main", 1.0),
        ("inertia_butt_kgcm2", None, "inertia about the butt, kg·cm²", "inertia_butt_kgcm2", 1.0),
        ("main pitch", None, "main pitch, mm", "main_pitch_centre_mm", 1.0),
        ("release year", None, "release year", "release_year", 1.0),
        ("stiffness", None, "stiffness, centre, N/mm", "stiffness_centre_n_per_mm", 1.0),
        ("centre stiffness", None, "stiffness, centre, N/mm", "stiffness_centre_n_per_mm", 1.0),
        ("Stiffness Middle", None, "stiffness, centre, N/mm", "stiffness_centre_n_per_mm", 1.0),
        ("left-side stiffness", None, "stiffness, left, N/mm", "stiffness_left_n_per_mm", 1.0),
        ("tip stiffness", "imperial", "stiffness, tip, N/mm", "stiffness_tip_n_per_mm", 1.0),
    ],
)
def test_traits_are_named_as_in_questions_or_by_column(store, text, units, label, column, factor):
    found = axis(store, text, units)
    assert (found.label, found.column) == (label, column)
    assert found.factor == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("maains", ["mains"]),  # mains, of scores and of frames, is one name
        ("masss", ["mass"]),
        ("swingweit", ["swingweight"]),
        ("opening", ["side opening", "openness"]),
        ("drilling", ["main drilling", "cross drilling"]),
        ("bed_stiffness", ["centre stiffness"]),
        ("sides stiffness", ["centre stiffness"]),
        ("stiffnes", ["centre stiffness"]),
        ("opennes_centre", ["openness"]),
        ("haed area", ["head area"]),
        ("frequency", ["frequency_hz"]),
        ("n_per_mm", []),
        ("xyzzy", []),
    ],
)
def test_names_offered_are_of_different_figures_the_obvious_first(store, text, offered):
    with pytest.raises(GapbookError) as caught:
        axis(store, text)
    fix = caught.value.problems[0].fix
    assert fix.split(": ")[1].split(", ")[: len(offered)] == offered
    if offered:
        names = fix.removeprefix("Nearest: ").split(", ")
        columns = [axis(store, name).column for name in names]
        assert len(set(columns)) == len(columns)
    else:
        assert fix.startswith("Try: ")


def test_points_are_the_tables_rows_with_two_standard_uncertainties(store):
    found = chart_data(store, "centre mesh", "swingweight")
    scores, handling = derived("scores"), derived("handling")
    both = [name for name in scores if handling.get(name, {}).get("swingweight_kgcm2") and handling[name]["strung"] == "true"]
    assert [point.frame_id for point in found.points] == sorted(both)
    assert found.left_out == len(scores) - len(both)
    for point in found.points:
        score, swing = scores[point.frame_id], handling[point.frame_id]
        assert point.x == pytest.approx(float(score["openness_centre"]) / 10, rel=1e-12)
        assert point.u_x == pytest.approx(2 * float(score["u_openness_centre"]) / 10, rel=1e-12)  # k = 2, JCGM 100
        assert point.y == float(swing["swingweight_kgcm2"])
        assert point.u_y == pytest.approx(2 * float(swing["u_swingweight_kgcm2"]), rel=1e-12)
        assert point.pattern == f"{score['mains']}×{score['crosses']}"
        assert point.measured == (score["basis"] == "measured")


def test_pitch_of_a_frame_is_the_geometric_mean_of_its_copies(store):
    found = {point.frame_id: point for point in chart_data(store, "main pitch", "head area").points}
    copies = [float(row["main_pitch_centre_mm"]) for row in derived("beds").values() if row["frame_id"] == "fern-98"]
    assert len(copies) == 3
    product = copies[0] * copies[1] * copies[2]
    assert found["fern-98"].x == pytest.approx(product ** (1 / 3), rel=1e-9)
    assert found["fern-98"].u_x is None


def test_every_pattern_has_its_own_shape_in_every_chart(store):
    shapes = picture.shapes_of(chart_data(store, "head area", "mesh").points)
    patterns = Counter(f"{row['mains']}×{row['crosses']}" for row in demo("frames"))
    assert set(shapes) == set(patterns)
    assert len(set(shapes.values())) == len(patterns)
    assert next(iter(shapes)) == patterns.most_common(1)[0][0]
    some = picture.shapes_of(chart_data(store, "head area", "mesh", only=wanted(store, None, ["20x21", "16x18"])).points)
    assert set(some) == {"20×21", "16×18"}
    assert some == {pattern: shapes[pattern] for pattern in some}


def test_patterns_that_are_not_listed_have_shapes_by_rule():
    assert len(set(picture.SHAPES.values())) == len(picture.SHAPES)
    assert picture.shape_of("16×19") == "o"
    odd = [picture.shape_of(f"{mains}×{crosses}") for mains in (13, 15, 19) for crosses in range(14, 22)]
    assert set(odd) == set(picture.OTHERS)
    assert picture.shape_of("15×17") == picture.OTHERS[(7 * 15 + 17) % len(picture.OTHERS)] == picture.shape_of("15×17")


def test_a_legend_says_what_hollow_marks_are_if_there_are_any(store):
    for only, said in ((None, True), (wanted(store, "measured only"), False)):
        made, *_ = drawn(chart_data(store, "head area", "mesh", only=only))
        texts = [text.get_text() for text in made.axes[0].get_legend().get_texts()]
        assert ("hollow: counted,\nnot measured" in texts) == ("filled: measured" in texts) == said


@pytest.mark.parametrize(
    ("question", "pattern", "head", "words"),
    [
        ("18x20, 98 sq in", [], None, "head 98 sq in, 18 mains, 20 crosses"),
        (None, ["16x19", "18x20"], "95..98", "head 95 to 98 sq in, 16x19 or 18x20"),
        ("measured only", ["16x19"], None, "measured only, 16 mains, 19 crosses"),
        ("tighter than fern-98", [], "98", "tighter centre than fern-98, head 98 sq in"),
    ],
)
def test_a_question_and_options_choose_the_frames(store, catalogue, question, pattern, head, words):
    only = wanted(store, question, pattern, head)
    assert only.words == words
    asked = {entry.frame_id for entry in catalogue.ask(words).matches}
    found = chart_data(store, "head area", "mesh", "marl-100", only=only)
    assert {point.frame_id for point in found.points} == asked | {"marl-100"}
    assert found.asked == words


def test_names_nearest_the_reference_come_first(store):
    found = chart_data(store, "head area", "mesh", "fern-98")
    _, named, names, *_ = drawn(found, most=12)
    assert named == 12
    told = {text.get_text() for text in names}
    near = {name: abs(float(row["openness_centre"]) - 112.2) for name, row in derived("scores").items()}
    assert "fern-98" in told
    assert not {"burdock-89", "yarrow-105", "meadow-110"} & told
    assert max(near[name] for name in told) < 8.0 < max(near.values())


@given(st.lists(st.tuples(st.integers(0, 6), st.floats(0, 60)), min_size=2, max_size=9))
def test_marks_that_would_lie_over_each_other_are_moved_sideways_only(places):
    """Of the 19 places of a mark each of 8 others can take two at most, so that one is free."""
    spots = [(100.0 * x, y) for x, y in places]
    moved = picture.spread(spots, 8.0, (True, False), [0])
    assert moved[0] == spots[0]
    for number, ((x, y), (before, level)) in enumerate(zip(moved, spots, strict=True)):
        assert y == level
        assert abs(x - before) <= 8.0 * picture.SIDEWAYS + 1e-9
        assert all(max(abs(x - a), abs(y - b)) >= 7.98 for a, b in moved[:number])
    assert picture.spread(spots[:1] + spots, 8.0, (False, False)) == spots[:1] + spots


def drawn(found, most=40, dark=False):
    colours = figure.theme(dark)
    with figure.style(colours):
        made, named = picture.chart_figure(found, colours, most, "Invented data")
        made.canvas.draw()
        renderer = figure.renderer(made)
        axes = made.axes[0]
        names = [text for text in axes.texts if text.get_gid() == "name"]
        boxes = [text.get_window_extent(renderer) for text in names]
        marks = [spot for one in axes.collections if one.get_gid() == "marks" for spot in one.get_offsets().tolist()]
        marks = axes.transData.transform(marks)
        inner = axes.get_window_extent(renderer)
    return made, named, names, boxes, marks, inner


@pytest.mark.slow_after(3)
@pytest.mark.parametrize("against", ["fern-98", None])  # a reference's lines read the axes' limits, so that they are fresh
@pytest.mark.parametrize(
    ("x", "y", "least"),
    [
        ("head area", "mesh", 20),
        ("mesh", "side opening", 20),
        ("swingweight", "mass", 20),
        ("head area", "release_year", 20),
        ("mains", "crosses", 8),  # few marks, many frames on each
        ("head area", "mains", 8),
        ("release_year", "length_mm", 8),
        ("beam_mm", "crosses", 8),
    ],
)
def test_names_keep_clear_of_each_other_of_marks_and_of_the_edge(store, x, y, least, against):
    found = chart_data(store, x, y, against)
    _, named, names, boxes, marks, inner = drawn(found)
    assert named == len(names) >= least
    assert against is None or against in {text.get_text() for text in names}
    met = [(i, j) for i in range(len(boxes)) for j in range(i) if boxes[i].overlaps(boxes[j])]
    assert met == []
    for one in boxes:
        assert not any(one.x0 < px < one.x1 and one.y0 < py < one.y1 for px, py in marks)
        assert inner.x0 <= one.x0 <= one.x1 <= inner.x1 + 1
        assert inner.y0 <= one.y0 <= one.y1 <= inner.y1 + 1


def test_the_words_around_stay_on_the_page_and_apart(store):
    found = chart_data(store, "head area", "mesh", "fern-98")
    made, *_ = drawn(found)
    renderer = figure.renderer(made)
    boxes = [text.get_window_extent(renderer) for text in made.axes[1].texts]
    boxes.append(made.axes[0].get_legend().get_window_extent(renderer))
    boxes += [label.get_window_extent(renderer) for label in (made.axes[0].xaxis.label, made.axes[0].yaxis.label)]
    for number, one in enumerate(boxes):
        assert 0 <= one.x0 <= one.x1 <= made.bbox.width
        assert 0 <= one.y0 <= one.y1 <= made.bbox.height
        assert not any(one.overlaps(other) for other in boxes[:number])


def crowd(count):
    rng = random.Random(3)
    points = tuple(
        Point(f"frame-{number}", rng.gauss(11, 1), rng.gauss(320, 10), 0.2, 6.0, "16×19", True) for number in range(count)
    )
    return ChartData(
        Axis("mesh", "mm", "scores", "x", 1.0), Axis("swingweight", "kg·cm²", "handling", "y", 1.0), points, 0, None
    )


def test_a_large_package_has_no_more_names_than_asked():
    _, named, names, boxes, *_ = drawn(crowd(3000), most=25)
    assert 5 <= named == len(names) <= 25
    assert not any(boxes[i].overlaps(boxes[j]) for i in range(len(boxes)) for j in range(i))


@given(st.lists(st.tuples(st.floats(0, 600), st.floats(0, 400)), min_size=1, max_size=40))
def test_no_two_places_share_ground(points):
    sizes = [(40.0 + 3 * (number % 7), 9.0) for number in range(len(points))]
    bounds = (-50.0, -50.0, 650.0, 450.0)
    order = picture.outermost_first(points)
    assert sorted(order) == list(range(len(points)))
    placed = picture.place(points, sizes, order, bounds, 3.0, 30)
    assert placed
    assert len(placed) <= 30
    for number, one in enumerate(placed):
        left, low, right, top = one.box
        assert (right - left, top - low) == pytest.approx(sizes[one.point])
        for x, y in points:
            assert not (left < x < right and low < y < top)
        for other in placed[:number]:
            a = other.box
            assert right <= a[0] or a[2] <= left or top <= a[1] or a[3] <= low


@pytest.mark.slow
def test_same_chart_same_bytes(tmp_path):
    for name in ("a.svg", "b.svg"):
        run("chart", "head area", "mesh", "--against", "fern-98", "--out", str(tmp_path / name), "--package", str(ROOT))
    first = (tmp_path / "a.svg").read_bytes()
    assert first == (tmp_path / "b.svg").read_bytes()
    assert b"<dc:date>" not in first


@pytest.mark.parametrize(("suffix", "head"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
@pytest.mark.slow_after(1)
def test_the_suffix_says_how(tmp_path, capsys, suffix, head):
    out = tmp_path / f"c.{suffix}"
    run("chart", "mesh", "side opening", "--out", str(out), "--json", "--dark", "--package", str(ROOT))
    document = json.loads(capsys.readouterr().out)
    assert out.read_bytes().startswith(head)
    assert list(document) == ["written", "x", "y", "frames", "left_out", "named", "question"]
    assert document["frames"] + document["left_out"] == len(derived("scores"))


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("mesh", "swingweit", "--out", "a.svg"), "unknown-trait"),
        (("mesh", "left swingweight", "--out", "a.svg"), "unknown-trait"),
        (("mesh", "u_openness_centre", "--out", "a.svg"), "unknown-trait"),
        (("mesh", "mass", "--out", "a.txt"), "picture-suffix"),
        (("mesh", "mass", "--against", "fern-89", "--out", "a.svg"), "unknown-frame"),
        (("mesh", "mass", "--against", "fern-98-a", "--out", "a.svg"), "not-a-frame"),
        (("mesh", "mass", "--against", str(ROOT / "catalogue"), "--out", "a.svg"), "not-a-frame"),
        (("mesh", "sides stiffness", "--out", "a.svg"), "unknown-trait"),
        (("mesh", "side opening", "--against", "clover-98", "--out", "a.svg"), "reference-blank"),
        (("mesh", "mass", "--question", "frobnicated ones", "--out", "a.svg"), "unknown-clause"),
        (("mesh", "mass", "--head", "98..95", "--out", "a.svg"), "empty-range"),
        (("mesh", "mass", "--pattern", "11x19", "--out", "a.svg"), "empty-chart"),
    ],
)
@pytest.mark.slow_after(5)
def test_what_cannot_be_charted_is_refused(tmp_path, monkeypatch, arguments, code):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(GapbookError) as caught:
        run("chart", *arguments, "--package", str(ROOT))
    assert caught.value.problems[0].code == code
    assert list(tmp_path.iterdir()) == []


def test_a_copy_marked_is_refused_with_its_frame(store):
    with pytest.raises(GapbookError) as caught:
        chart_data(store, "mesh", "mass", "fern-98-a")
    assert caught.value.problems[0].fix == "--against fern-98"


def test_the_reference_may_be_in_any_case(store):
    assert chart_data(store, "mesh", "mass", "FERN-98").against == "fern-98"
