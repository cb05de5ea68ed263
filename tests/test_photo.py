"""Beds read off rendered photographs: pages, files, the camera, combs, profiles, the adjustment, refusals and the contribution.

The photographs are rendered by tests/photographed.py, which shares nothing with the reader but the printed page.
"""

from __future__ import annotations

import csv
import io
import json
import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import photographed
from gapbook.commands.app import build
from gapbook.errors import GapbookError
from gapbook.photo import adjustment, camera, combs, layout, marks, opening, profiles, reading, refusals
from gapbook.photo.flatten import Grid
from gapbook.questions import photographing

A4, LETTER = layout.PAPERS["a4"], layout.PAPERS["letter"]
SCENE = {"distance": 540.0, "tilt": 4.0, "bow": (0.2, -0.1), "focal": 27.5}


def invoke(*arguments):
    return CliRunner().invoke(build(["pages", "photo", "check"]), [str(one) for one in arguments])


# Pages


@pytest.mark.parametrize(("paper", "bar"), [("a4", 270.0), ("letter", 243.0)])
@pytest.mark.slow_after(1)
def test_pages_say_how_long_the_bar_is(tmp_path, paper, bar):
    run = invoke("pages", "--out", tmp_path / "pages.pdf", "--paper", paper, "--json")
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["bar_mm"] == bar
    text = (tmp_path / "pages.pdf").read_bytes()
    assert text.startswith(b"%PDF")
    assert text.count(b"/Type /Page\n") + text.count(b"/Type /Page ") == 2


@pytest.mark.parametrize("option", [("--paper", "a5"), ("--tint", "grey"), ("--out", "pages.doc")])
def test_pages_refuse_what_they_do_not_know(tmp_path, option):
    run = invoke("pages", "--out", tmp_path / "pages.pdf", *option)
    assert isinstance(run.exception, GapbookError)
    assert run.exception.problems[0].found in (option[1], ".doc")


def test_no_code_comes_twice_and_all_lie_on_the_page():
    numbers = np.concatenate([layout.codes(paper, side).number for paper in (A4, LETTER) for side in layout.SIDES])
    assert len(set(numbers.tolist())) == len(numbers) == 2 * 30 + 2 * 27
    assert numbers.max() < 250  # the dictionary has so many
    for paper in (A4, LETTER):
        for side in layout.SIDES:
            points = layout.codes(paper, side).corners.reshape(-1, 2)
            assert np.all(np.abs(points[:, 0]) < paper.width - 5.0)
            assert np.all(np.abs(points[:, 1]) < paper.height / 2.0 - 5.0)


@pytest.mark.parametrize("side", layout.SIDES)
def test_corners_of_a_drawn_page_are_found_where_they_were_drawn(side):
    drawn = photographed.page_texture(side, "blue")
    grey = (255 * photographed.encoded(drawn.mean(axis=2))).astype(np.uint8)
    padded = np.pad(grey, 60, constant_values=200)
    import cv2

    number, codes = marks._codes(cv2, padded)
    page = marks._page(cv2, padded, number, codes, A4, side)
    per = photographed.PAGE_DPI / 25.4
    assert len(page.nominal) == 38
    x = (page.nominal[:, 0] + (210.0 if side == "left" else 0.0)) * per - 0.5 + 60
    assert np.abs(page.pixels[:, 0] - x).max() < 0.15


# Files


def _jpeg(size=(1200, 900), **more):
    out = io.BytesIO()
    Image.new("RGB", size, (90, 140, 200)).save(out, more.pop("format", "JPEG"), **more)
    return out.getvalue()


def _claimed(wide, high):
    """A PNG of a few bytes that says it is so large (PNG specification, 11.2.2: IHDR)."""
    head = b"IHDR" + struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    data = b"IDAT" + zlib.compress(bytes(100))
    parts = [struct.pack(">I", len(part) - 4) + part + struct.pack(">I", zlib.crc32(part)) for part in (head, data, b"IEND")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def test_orientation_is_honoured_and_nothing_else_kept():
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.32, tag Orientation: the right side is the top
    exif[0x010F] = "An owner's phone"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8769)[0xA405] = 26
    found = opening.opened(_jpeg(exif=exif), "p.jpg")
    assert found.pixels.shape == (1200, 900, 3)
    assert found.focal_35mm == 26.0
    assert set(found._fields) == {"name", "pixels", "focal_35mm", "digest"}


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"no picture", "picture-format"),
        (_jpeg()[:900], "picture-format"),
        (b"\0\0\0\x18ftypheic" + bytes(40), "picture-format"),
        (_jpeg((300, 200)), "picture-size"),
        (_claimed(9_000, 9_000), "picture-size"),
        (_claimed(60_000, 60_000), "picture-size"),
    ],
    ids=["text", "cut", "heic", "small", "large", "bomb"],
)
def test_files_that_are_no_usable_picture(content, code):
    with pytest.raises(GapbookError) as caught:
        opening.opened(content, "p.jpg")
    assert caught.value.problems[0].code == code


