"""From specimens to the frame: means, what is shared by copies, and the spread from copy to copy, by hand; and `show`."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from demo_rows import ROOT, derived
from drawn import drawn_lines
from gapbook.commands.show import show
from gapbook.science.beds import SCORE_NAMES
from gapbook.science.scores import Variances, frame_effects, frame_scores, specimen_spread
from gapbook.science.uncertainty import Common
from running import gapbook
from small import Small


def column(*values: float) -> np.ndarray:
    return np.array(values, dtype=float)[:, None]


def test_a_frame_by_hand():
    # Two copies: ln 100 and ln 121 give 110; independent 0.01² and 0.02² give 0.0005/4; the instruments' 0.004 and
    # 0.006 stay whole, their mean 0.005; s = 0.008 adds s²·1.5. The second frame has one copy, the third none.
    value = column(math.log(100), math.log(121), math.log(90))
    variances = Variances(column(1e-4, 4e-4, 1e-4), column(1.6e-5, 3.6e-5, 1e-6))
    found = frame_scores(value, variances, np.array([0, 0, 1]), np.array([0.008]))
    assert np.exp(found.value[:, 0]) == pytest.approx([110.0, 90.0])
    expected = [math.sqrt(1.25e-4 + 2.5e-5 + 9.6e-5), math.sqrt(1e-4 + 1e-6 + 12.8e-5)]
    assert found.u[:, 0] == pytest.approx(expected)
    assert list(found.specimens) == [2, 1]


def test_a_copy_whose_score_is_blank_does_not_count_for_it():
    value = np.array([[4.6, 4.8], [np.nan, 5.0], [np.nan, 4.9]])
    variances = Variances(np.full((3, 2), 1e-4), np.full((3, 2), 4e-6))
    found = frame_scores(value, variances, np.array([0, 0, 1]), np.array([0.01, 0.01]))
    assert found.value[0] == pytest.approx([4.6, 4.9])
    assert found.u[0] == pytest.approx([math.sqrt(1e-4 + 4e-6 + 2e-4), math.sqrt(5e-5 + 4e-6 + 1.5e-4)])
    assert np.isnan(found.value[1, 0])
    assert np.isnan(found.u[1, 0])
    assert list(found.specimens) == [2, 1]


def _own(value):
    """A variance of 0.01² of each, all of it a specimen's own."""
    return Variances(np.full(value.shape, 1e-4), np.zeros(value.shape))


def test_spread_from_copy_to_copy_by_hand():
    # Five frames of two copies 0.04 apart, one of three at 0, 0.03, 0.06, one alone: squares 5·0.0008 + 0.0018 = 0.0058
    # over 7 degrees of freedom; measuring adds 0.01² for each: 5·(½ + ½)·1e-4 + 3·⅔·1e-4 = 7e-4. s² = 0.0051/7.
    frame = np.array([0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 5, 6])
    value = column(1.0, 1.04, 2.0, 2.04, 3.0, 3.04, 4.0, 4.04, 5.0, 5.04, 0.0, 0.03, 0.06, 9.0)
    found = specimen_spread(value, _own(value), frame, np.array([0.01]))
    # Drawn towards 0.01, which counts for 5 degrees of freedom: (0.0051 + 5·1e-4)/12. t(0.975, 12) is 2.179 (tables).
    assert found.freedom == pytest.approx([12.0])
    assert found.deviation == pytest.approx([math.sqrt(0.0056 / 12)])
    assert found.counted == pytest.approx(found.deviation * 2.1788 / 1.95996, rel=1e-4)


