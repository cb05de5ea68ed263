"""The table of how often verdicts are right: its classes by hand, and where it is written."""

from __future__ import annotations

import numpy as np
import pytest

from beds_of_truth import Way
from bench.calibration import MARKS, Said, classes, read_in, said_of, table, together, write


def test_verdicts_are_classed_by_what_they_said():
    said = Said(np.array([0.5, 0.58, 0.6, 0.95, 0.99, 1.0]), np.array([True, False, True, True, True, False]))
    found = classes(said)
    assert [one.number for one in found] == [2, 1, 0, 0, 1, 2]
    assert (found[0].sure, found[0].right) == (pytest.approx(0.54), 0.5)
    assert (found[5].sure, found[5].right) == (pytest.approx(0.995), 0.5)
    assert np.isnan(found[2].right)


def test_the_table_is_written_between_its_marks(tmp_path):
    page = tmp_path / "page.md"
    page.write_text(f"before\n{MARKS[0]}\nold\n{MARKS[1]}\nafter\n", encoding="utf-8")
    write("new", page)
    assert page.read_text(encoding="utf-8") == f"before\n{MARKS[0]}\nnew\n{MARKS[1]}\nafter\n"
    page.write_text("no marks", encoding="utf-8")
    with pytest.raises(SystemExit, match="holds no"):
        write("new", page)


def test_verdicts_come_from_comparisons_of_frames_and_of_copies():
    """One small package, read by faultless hands: hardly any verdict on copies is in doubt, and none is wrong."""
    way = Way(resolution=0.001, limit=0.001, hand=0.0, bias=0.0, placement=0.0, stations=(-80.0, 0.0, 80.0))
    said = said_of(read_in([way], counted=0), 1, 3, frames=11)
    assert len(said["frames"].sure) == 18  # the first 2 of 11 frames, three others each, in three zones
    assert np.all(said["copies"].sure >= 0.5)
    assert np.mean(said["copies"].right) > 0.9
    text = table({"faultless": said}, 1, 3)
    assert "| faultless |" in text
    assert text.count("\n| ") == 1 + 6 + 1 + 1  # two headings, six classes, one generator
    assert len(together([said["frames"], said["copies"]]).sure) == len(said["frames"].sure) + len(said["copies"].sure)
