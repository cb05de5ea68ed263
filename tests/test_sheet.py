"""Measuring sheets: a box for every row, headers as the schemas have them, and folders that are read once they are filled."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter

import pytest

from demo_rows import ROOT, demo, rows_of
from gapbook.commands.app import build
from gapbook.errors import GapbookError
from gapbook.pictures import figure, sheet
from gapbook.questions.bed_data import drawn_bed
from gapbook.questions.measuring_sheet import Wishes, session
from gapbook.tables.contribution import own_copy
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store

HEADERS = {
    path.stem: [field["name"] for field in json.loads(path.read_text(encoding="utf-8"))["fields"]]
    for path in (ROOT / "schema").glob("*.json")
}
FIXED = ("--package", str(ROOT), "--on", "2026-05-04")


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


def run(*arguments):
    build()([*arguments, *FIXED], standalone_mode=False)


def laid(tmp_path, *arguments):
    """The folder of a sheet."""
    run("sheet", *arguments, "--out", str(tmp_path / "sheet.pdf"))
    return tmp_path / "sheet-csv"


def fill(folder, main=12.5, cross=13.0, factor=1.0):
    """Write an even bed into the blank rows: edges 10 mm (mains) and 12 mm (crosses) outside the outer strings."""
    rows = rows_of(folder, "spacings")
    last = Counter((row["family"], row["station_mm"], row["repeat"]) for row in rows)
    for row in rows:
        pitch, edge = (main, 10.0) if row["family"] == "main" else (cross, 12.0)
        no, most = int(row["no"]), last[row["family"], row["station_mm"], row["repeat"]] - 1
        if row["kind"] == "gap":
            value = edge if no in (0, most) else pitch
        else:
            value = 5.0 + (0 if no == 0 else edge + (no - 1) * pitch + (edge - pitch if no == most else 0))
        row["value"] = f"{value * factor:.4f}"
    write(folder, "spacings", rows)
    readings = rows_of(folder, "readings")
    values = {
        "head_length": 331.0 * factor,
        "head_width": 240.0 * factor,
        "length": 685.0 * factor,
        "mass": 320.0,
        "balance": 325,
    }
    for row in readings:
        row["value"] = f"{values[row['quantity']]:.4f}"
    write(folder, "readings", readings)


def write(folder, table, rows):
    with (folder / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, HEADERS[table], lineterminator="\n")
        out.writeheader()
        out.writerows(rows)


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(
    "arguments", [("fern-98",), ("18x20", "--kind", "gap", "--handling", "--repeats", "2"), ("fern-98-a", "--unit", "in")]
)
def test_headers_are_the_schemas_and_only_values_are_blank(tmp_path, arguments):
    folder = laid(tmp_path, *arguments)
    for path in folder.iterdir():
        with path.open(encoding="utf-8", newline="") as file:
            assert next(csv.reader(file)) == HEADERS[path.stem]
    for table in ("spacings", "readings"):
        for row in rows_of(folder, table):
            assert [name for name, cell in row.items() if cell == ""] == ["value"]
            assert row["taken_on"] == "2026-05-04"


def test_every_mark_has_a_row_in_the_order_of_reading(tmp_path):
    rows = rows_of(laid(tmp_path, "fern-98"), "spacings")
    runs = Counter((row["family"], row["station_mm"]) for row in rows)
    # 16×19, marks with both inner edges: n + 2 numbers a row.
    assert list(runs.items()) == [(("main", "0"), 18), (("main", "80"), 18), (("main", "-80"), 18), (("cross", "0"), 21)]
    assert [int(row["no"]) for row in rows] == [*range(18), *range(18), *range(18), *range(21)]
    assert {row["kind"] for row in rows} == {"mark"}


def test_gaps_have_one_number_less(tmp_path):
    rows = rows_of(laid(tmp_path, "fern-95", "--kind", "gap", "--stations", "0", "--repeats", "2"), "spacings")
    # 18×20, gaps 0 to n.
    assert list(Counter((row["family"], row["repeat"]) for row in rows).values()) == [19, 19, 21, 21]
    assert {row["instrument_id"] for row in rows} == {"calliper-me"}


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(
    ("arguments", "factor", "specimen"),
    [
        (("fern-98",), 1.0, "fern-98-me"),
        (("fern-98", "--kind", "gap", "--repeats", "2", "--handling", "--contributor", "ada"), 1.0, "fern-98-ada"),
        (("fern-98", "--unit", "in", "--stations", "0", "--specimen", "own-one"), 1 / 25.4, "own-one"),  # NIST SP 811
        (("fern-98", "--contributor", "tam-veldrick", "--instrument", "calliper-tam"), 1.0, "fern-98-tam-veldrick"),
    ],
)
def test_a_filled_folder_is_a_contribution(tmp_path, store, arguments, factor, specimen):
    folder = laid(tmp_path, *arguments)
    fill(folder, factor=factor)
    copy = own_copy(store.package, folder)
    assert (copy.specimen_id, copy.frame_id) == (specimen, "fern-98")
    # An even bed has its spacing for pitch: openness 10·√(12.5·13); density (10/12.5)(10/13) (ISO 9044).
    assert copy.scores["main_pitch_centre_mm"] == pytest.approx(12.5, rel=1e-4)
    assert copy.scores["cross_pitch_tip_mm"] == pytest.approx(13.0, rel=1e-4)
    assert copy.scores["openness_centre"] == pytest.approx(10 * (12.5 * 13) ** 0.5, rel=1e-4)
    assert (copy.scores["head_width_mm"], copy.scores["head_length_mm"]) == pytest.approx((240.0, 331.0), rel=1e-4)
    # Edge to edge: 15·12.5 + 2·10 = 207.5 against 240 read; 18·13 + 2·12 = 258 against 331 (hand).
    closures = copy.scores["misclosure_main_mm"], copy.scores["misclosure_cross_mm"]
    assert closures == pytest.approx((-32.5, -73.0), abs=0.02)


@pytest.mark.slow
def test_check_finds_nothing_to_mend_in_a_filled_folder(tmp_path, capsys):
    folder = laid(tmp_path, "fern-98", "--handling", "--contributor", "ada")
    fill(folder)
    capsys.readouterr()
    build()(["check", str(folder), "--json", "--package", str(ROOT)], standalone_mode=False)
    document = json.loads(capsys.readouterr().out)
    assert document["counts"]["error"] == 0
    assert document["rows"] == 75 + 5 + 1 + 1 + 3  # marks, readings; a specimen, a contributor, three instruments


@pytest.mark.slow
def test_a_filled_folder_can_be_drawn(tmp_path, store):
    folder = laid(tmp_path, "fern-98")
    fill(folder)
    bed = drawn_bed(store, str(folder))
    assert bed.strings.main_at_0 == pytest.approx([12.5 * (k - 7.5) for k in range(16)], abs=1e-3)
    assert bed.strings.cross_y == pytest.approx([13.0 * (9 - k) for k in range(19)], abs=1e-3)
    assert bed.scores is None
    run_draw = ["draw", str(folder), "--with", "fern-98", "--out", str(tmp_path / "bed.svg"), "--package", str(ROOT)]
    build()(run_draw, standalone_mode=False)
    assert (tmp_path / "bed.svg").is_file()


def test_a_bare_pattern_needs_what_it_says_by_hand(tmp_path, store, capsys):
    folder = laid(tmp_path, "16×19", "--json")
    document = json.loads(capsys.readouterr().out)
    assert list(document) == ["written", "folder", "specimen_id", "by_hand", "readings"]
    (by_hand,) = document["by_hand"]
    assert all(word in by_hand for word in ("frames.csv", "maker", "model", "head_area_cm2"))
    assert document["readings"] == 2 + 3 * 18 + 21
    fill(folder)
    with pytest.raises(GapbookError):
        own_copy(store.package, folder)
    (frame,) = rows_of(folder, "frames")
    write(folder, "frames", [frame | {"maker": "Mine", "model": "Own", "head_area_cm2": "632"}])
    copy = own_copy(store.package, folder)
    assert (copy.frame_id, copy.mains, copy.crosses) == ("16x19-me", 16, 19)


def test_a_pattern_with_a_head_area_needs_no_figure_for_it(tmp_path, store, capsys):
    folder = laid(tmp_path, "16x19 98 sq in", "--json")
    assert json.loads(capsys.readouterr().out)["by_hand"] == ["frames.csv: maker and model"]
    (frame,) = rows_of(folder, "frames")
    assert float(frame["head_area_cm2"]) == pytest.approx(98 * 6.4516, abs=0.05)  # NIST SP 811
    fill(folder)
    write(folder, "frames", [frame | {"maker": "Mine", "model": "Own"}])
    copy = own_copy(store.package, folder)
    assert (copy.frame_id, copy.mains, copy.crosses, copy.head_area_cm2) == ("16x19-me", 16, 19, 632.3)


def test_what_the_catalogue_knows_is_not_repeated(tmp_path):
    folder = laid(tmp_path, "fern-98-a", "--contributor", "tam-veldrick", "--instrument", "rule-tam")
    assert {path.name for path in folder.iterdir()} == {"readings.csv", "spacings.csv"}
    assert {row["specimen_id"] for row in rows_of(folder, "spacings")} == {"fern-98-a"}
    assert "rule-tam" in {row["instrument_id"] for row in demo("instruments")}


def test_an_instrument_decides_how_it_is_read(store):
    assert session(store, "fern-98", Wishes(instrument="calliper-edric")).kind == "gap"
    found = session(store, "fern-98", Wishes(instrument="rule-jorun"))
    assert (found.kind, found.tool.unit, found.rule) == ("mark", "in", found.tool)


@pytest.mark.slow_after(2)
@pytest.mark.parametrize(
    ("name", "wishes"),
    [
        ("fern-98", Wishes()),
        ("burdock-89", Wishes(kind="gap", repeats=2, handling=True)),
        ("30x40", Wishes(stations="0", unit="in")),
        ("14x18", Wishes(kind="gap", stations="0,80", repeats=3)),
    ],
)
def test_a_box_for_every_reading_and_no_words_over_others(store, name, wishes):
    found = session(store, name, wishes)
    with figure.style(figure.LIGHT):
        made = sheet.sheet_figure(found, None, "sheet-csv")
        made.canvas.draw()
        axes = made.axes[0]
        texts = [text for text in axes.texts if text.get_text()]
        boxes = [text.get_window_extent(figure.renderer(made)) for text in texts]
    drawn = [patch for patch in axes.patches if patch.get_gid() == "box"]
    assert len(drawn) == len(found.whole_frame) + sum(len(run.numbers) for run in found.runs)
    size = made.get_size_inches() * 25.4
    assert tuple(size) == pytest.approx((210.0, 297.0))  # A4, ISO 216
    met = [
        (texts[i].get_text(), texts[j].get_text())
        for i in range(len(boxes)) for j in range(i) if boxes[i].padded(-0.4).overlaps(boxes[j].padded(-0.4))
    ]  # fmt: skip
    assert met == []
    for one in boxes:
        assert one.x0 >= 8 / 25.4 * made.dpi
        assert one.x1 <= 202 / 25.4 * made.dpi
        assert one.y0 >= 4 / 25.4 * made.dpi
    rows = [patch.get_bbox() for patch in drawn]
    assert not any(a.padded(-0.05).overlaps(b.padded(-0.05)) for i, a in enumerate(rows) for b in rows[:i])


@pytest.mark.slow
def test_one_page_of_vectors_the_same_each_time(tmp_path):
    pages = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        run("sheet", "fern-98", "--out", str(tmp_path / name / "sheet.pdf"))
        pages.append((tmp_path / name / "sheet.pdf").read_bytes())
    assert pages[0] == pages[1]
    assert len(re.findall(rb"/Type /Page\b(?!s)", pages[0])) == 1
    assert b"/Subtype /Image" not in pages[0]


def test_readings_are_never_written_over(tmp_path):
    folder = laid(tmp_path, "fern-98")
    fill(folder)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(GapbookError) as caught:
        laid(tmp_path, "fern-98")
    assert caught.value.problems[0].code == "folder-in-use"
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("fern-89",), "unknown-frame"),
        (("5x19",), "bad-pattern"),
        (("16x99",), "bad-pattern"),
        (("fern-98", "--kind", "hole"), "bad-kind"),
        (("fern-98", "--unit", "ft"), "bad-unit"),
        (("fern-98", "--stations", "80"), "bad-stations"),
        (("fern-98", "--stations", "0,0"), "bad-stations"),
        (("fern-98", "--stations", "0,150"), "bad-stations"),
        (("fern-98", "--stations", "0;80"), "bad-stations"),
        (("fern-98", "--contributor", "Me & I"), "bad-id"),
        (("fern-98", "--instrument", "scale-post"), "instrument-dimension"),
        (("fern-98", "--specimen", "tarn-95-a"), "other-frame"),
        (("fern-98", "--repeats", "3"), "sheet-full"),
    ],
)
def test_what_cannot_be_laid_out_is_refused(tmp_path, arguments, code):
    with pytest.raises(GapbookError) as caught:
        laid(tmp_path, *arguments)
    assert caught.value.problems[0].code == code
    assert list(tmp_path.iterdir()) == []


def test_the_day_must_be_one(tmp_path):
    with pytest.raises(GapbookError) as caught:
        build()(["sheet", "fern-98", "--out", str(tmp_path / "a.pdf"), "--on", "4 May"], standalone_mode=False)
    assert caught.value.problems[0].code == "bad-day"