def test_a_person_who_read_one_of_two_copies_sets_them_apart():
    # Two frames of two copies 0.04 apart: squares 2·0.0008. Measuring adds 2·(½ + ½)·1e-4. Person 9 read both copies of
    # frame 0 (0.003 each: nothing) and one of frame 1 (0.004: ½·0.004²), person 8 its other (0.002: ½·0.002²).
    frame, value = np.array([0, 0, 1, 1]), column(1.0, 1.04, 2.0, 2.04)
    effect = column(0.003, 0.003, 0.004, 0.002)
    common = Common(effect, np.arange(4), np.array([9, 9, 9, 8]))
    found = specimen_spread(value, Variances(np.full(value.shape, 1e-4), effect**2), frame, np.array([0.01]), common)
    seen = 2 * 8e-4 - 2e-4 - 0.5 * 0.004**2 - 0.5 * 0.002**2
    assert found.deviation == pytest.approx([math.sqrt((seen + 5e-4) / 7)])


def test_measuring_can_explain_all_of_the_spread():
    frame = np.repeat(np.arange(5), 2)
    value = column(*[0.0, 0.01] * 5)
    # Nothing is left of what was seen: 5·0.01² over 10.
    found = specimen_spread(value, _own(value), frame, np.array([0.01]))
    assert found.deviation == pytest.approx([0.01 / math.sqrt(2)])


# t(0.975, 6) = 2.4469 and t(0.975, 10) = 2.2281: tables of Student's t. Without copies nothing is estimated, nor widened.
@pytest.mark.parametrize(("frames", "t"), [(0, 1.95996), (1, 2.4469), (5, 2.2281)])
def test_few_copies_are_drawn_towards_the_default(frames, t):
    frame = np.append(np.repeat(np.arange(frames), 2), frames)
    value = column(*[0.0, 0.04] * frames, 0.0)
    found = specimen_spread(value, _own(value), frame, np.array([0.01]))
    assert found.deviation == pytest.approx([math.sqrt((frames * 7e-4 + 5e-4) / (frames + 5))])
    assert found.counted == pytest.approx(found.deviation * t / 1.95996, rel=1e-4)


def test_copies_share_a_cause_as_far_as_it_touched_them():
    # Three copies of frame 0, two read with tool 7, one with tool 8; all by person 9, whose sign differs in one. Frame 1: 7.
    value = column(1.0, 1.0, 1.0, 2.0)
    effect = column(0.004, 0.002, 0.006, 0.003, 0.003, -0.003, 0.001)
    common = Common(effect, np.array([0, 1, 2, 0, 1, 2, 3]), np.array([7, 7, 8, 9, 9, 9, 7]))
    found = frame_effects(value, common, np.array([0, 0, 0, 1]))
    told = {(int(b), int(c)): e for e, b, c in zip(found.effect[:, 0], found.bed, found.cause, strict=True)}
    assert told == pytest.approx({(0, 7): 0.002, (0, 8): 0.002, (0, 9): 0.001, (1, 7): 0.001})
    variances = Variances(np.full((4, 1), 1e-4), np.full((4, 1), 9.0))  # the shared part is taken from the causes
    u = frame_scores(value, variances, np.array([0, 0, 0, 1]), np.array([0.0]), common).u[:, 0]
    assert u == pytest.approx([math.sqrt(1e-4 / 3 + 4e-6 + 4e-6 + 1e-6), math.sqrt(1e-4 + 1e-6)])


def test_a_copy_that_does_not_give_a_score_shares_nothing_in_it():
    value = column(1.0, np.nan)
    common = Common(column(0.004, 0.002), np.array([0, 1]), np.array([7, 7]))
    assert frame_effects(value, common, np.array([0, 0])).effect[:, 0] == pytest.approx([0.004])


def copies_of(*mains: float, frame: str = "one", small: Small | None = None) -> Small:
    """A frame with one copy for each main spacing, read as gaps at station 0 without edges."""
    small = small or Small()
    small.frame(frame)
    for number, main in enumerate(mains):
        name = f"{frame}-{'abcdef'[number]}"
        small.copy(name, frame)
        small.run(name, "main", [main] * 15)
        small.run(name, "cross", [12.5] * 18)
    return small


