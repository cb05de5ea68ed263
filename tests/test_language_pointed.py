"""A question that is not understood, drawn with carets under the clause."""

from __future__ import annotations

import pytest

from gapbook.screens.page import pointed
from running import gapbook


def complaint(*arguments: str, columns: int = 80) -> list[str]:
    """The lines on stderr of a run that is refused."""
    run = gapbook(*arguments, COLUMNS=str(columns))
    assert (run.returncode, run.stdout) == (2, "")
    return run.stderr.splitlines()


# Text, spans, and the line of carets (None: nothing is drawn). Counted by hand; 拍 takes two columns of a terminal.
DRAWN = [
    ("16 mains, quux", [(10, 14)], "          ^^^^"),
    ("quux, 16 mains, 98", [(0, 4), (16, 18)], "^^^^            ^^"),
    ("quux", [(0, 4)], "^^^^"),
    ("拍, quux", [(3, 7)], "    ^^^^"),
    ("拍 98", [(0, 4)], "^^^^^"),
    ("quux", [(0, 0)], None),
    ("quux", [], None),
    ("  ", [(0, 2)], None),
    ("quux\nmains", [(0, 4)], None),
    ("quux\u202e", [(0, 4)], None),
    ("q" * 38, [(0, 1)], "^"),
    ("q" * 39, [(0, 1)], None),
    ("拍" * 19, [(18, 19)], " " * 36 + "^^"),
    ("拍" * 20, [(18, 19)], None),
]


@pytest.mark.parametrize(("text", "spans", "carets"), DRAWN, ids=[repr(text) for text, *_ in DRAWN])
def test_carets_stand_under_the_clause(monkeypatch, text, spans, carets):
    monkeypatch.setenv("COLUMNS", "40")
    assert pointed(text, spans) == ("" if carets is None else f"  {text}\n  {carets}\n")


def test_the_question_is_drawn_below_what_is_wrong_with_it():
    lines = complaint("ask", "16 mains, quux, top 0")
    assert [line.partition(";")[0] for line in lines[:2]] == [
        "gapbook: this is not understood",
        "gapbook: a limit is a whole number from 1 to 1000000000 (0)",
    ]
    assert lines[2:] == ["  16 mains, quux, top 0", "            ^^^^  ^^^^^"]


@pytest.mark.parametrize(
    "arguments",
    [("ask", "16 mains, quux", "--json"), ("ask", ""), ("ask", "16 mains, quux" + " " * 70), ("find", "--basis", "quux")],
    ids=["json", "nothing asked", "too wide", "no typed question"],
)
def test_nothing_is_drawn(arguments):
    lines = complaint(*arguments)
    assert lines
    assert all(line.startswith("gapbook: ") for line in lines)


def test_help_says_how_clauses_are_joined_and_names_every_kind():
    said = " ".join(gapbook("ask", "--help").stdout.split())
    assert 'joined by commas or "and"' in said
    assert "99% confidence" in said


@pytest.mark.parametrize("confidence", ["0.5", "1", "0", "-1", "nan"])
def test_a_confidence_that_no_verdict_has(confidence):
    (line,) = complaint("find", "--confidence", confidence)
    assert "expected above 0.5 and below 1" in line
