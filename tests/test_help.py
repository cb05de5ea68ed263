"""The help by what commands are for, its topics, and completion of commands in a shell."""

from __future__ import annotations

import re

import pytest

from gapbook.commands.app import COMMANDS
from gapbook.commands.groups import GROUPS, SUMMARIES, grouped
from gapbook.screens.topics import OTHER_NAMES, TITLES
from running import gapbook, started_anew


def test_every_command_is_in_one_group():
    assert set(COMMANDS) <= set(SUMMARIES)
    assert len(SUMMARIES) == sum(len(group) for group in GROUPS.values())


def test_a_command_in_no_group_comes_last():
    assert grouped(["ask", "new-one"]) == [("Look", ["ask"]), ("More", ["new-one"])]


def test_no_summary_is_cut_at_80_columns():
    shown = gapbook("--help").stdout
    assert max(map(len, shown.splitlines())) <= 80
    assert "..." not in shown.split("\n\nLook:")[1]
    lines = re.findall(r"^  ([a-z-]+) {2,}(.+)$", shown.partition("Look:")[2], re.MULTILINE)
    assert dict(lines) == {name: SUMMARIES[name] for name in [*COMMANDS, "help"]}


@pytest.mark.parametrize(("topic", "says"), [
    ("phrases", "tighter than FRAME"),
    ("reading", "Count strings, not holes"),
    ("scores", "100 is a 10 mm mesh"),
    ("exit-codes", "130  interrupted"),
])  # fmt: skip
def test_a_topic_is_told(topic, says):
    run = gapbook("help", topic)
    assert run.returncode == 0
    assert says in run.stdout
    assert max(map(len, run.stdout.splitlines())) <= 80
    assert topic in gapbook("help").stdout


@pytest.mark.parametrize(("asked", "meant"), [("Exit codes", "exit-codes"), ("reading a bed", "reading"), ("read", "reading")])
def test_a_topic_has_other_names(asked, meant):
    assert gapbook("help", asked).stdout == gapbook("help", meant).stdout


def test_a_topic_that_is_none_is_told():
    run = gapbook("help", "phrse")
    assert run.returncode == 2
    assert "Did you mean phrases?" in run.stderr
    assert set(OTHER_NAMES.values()) <= set(TITLES)


@pytest.mark.parametrize(("words", "number", "offered"), [
    ("gapbook ret", 1, ["retension"]),
    ("gapbook find --tight", 2, ["--tighter-than"]),
    ("gapbook no", 1, []),
])  # fmt: skip
def test_bash_completes(words, number, offered):
    run = started_anew(_GAPBOOK_COMPLETE="complete_bash", COMP_WORDS=words, COMP_CWORD=str(number))
    assert run.stdout.split() == offered
