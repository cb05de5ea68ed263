"""What a command says: a page on stdout, data for programs, complaints on stderr.

A page is made of rich renderables and written once, to a terminal, a pipe or a closed pipe alike.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gapbook.errors import GapbookError, Problem, fail
from gapbook.screens import progress
from gapbook.screens.text import safe

if TYPE_CHECKING:
    from rich.console import RenderableType

PIPE_WIDTH = 80
HEADING = "bold"
QUIET = "dim"
FIRST = 5
"""Problems that are told of each kind in one file."""
_MARGIN = "  "


def width() -> int:
    """Columns there are to fill: those of COLUMNS or of the terminal, 40 at least; PIPE_WIDTH into a pipe."""
    if os.environ.get("COLUMNS", "").isdigit():
        return max(int(os.environ["COLUMNS"]), 40)
    if sys.stdout.isatty():
        return max(os.get_terminal_size(sys.stdout.fileno()).columns, 40)
    return PIPE_WIDTH


def show(*parts: RenderableType) -> None:
    """Print to stdout: colour only on a terminal without NO_COLOR, 80 columns into a pipe unless COLUMNS says more."""
    from rich.console import Console  # late: --help and --json do without rich

    out = io.StringIO()
    terminal = sys.stdout.isatty()
    console = Console(
        file=out,
        width=width(),
        force_terminal=terminal,
        color_system="auto" if terminal else None,
        no_color="NO_COLOR" in os.environ or not terminal,
        markup=False,
        highlight=False,
        emoji=False,
        soft_wrap=False,
    )
    for part in parts:
        console.print(part)
    text = out.getvalue()
    write(text if terminal else "\n".join(line.rstrip() for line in text.split("\n")))


def write(text: str) -> None:
    """Write to stdout; for a reader that has gone away (`| head`) it goes nowhere from then on.

    GapbookError `unwritable` if stdout takes no more, as on a full disk, or has no such letter.
    """
    progress.clear()
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except UnicodeEncodeError as error:
        found = f"{error.object[error.start]!a} for {error.encoding}"
        raise fail("unwritable", "stdout has no such letter", found=found, fix="Set PYTHONIOENCODING=utf-8") from None
    except OSError as error:
        raise fail("unwritable", f"stdout cannot be written: {error.strerror or error}") from None


def write_data(text: str) -> None:
    """Write data for a program as they are; on a terminal, signs that a terminal would obey are written out."""
    write("\n".join(safe(line) for line in text.split("\n")) if sys.stdout.isatty() else text)


def complain(error: GapbookError) -> None:
    """Tell on stderr what is wrong, and point at it in a question; of each kind and file only the first problems are told."""
    for problem in _first_of_each_kind(error.problems):
        sys.stderr.write("gapbook: " + "\n".join(safe(line) for line in str(problem).split("\n")) + "\n")
    spans = [(getattr(one, "start", 0), getattr(one, "end", 0)) for one in error.problems]
    sys.stderr.write(pointed(getattr(error, "text", ""), spans))


def _first_of_each_kind(problems: Sequence[Problem]) -> list[Problem | str]:
    """The problems in order: FIRST of each code and file, then a sentence that says how many others there are at least."""
    kinds = [(problem.code, problem.place.file) if problem.place else None for problem in problems]
    told: list[Problem | str] = []
    for number, (problem, kind) in enumerate(zip(problems, kinds, strict=True)):
        before = 0 if kind is None else kinds[:number].count(kind)
        if before < FIRST:
            told.append(problem)
        elif before == FIRST:
            more = kinds.count(kind) - FIRST
            told.append(f"and {more} or more of this kind; gapbook check FOLDER --json lists all")
    return told


def pointed(text: str, spans: Sequence[tuple[int, int]]) -> str:
    """`text` with carets below its columns `spans` (from 0, the end excluded), in two lines.

    Empty if there is nothing to point at, if the text is wider than the window, or if it is no plain line.
    """
    from rich.cells import cell_len  # late, as above

    ends = max((end for start, end in spans if start < end), default=0)
    if not text.strip() or not ends or safe(text) != text or cell_len(text) + len(_MARGIN) > width():
        return ""
    under = (any(start <= column < end for start, end in spans) for column in range(ends))
    carets = "".join(("^" if marked else " ") * cell_len(sign) for sign, marked in zip(text, under, strict=False))
    return f"{_MARGIN}{text}\n{_MARGIN}{carets.rstrip()}\n"
