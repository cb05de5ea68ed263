"""The examples of the Python door run as they are printed, and the worked example answers its three questions."""

from __future__ import annotations

import doctest
import re
import runpy

import numpy as np
import pytest

import gapbook.catalogue
from demo_rows import derived
from gapbook import Question
from running import gapbook as ran  # the package has that name too
from small import ROOT


@pytest.mark.slow
def test_doctests(monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.delenv("GAPBOOK_PACKAGE", raising=False)
    found = doctest.testmod(gapbook.catalogue)
    assert found.attempted >= 10
    assert found.failed == 0


TEXTS = "\n".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "derive/docs/how-to/analyse.md"))


@pytest.mark.parametrize(
    ("printed", "arguments"),
    [
        ("Understood: ", ("ask", "95-98 sq in, 16 mains, tighter centre than fern-98")),
        ("With ", ("relate", "openness_centre", "launch_angle_deg", "--given", "head_area_cm2,main_tension_n")),
    ],
    ids=["ask", "relate"],
)
def test_pages_show_what_is_printed(printed, arguments):
    """A block of README or of the page for analysts is the screen from its top on; `...` stands for lines left out."""
    (block,) = re.findall(rf"^```text\n({printed}.*?)^```$", TEXTS, re.MULTILINE | re.DOTALL)
    first, *others = block.split("...\n")
    screen = ran(*arguments).stdout
    assert screen.startswith(first)
    assert all(part in screen for part in others)


@pytest.fixture(scope="module")
def worked():
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        patch.delenv("GAPBOOK_PACKAGE", raising=False)
        return runpy.run_path(str(ROOT / "derive" / "examples" / "three_questions.py"))


def test_the_worked_example_answers_three_questions(worked):
    assert worked["launch"].associations[0].verdict == "rises"
    assert [one.verdict for one in worked["comfort"].associations] == ["cannot tell", "falls", "cannot tell"]


def test_copies_spread_as_its_third_answer_says(worked):
    """The same by hand from beds.csv: deviations of ln(openness) from the frame's mean, over their degrees of freedom."""
    of_frame = {}
    for row in derived("beds").values():
        of_frame.setdefault(row["frame_id"], []).append(np.log(float(row["openness_centre"])))
    several = [np.array(values) for values in of_frame.values() if len(values) > 1]
    squares = sum(((values - values.mean()) ** 2).sum() for values in several)
    spread = 100 * np.sqrt(squares / sum(len(values) - 1 for values in several))
    assert worked["pooled"]["spread_percent"] == pytest.approx(spread, rel=1e-9)
    assert worked["pooled"]["u_percent"] < spread


def test_its_cells_can_be_run_one_by_one():
    text = (ROOT / "derive" / "examples" / "three_questions.py").read_text(encoding="utf-8")
    assert text.startswith("# %%")
    assert text.count("\n# %%\n") >= 4
    assert text.count("# %% [markdown]") >= 4


def test_an_answer_as_arrow(catalogue):
    answer = catalogue.ask("16x19, more open sides than fern-98")
    table = answer.to_arrow()
    entries = [*answer.matches, *answer.undecided]
    assert table["frame_id"].to_pylist() == [entry.frame_id for entry in entries]
    assert table["decided"].to_pylist() == [True] * len(answer.matches) + [False] * len(answer.undecided)
    assert table["why_zone"].to_pylist() == [entry.why.zone for entry in entries]
    assert table["u_difference_percent"].to_pylist() == [entry.u_difference_percent for entry in entries]
    assert answer.undecided
    assert str(answer).startswith("Understood: 16 mains")


def test_no_answer_has_the_same_columns(catalogue):
    some, none = (catalogue.find(Question.model_validate({"limit": 3})), catalogue.ask("20x21, 110 sq in"))
    assert not none.matches
    assert none.to_arrow().schema == some.to_arrow().schema
    assert none.to_arrow().num_rows == 0


def test_a_comparison_as_arrow(catalogue):
    found = catalogue.compare("fern-98", "moraine-98", "clover-98")
    table = found.to_arrow()
    assert table["name"].to_pylist() == [one.name for one in found.contrasts]
    assert table["difference_percent"].to_pylist() == [one.difference_percent for one in found.contrasts]
    assert table["u_why_size"].to_pylist() == [one.why and one.why.size.u_percent for one in found.contrasts]
    assert "moraine-98 tighter (fern-98)" in repr(found)


def test_a_portrait_as_arrow(catalogue):
    found = catalogue.show("fern-98")
    (row,) = found.to_arrow().to_pylist()
    assert row["openness_centre"] == float(derived("scores")["fern-98"]["openness_centre"])
    assert row["handling_mass_g"] == float(derived("handling")["fern-98"]["mass_g"])
    assert repr(found) == "<Portrait: fern-98, 16×19, 3 measured>"
    assert "counted" in repr(catalogue.show("clover-98"))


def test_associations_as_arrow(catalogue):
    found = catalogue.relate(["openness_centre", "mass_g"], "spin_rpm", ["style"])
    usual = catalogue.relate(["openness_centre", "mass_g"], "spin_rpm")
    assert found.to_arrow().schema == usual.to_arrow().schema
    assert found.to_arrow()["slope"].to_pylist() == [None, None]
    rows = usual.to_arrow().to_pylist()
    assert [row["leave_one_out_low_without"] for row in rows] == [one.leave_one_out.low_without for one in usual.associations]
    assert "Association, not cause." in repr(usual)
    assert "spin_rpm rises with openness_centre" in str(usual)
