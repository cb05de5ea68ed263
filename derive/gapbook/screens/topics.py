"""What `gapbook help TOPIC` tells: short pages of plain text, at most 80 columns wide."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from textwrap import fill

from gapbook.errors import fail
from gapbook.questions.intents import TERMS
from gapbook.screens.about import phrases_text
from gapbook.signs import safe
from gapbook.tables.package import Package

WIDTH = 80
TITLES = {
    "phrases": "phrases that questions are made of",
    "reading": "how a string bed is read with a rule or a calliper",
    "scores": "what mesh, openness and the other words mean",
    "exit-codes": "what the exit status of a command says",
}
"""The topics."""
OTHER_NAMES = {
    **dict.fromkeys(("questions", "ask", "phrase"), "phrases"),
    **dict.fromkeys(("read", "reading-a-bed", "bed", "measuring"), "reading"),
    **dict.fromkeys(("score", "words", "openness"), "scores"),
    **dict.fromkeys(("exit", "codes", "exit-code", "status", "exit-status"), "exit-codes"),
}
"""Further names of topics."""
READING = """How to read a string bed

Only strung frames. Straighten the strings, mark one face and keep it towards
you, tip up. Lay the rule square to the strings and in the string plane.
x runs to the right, y to the tip, from the head's centre, in mm.

Count strings, not holes: mains from left to right, crosses from tip to throat.
The inner edge is the inner wall of the hoop at the string plane.

With a rule (kind mark): lay it once and note what it shows.
  mark 0      the first inner edge
  mark k      string k
  mark n + 1  the other inner edge
With a calliper (kind gap): from string to string, left edge to left edge,
without spreading them.
  gap k       from string k to string k + 1
  gap 0, n    from the inner edge to the outer string's centre (read to its near
              side and add half the gauge); both or neither
Mains: across the middle (station 0), and where they fan out also 80 mm above
and below it. Crosses: along the middle only.

A tensioned string can break, and cut ends are sharp: mind your eyes and hands.

gapbook sheet FRAME --contributor YOUR-ID --out sheet.pdf prints a page for it,
and a folder to type the figures into; gapbook check looks them over.
"""
EXIT_CODES = """What the exit status of a command says

    0  answered, done, or clean
    1  check or admit found errors (with --strict, warnings too), derive --check
       found rows that differ, or release, correct and the like refused
    2  bad usage, or input that cannot be used
   70  a fault of gapbook's own; please report the line that it prints
  130  interrupted

Once something is written or judged, trouble with printing does not change the
status. The answer stands on stdout, everything else on stderr.
"""


def told(topic: str | None) -> str:
    """What is told about a topic; without one, which topics there are. GapbookError `no-topic` for another."""
    if topic is None:
        listed = "".join(f"  {name:<12}{title}\n" for name, title in TITLES.items())
        return f"Topics:\n{listed}\ngapbook help TOPIC tells one; gapbook COMMAND --help tells about a command.\n"
    asked = "-".join(topic.lower().replace("_", " ").split())
    name = OTHER_NAMES.get(asked, asked)
    if name not in TITLES:
        near = get_close_matches(asked, [*TITLES, *OTHER_NAMES], 1)
        fix = f"Did you mean {OTHER_NAMES.get(near[0], near[0])}?" if near else None
        raise fail("no-topic", "there is no such topic", found=topic, expected="one of " + ", ".join(TITLES), fix=fix)
    tellers: dict[str, Callable[[], str]] = {
        "phrases": phrases_text,
        "reading": lambda: READING,
        "scores": scores_text,
        "exit-codes": lambda: EXIT_CODES,
    }
    return tellers[name]()


def scores_text() -> str:
    """Every word that `gapbook ask "what is WORD"` explains, from the schemas of the package at hand."""
    from gapbook.tables.opening import open_package  # late: other topics read no package

    package = open_package()
    lines = ["What the words mean", ""]
    for name, term in TERMS.items():
        lines.append(
            fill(f"{name}: {term.text or _described(package, term.table, term.field)}", WIDTH, subsequent_indent="    ")
        )
    lines += ["", fill("± is the expanded uncertainty at k = 2: it is to hold the truth in 95 % of cases.", WIDTH)]
    return "\n".join(lines) + "\n"


def _described(package: Package, table: str, field: str) -> str:
    return safe(package.schema(table).field(field).description)