def test_the_mean_is_geometric():
    row = copies_of(12.0, 12.96).derived()["scores"]["one"]
    # √(12·12.96)·12.5 under the root: main pitch 12.47077 mm in the mean.
    assert row["openness_centre"] == pytest.approx(10 * math.sqrt(math.sqrt(12.0 * 12.96) * 12.5), rel=6e-6)
    assert row["density_centre_per_cm2"] == pytest.approx(1e4 / row["openness_centre"] ** 2, rel=2e-5)
    assert (row["basis"], row["specimens"]) == ("measured", 2)
    assert row["side_opening"] == pytest.approx(0.0, abs=1e-9)


def test_copies_share_the_instrument_and_the_splay_nobody_read():
    tables = copies_of(12.5, 12.5, 12.5).derived()
    bed, row = tables["beds"]["one-a"], tables["scores"]["one"]
    # Calliper: 0.05/√3 mm on gaps of 12.5 mm, its reader 0.05 mm; splay 1.5 % on the tip's mains, half of it on ln O. The
    # copies are alike, so that s² = 5·(1 %)²/(2 + 5), with t(0.975, 7) = 2.3646 (tables).
    tool = math.hypot(0.05 / math.sqrt(3), 0.05) / 12.5
    s = 0.01 * math.sqrt(5 / 7) * 2.3646 / 1.95996
    for name, shared in (("openness_centre", tool), ("openness_tip", math.hypot(tool, 0.0075))):
        whole = bed[f"u_{name}"] / bed[name]
        expected = math.sqrt((whole**2 - shared**2) / 3 + shared**2 + s**2 * 4 / 3)
        assert row[f"u_{name}"] / row[name] == pytest.approx(expected, rel=3e-5), name


def test_spreads_nobody_knows():
    # Definition: 1 % of ln O, twice that of density and uniformity.
    tables = copies_of(12.5).derived()
    bed, row = tables["beds"]["one-a"], tables["scores"]["one"]
    names = [name for name in SCORE_NAMES if name in row]
    assert len(names) == 12
    for name in names:
        s = 0.02 if name in ("density_centre_per_cm2", "uniformity") else 0.01
        one = 1.0 if name == "side_opening" else 0.0
        ratio = [some[f"u_{name}"] / (some[name] + one) for some in (bed, row)]
        assert ratio[1] == pytest.approx(math.sqrt(ratio[0] ** 2 + 2 * s**2), rel=2e-5), name


def test_density_spreads_twice_as_openness_does():
    small = copies_of(12.5)
    for number in range(5):
        copies_of(12.0, 13.0, frame=f"pair-{number}", small=small)
    tables = small.derived()
    bed, row = tables["beds"]["one-a"], tables["scores"]["one"]
    extra = {}
    for name in ("openness_centre", "density_centre_per_cm2"):
        extra[name] = (row[f"u_{name}"] / row[name]) ** 2 - (bed[f"u_{name}"] / bed[name]) ** 2
    # Pairs half of ln(13/12) = 0.080043 apart in ln O; squares 5·0.040021²/2 over 5 less what measuring explains.
    assert 0.01**2 * 2 < extra["openness_centre"] < 0.040021**2
    assert extra["density_centre_per_cm2"] == pytest.approx(4 * extra["openness_centre"], rel=1e-3)


def test_frames_and_beds_stand_in_order_of_their_ids():
    small = copies_of(12.5, frame="zeta")
    copies_of(12.0, 12.1, frame="alpha", small=small)
    small.frame("mid")
    tables = small.derived()
    assert list(tables["scores"]) == ["alpha", "mid", "zeta"]
    assert list(tables["beds"]) == ["alpha-a", "alpha-b", "zeta-a"]


def shown(name: str, width: int, monkeypatch, capsys) -> str:
    """`gapbook show` in a window of so many columns."""
    monkeypatch.setattr("gapbook.screens.page.width", lambda: width)
    show(name, add=["5 g at 680 mm"])
    return capsys.readouterr().out


def figures(text: str) -> Counter[str]:
    """Every number with its ±; not those about the drawing, for which a window can be too narrow: its copy, how far dots are
    apart.
    """
    text = re.sub(r"^The bed of .*\n|\bA\s+dot\s+is\s+[\d.]+\s+mm\.", "", text, flags=re.MULTILINE)
    return Counter(re.findall(r"[+−]?\d[\d.]*(?: ± [\d.]*\d)?", text))