# Camera and adjustment


def test_a_pixel_seen_from_a_plane_leads_back_to_it():
    rng = np.random.default_rng(1)
    turned = camera.rotation_of(np.array([np.pi - 0.1, 0.05, -0.02]))
    one = camera.Camera(2600.0, np.array([1000.0, 750.0]), np.array([0.03, -0.01]), turned, np.array([5.0, 10.0, 600.0]))
    points = np.column_stack([rng.uniform(-180, 180, (50, 2)), np.full(50, 11.0)])
    assert np.abs(camera.on_plane(one, camera.seen(one, points), 11.0) - points[:, :2]).max() < 1e-3


def test_pixels_are_those_of_opencv():
    import cv2

    rng = np.random.default_rng(2)
    vector, shift = np.array([2.9, 0.2, -0.1]), np.array([3.0, -8.0, 640.0])
    one = camera.Camera(2500.0, np.array([990.0, 760.0]), np.array([0.05, -0.02]), camera.rotation_of(vector), shift)
    points = rng.uniform(-150, 150, (40, 3)) * [1, 1, 0.1]
    inside = np.array([[2500.0, 0, 990], [0, 2500, 760], [0, 0, 1]])
    expected = cv2.projectPoints(points, vector, shift, inside, np.array([0.05, -0.02, 0, 0]))[0][:, 0]
    assert np.abs(camera.seen(one, points) - expected).max() < 1e-6


def _project(scene, world):
    """Pixels of world points by the renderer's camera, without distortion."""
    t, a = np.deg2rad([scene.tilt, scene.tilt_way])
    axis = np.array([np.cos(a), np.sin(a), 0.0])
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    lean = np.eye(3) + np.sin(t) * k + (1 - np.cos(t)) * k @ k
    d = (world - scene.distance * lean[:, 2]) @ lean
    f = scene.focal / 43.267 * np.hypot(*scene.pixels)
    half = (np.array(scene.pixels) - 1) / 2
    return half + f * np.column_stack([d[:, 0], -d[:, 1]]) / -d[:, 2:]


@pytest.mark.slow
def test_scatter_of_strings_does_not_shrink_the_bed():
    # Residuals in the plane of strings could all be made smaller by a smaller scale: they are taken in the photograph.
    rng = np.random.default_rng(5)
    more = {
        "focal": 27.0,
        "roll": 0.0,
        "aim": (0, 0),
        "distance": 550.0,
        "tilt": 8.0,
        "turn": 0.0,
        "at": (0.0, 0.0),
        "skew": 0.0,
    }
    scene = photographed.invented(rng, **more)
    errors = []
    for _ in range(3):
        pages = []
        for side in layout.SIDES:
            nominal = layout.corners(A4, side)
            world = np.column_stack([nominal, np.zeros(len(nominal))])
            pages.append(marks.PageCorners(side, nominal, _project(scene, world) + rng.normal(0, 0.1, nominal.shape)))
        lay = adjustment.Lay(
            A4, (270.0, 270.0), 11.0, *adjustment.expected_focal(27.0, scene.pixels), scene.pixels, (tuple(pages),)
        )
        first = adjustment.adjusted(lay, adjustment.begun(lay))
        mains = [(number, x, y) for number, x in enumerate(scene.mains) for y in np.arange(-96, 97, 12.0)]
        crosses = [(16 + number, x, y) for number, y in enumerate(scene.crosses) for x in np.arange(-77, 78, 11.0)]
        line, x, y = np.array(mains + crosses).T
        x, y = x + rng.normal(0, 0.05, len(x)) * (line < 16), y + rng.normal(0, 0.05, len(y)) * (line >= 16)
        pixels = _project(scene, np.column_stack([x, y, np.full(len(x), 11.0)]))
        strings = adjustment.Strings(
            0.0, np.zeros(2), np.zeros(len(line), int), pixels, line.astype(int), 16, 35, np.full(len(line), 0.05)
        )
        begin = np.column_stack([[*scene.mains, *scene.crosses], np.zeros(35)])
        whole = adjustment.adjusted(lay, first.parameters, strings, begin)
        scale = np.polyfit(scene.crosses, whole.lines[16:, 0], 1)[0] - 1.0
        errors.append(scale / np.sqrt(whole.covariance[0, 0]) * 0.05)
        assert whole.corner_px == pytest.approx(0.1, abs=0.03)
    assert np.abs(errors).max() < 0.0025
    assert abs(np.mean(errors)) < 0.0015


# Combs and profiles


