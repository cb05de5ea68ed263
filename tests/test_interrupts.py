"""An interrupt at any moment: status 130, and nothing on the screen."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from demo_rows import ROOT

pytestmark = pytest.mark.skipif(os.name == "nt", reason="interrupts are sent otherwise there")

START = """
import signal, sys
from gapbook.__main__ import main

class Interrupting:
    def find_spec(self, name, path, target=None):
        if name == {module!r}:
            signal.raise_signal(signal.SIGINT)

def instead(derive):
    from gapbook.tables import derived
    derived.derive = derive

sys.meta_path.insert(0, Interrupting())
sys.argv = ["gapbook", *{arguments!r}]
{more}
main()
"""
THAT_BECOMES_ANOTHER = """
def derive(*given, **named):
    try:
        signal.raise_signal(signal.SIGINT)
    except KeyboardInterrupt:
        raise RuntimeError("Query interrupted") from None

instead(derive)
"""
WHERE_NONE_CAN_BE_RAISED = """
class Lost:
    def __del__(self):
        signal.raise_signal(signal.SIGINT)

def derive(*given, **named):
    Lost()
    return {}

instead(derive)
"""
ANOTHER_LOST = WHERE_NONE_CAN_BE_RAISED.replace("signal.raise_signal(signal.SIGINT)", 'raise ValueError("lost")')
IN_A_QUESTION = """
from gapbook.tables.store import Store

def rows(*given):
    try:
        signal.raise_signal(signal.SIGINT)
    finally:
        sys.exit(7)  # who catches everything does not keep it going

Store.rows = rows
"""
QUESTION = ["ask", "16 mains", "--json"]


def ran(arguments: list[str], module: str = "", more: str = "", ignored: bool = False) -> subprocess.CompletedProcess[str]:
    def ignore() -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN if ignored else signal.SIG_DFL)

    code = START.format(arguments=arguments, module=module, more=more)
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT / "derive")},
        capture_output=True,
        text=True,
        encoding="utf-8",
        preexec_fn=ignore,
    )


@pytest.mark.parametrize(
    ("arguments", "module"),
    [
        (QUESTION, "gapbook.commands.app"),
        (QUESTION, "typer"),
        (QUESTION, "gapbook.questions.grammar"),
        (QUESTION, "pydantic"),
        (QUESTION, "duckdb"),
        (["ask", "sixteen mains"], "gapbook.screens.page"),
        (["agreement"], "numpy"),
        (["derive", "--package", "nowhere"], "gapbook.screens.page"),
    ],
    ids=str,
)
def test_an_interrupt_while_it_imports(arguments, module):
    found = ran(arguments, module)
    assert (found.returncode, found.stdout, found.stderr) == (130, "", "")


def test_an_interrupt_of_a_question():
    found = ran(QUESTION, more=IN_A_QUESTION)
    assert (found.returncode, found.stdout, found.stderr) == (130, "", "")


def test_an_interrupt_that_becomes_another_error():
    found = ran(["derive"], more=THAT_BECOMES_ANOTHER)
    assert (found.returncode, found.stdout, found.stderr) == (130, "", "")


def test_an_interrupt_that_nobody_can_be_told_of():
    found = ran(["derive"], more=WHERE_NONE_CAN_BE_RAISED)
    assert (found.returncode, found.stderr) == (0, "")


@pytest.mark.slow
def test_other_errors_that_nobody_can_be_told_of_are_told():
    found = ran(["derive"], more=ANOTHER_LOST)
    assert (found.returncode, "ValueError: lost" in found.stderr) == (0, True)


@pytest.mark.parametrize("module", ["typer", "duckdb"])
@pytest.mark.slow_after(1)
def test_an_ignored_interrupt_stays_ignored(module):
    found = ran(QUESTION, module, ignored=True)
    assert (found.returncode, found.stdout, found.stderr) == (0, ran(QUESTION).stdout, "")