@pytest.mark.slow_after(2)
@pytest.mark.parametrize("width", [30, 40, 50, 60, 70, 80])
@pytest.mark.parametrize("name", ["fern-98", "sorrel-98-club", "clover-98"])
def test_no_figure_of_show_is_lost_in_a_narrow_window(name, width, monkeypatch, capsys):
    wide = shown(name, 120, monkeypatch, capsys)
    narrow = shown(name, width, monkeypatch, capsys)
    assert max(map(len, narrow.splitlines())) <= width
    # A table cut in pieces repeats its labels, and so the digits of ids and units in them; none may be missing.
    assert not figures(wide) - figures(narrow)
    assert {one for one in figures(narrow) if "±" in one} == {one for one in figures(wide) if "±" in one}
    if name != "clover-98":
        assert sum("±" in one for one in figures(wide)) > 30


@pytest.mark.parametrize(("width", "drawn"), [(30, 0), (40, 40), (50, 50), (53, 53), (80, 53)])
@pytest.mark.slow_after(2)
def test_the_drawing_is_scaled_to_the_window_or_left_out(width, drawn, monkeypatch, capsys):
    lines = shown("fern-98", width, monkeypatch, capsys).splitlines()
    dotted = drawn_lines("\n".join(lines))
    assert max(map(len, dotted), default=0) == drawn
    assert ("The bed of fern-98-a" in lines) == bool(drawn)
    if drawn:
        below = lines[lines.index(dotted[-1]) + 1 :]
        legend = below[: below.index("")]
        # By hand: the head is 243 mm wide; two dots a column, so 2·drawn − 1 steps.
        assert " ".join(legend).endswith(f" tip up. A dot is {243 / (2 * drawn - 1):.1f} mm.")
        full = min(width, 60)
        assert all(len(f"{one} {after.split()[0]}") > full >= len(one) for one, after in pairwise(legend))


@pytest.mark.parametrize(
    ("typed", "frame", "bed"),
    [
        ("fern-98", "fern-98", "fern-98-a"),
        ("Fern-98", "fern-98", "fern-98-a"),
        (" FERN-98 ", "fern-98", "fern-98-a"),
        ("fern-98-b", "fern-98", "fern-98-b"),
        ("FERN-98-B", "fern-98", "fern-98-b"),
    ],
)
def test_show_takes_an_id_in_any_case(typed, frame, bed, capsys):
    show(typed)
    text = capsys.readouterr().out
    assert text.startswith(f"{frame}: ")
    assert f"The bed of {bed}\n" in text


def test_show_of_an_empty_folder_says_what_it_takes(tmp_path):
    (tmp_path / "mine").mkdir()
    for typed in ("./mine", "mine"):
        run = gapbook("show", typed, "--package", str(ROOT), cwd=tmp_path)
        assert (run.returncode, run.stdout) == (2, "")
        for said in ("nothing to read in mine", "spacings.csv"):
            assert said in run.stderr
        assert "moraine" not in run.stderr
    run = gapbook("show", "./yours", "--package", str(ROOT), cwd=tmp_path)
    assert (run.returncode, run.stdout) == (2, "")
    assert "no folder at yours" in run.stderr


def test_show_without_handling_says_so(tmp_path):
    package = copies_of(12.5).write(tmp_path / "package")
    assert gapbook("derive", "--part", "beds", "--package", str(package)).returncode == 0
    run = gapbook("show", "one", "--package", str(package))
    assert run.returncode == 0, run.stderr
    assert "Handling is left out: it has not been derived" in " ".join(run.stdout.split())
    assert json.loads(gapbook("show", "one", "--json", "--package", str(package)).stdout)["handling"] is None
    assert "left out" not in gapbook("show", "fern-98").stdout
    assert "fern-98" in derived("handling")