def test_the_comb_is_the_even_chain_of_strong_candidates():
    place = np.sort(np.append(np.arange(12) * 10.0, [43.7, 118.0]))  # a weak line between two strings, and one beyond the last
    ridge = np.where(np.isin(place, [43.7]), 0.3, np.where(place == 118.0, 0.45, 1.0))
    found = combs.comb(place, np.zeros(len(place)), ridge, 12)
    assert found.place.tolist() == (np.arange(12) * 10.0).tolist()
    assert found.likely == 12


@pytest.mark.parametrize(("declared", "likely"), [(11, 12), (13, 12)])
def test_another_count_than_declared_is_noticed(declared, likely):
    place = np.append(np.arange(12) * 10.0, 118.0)
    found = combs.comb(place, np.zeros(13), np.append(np.ones(12), 0.3), declared)
    assert found.likely == likely


def test_stretches_are_placed_to_a_hundredth_of_a_millimetre():
    grid = Grid(0.0, np.zeros(2), (60.0, 60.0), 6.0)
    x = (np.arange(720) + 0.5) / 6.0 - 60.0
    true = np.array([-40.13, -25.31, -10.02, 7.77, 22.29, 38.5])
    line = np.exp(-0.5 * ((x - true[:, None]) / 0.55) ** 2).sum(axis=0)
    noisy = line + np.random.default_rng(4).normal(0, 0.1, (720, 720))
    found = profiles.stretches(
        noisy.astype(np.float32), grid, true.round(0), np.zeros(6), np.array([-40.0, -20.0, 0.0, 20.0, 40.0])
    )
    off = np.array([found.across[found.line == number].mean() for number in range(6)]) - true
    assert found.good.all()
    assert np.abs(off - off.mean()).max() < 0.02


# Whole photographs


@pytest.fixture(scope="module")
def taken(tmp_path_factory):
    """A photograph and its scene."""
    rng = np.random.default_rng(21)
    scene = photographed.invented(rng, 16, 19, **SCENE, main_colour="natural", cross_colour="black")
    path = tmp_path_factory.mktemp("taken") / "bed.jpg"
    path.write_bytes(photographed.saved(photographed.render(scene), scene))
    return scene, path


def _options(scene):
    left, right = photographed.bars(scene)
    return "--beam", scene.beam, "--bar-left", left, "--bar-right", right, "--contributor", "ada-moss", "--on", "2026-05-04"


@pytest.mark.slow
def test_a_bed_becomes_a_contribution(taken, tmp_path):
    scene, path = taken
    out = tmp_path / "bed"
    edges = "21.5,21,33,31.5"
    run = invoke("photo", path, "--frame", "fern-98", *_options(scene), "--edges", edges, "--out", out, "--json")
    assert run.exit_code == 0, run.output
    document = json.loads(run.stdout)
    assert document["refused"] is None
    mains, crosses = photographed.truth(scene)
    for station in ("-80", "0", "80"):
        gaps = np.diff(document["family"]["main"][station]) - np.diff(mains[int(station)])
        assert np.sqrt(np.mean(gaps**2)) < 0.1
    assert np.sqrt(np.mean((np.diff(document["family"]["cross"]["0"]) - np.diff(crosses)) ** 2)) < 0.1
    span = document["family"]["cross"]["0"][-1]
    assert abs(span / crosses[-1] - 1.0) < 3.0 * document["u_scale_percent"] / 100.0
    with (out / "spacings.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 18 + 16 + 16 + 21
    first = [row for row in rows if row["family"] == "cross"][:2]
    assert [row["value"] for row in first] == ["0.00", "33.00"]
    (tool,) = csv.DictReader((out / "instruments.csv").open(encoding="utf-8"))
    # The contract: an instrument's standard uncertainty is its largest error over the square root of three.
    expected = 3**0.5 * document["u_scale_percent"] / 100 * span
    assert (tool["kind"], float(tool["max_error"])) == ("photo", pytest.approx(expected, abs=0.006))
    (copy,) = csv.DictReader((out / "specimens.csv").open(encoding="utf-8"))
    assert opening.opened(path.read_bytes(), "").digest[:16] in copy["note"]
    assert Image.open(out / "overlay.png").info == {}
    checked = json.loads(invoke("check", out, "--json").stdout)
    assert checked["counts"]["error"] == 0, checked["findings"]


@pytest.mark.slow
def test_a_wrong_count_is_refused_and_only_the_overlay_written(taken, tmp_path):
    scene, path = taken
    out = tmp_path / "bed"
    run = invoke("photo", path, "--pattern", "18x19", *_options(scene), "--out", out, "--json")
    assert run.exit_code == 1
    assert json.loads(run.stdout)["refused"]["code"] in ("count", "second-comb")
    assert sorted(one.name for one in out.iterdir()) == ["overlay.png"]


@pytest.mark.parametrize("off", [(8.0, 0.0), (20.0, 20.0)])
@pytest.mark.slow
def test_bars_that_cannot_be_are_refused(taken, off):
    scene, path = taken
    bars = tuple(bar - wrong for bar, wrong in zip(photographed.bars(scene), off, strict=True))
    with pytest.raises(refusals.RefusedError) as caught:
        reading.read([opening.opened(path.read_bytes(), "p")], reading.Asked(16, 19, scene.beam, bars))
    assert caught.value.refusal.code == "scales"


@pytest.mark.slow
def test_pictures_without_pages_are_refused(taken):
    scene, _ = taken
    blank = opening.Photograph("p", np.full((900, 1200, 3), 140, np.uint8), None, "")
    with pytest.raises(refusals.RefusedError) as caught:
        reading.read([blank], reading.Asked(16, 19, scene.beam, (270.0, 270.0)))
    assert caught.value.refusal.code == "corners"


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--frame", "fern-98", "--pattern", "16x19"), "bad-option"),
        (("--frame", "fern-98", "--edges", "1,2,3"), "bad-edges"),
        (("--frame", "fern-98", "--tip", "north"), "bad-tip"),
        (("--frame", "fern-98", "--beam", "230"), "bad-beam"),
    ],
)
@pytest.mark.slow
def test_options_that_make_no_sense(taken, tmp_path, options, code):
    scene, path = taken
    run = invoke("photo", path, *_options(scene), *options, "--out", tmp_path / "bed")
    assert isinstance(run.exception, GapbookError)
    assert run.exception.problems[0].code == code


