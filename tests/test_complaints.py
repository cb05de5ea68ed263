"""What is told on stderr of many problems at once: the first five of each kind, and how many more at least."""

from __future__ import annotations

import pytest

from gapbook.errors import GapbookError, Place, Problem
from gapbook.screens.page import complain
from running import gapbook

MORE = "gapbook: and {} or more of this kind; gapbook check FOLDER --json lists all"


def blank(line: int, file: str = "mine/spacings.csv", code: str = "required") -> Problem:
    return Problem(code, "a blank cell", Place(file, line))


# Problems, and the lines told: a number for a problem named at that line, words for what is said of the others.
CASES = {
    "five": ([blank(line) for line in range(2, 7)], [2, 3, 4, 5, 6]),
    "six": ([blank(line) for line in range(2, 8)], [2, 3, 4, 5, 6, MORE.format(1)]),
    "twenty": ([blank(line) for line in range(2, 22)], [2, 3, 4, 5, 6, MORE.format(15)]),
    "two codes": (
        [blank(line, code=("type", "limit")[line % 2]) for line in range(2, 16)],
        [2, 3, 4, 5, 6, 7, 8, 9, 10, 11, MORE.format(2), MORE.format(2)],
    ),
    "two files": (
        [blank(line, file) for file in ("a.csv", "b.csv") for line in range(2, 8)],
        [2, 3, 4, 5, 6, MORE.format(1), 2, 3, 4, 5, 6, MORE.format(1)],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_first_five_of_a_kind(name, capsys):
    problems, expected = CASES[name]
    complain(GapbookError(*problems))
    told = capsys.readouterr().err.splitlines()
    assert [int(line.split(":")[2]) if "a blank cell" in line else line for line in told] == expected


def test_what_stands_in_no_file_is_told_whole(capsys):
    complain(GapbookError(*(Problem("wrong-option", f"no {number}") for number in range(9))))
    assert capsys.readouterr().err.splitlines() == [f"gapbook: no {number}" for number in range(9)]


def test_a_sheet_that_is_not_filled_in(tmp_path):
    assert gapbook("sheet", "fern-98", "--out", str(tmp_path / "sheet.pdf")).returncode == 0
    run = gapbook("retension", "fern-98", str(tmp_path / "sheet-csv"), "--at", "24kg")
    assert run.returncode == 2
    assert len(run.stderr.splitlines()) <= 6