BAD_CODES = {
    "hard lamp, black": {"shadows", "count", "contrast"},
    "hard lamp, white": {"shadows", "count", "contrast"},
    "hard lamp, silver": {"shadows", "count", "contrast"},
    "crooked": {"crooked", "count"},
    "a string missing": {"count"},
    "strings of the tint": {"count", "contrast", "shadows"},
    "a second bed": {"count", "second-comb", "shadows", "contrast"},
    "moved": {"blur", "corners", "count"},
    "flash": {"glare", "count", "corners", "contrast"},
    "bowed": {"bow", "residuals"},
    "off the pages": {"off-pages", "corners", "count"},
    "far off": {"pixels", "corners"},
}
"""Codes with which each kind of bad photograph may be refused."""
ALWAYS = ("crooked", "a string missing", "moved", "bowed", "off the pages", "far off")
"""Kinds that cannot be read well; the others may also be read, if what is read is right."""


@pytest.mark.slow
@pytest.mark.parametrize("name", BAD_CODES)
@pytest.mark.parametrize("seed", [1, 2])
def test_bad_photographs_are_refused_or_read_right(name, seed):
    rng = np.random.default_rng(seed)
    scene = photographed.bad(rng, name)
    picture = opening.opened(photographed.saved(photographed.render(scene), scene), "p")
    asked = reading.Asked(len(scene.mains), len(scene.crosses), scene.beam, photographed.bars(scene))
    read, code = None, None
    try:
        read = reading.read([picture], asked)
    except refusals.RefusedError as error:
        code = error.refusal.code
    if read is None:
        assert code in BAD_CODES[name]
        return
    assert name not in ALWAYS
    mains, crosses = photographed.truth(scene)
    for found, true in ((read.main[1], mains[0]), (read.cross, crosses)):
        assert np.abs(np.diff(found) - np.diff(true)).max() < 0.3
        assert abs(np.polyfit(true, found, 1)[0] - 1.0) < 0.006


@pytest.mark.slow
@pytest.mark.parametrize("seed", [31, 32, 33, 34])
def test_two_photographs_of_a_lay_are_read_together(seed):
    rng = np.random.default_rng(seed)
    scene = photographed.invented(rng, **SCENE)
    other = replace(scene, tilt=9.0, tilt_way=scene.tilt_way + 120.0, distance=620.0)
    pictures = [opening.opened(photographed.saved(photographed.render(one), one), "p") for one in (scene, other)]
    asked = reading.Asked(16, 19, scene.beam, photographed.bars(scene))
    one, two = reading.read(pictures[:1], asked), reading.read(pictures, asked)
    assert two.u_scale < one.u_scale
    _, crosses = photographed.truth(scene)
    assert abs(np.polyfit(crosses, two.cross, 1)[0] - 1.0) < 3.0 * two.u_scale


def test_every_refusal_says_what_helps():
    for code, fix in refusals.FIXES.items():
        error = refusals.refuse(code, "this", "that")
        assert error.refusal == (code, "this", "that", fix)
    assert photographing.REFUSED.keys() == {"family", "u_scale_percent", "u_position_mm", "camera", "quality"}
