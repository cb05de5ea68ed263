"""What a command says: a page on stdout, data for programs, complaints on stderr.

A page is made of rich renderables and written once, to a terminal, a pipe or a closed pipe alike.
"""

from __future__ import annotations

import codecs
import io
import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, suppress
from typing import TYPE_CHECKING, TextIO

from gapbook.errors import GapbookError, Problem, fail
from gapbook.screens import progress
from gapbook.signs import safe, safe_json, safe_lines

if TYPE_CHECKING:
    from rich.console import RenderableType

PIPE_WIDTH = 80
NARROWEST, WIDEST = 40, 2000
"""Columns that a page fills at least and at most."""
HEADING = "bold"
QUIET = "dim"
FIRST = 5
"""Problems that are told of each kind in one file."""
STANDS_FOR = {
    "±": "+/-", "×": "x", "−": "-", "–": "-", "·": ".", "²": "2", "³": "3", "√": "sqrt", "°": " deg", "…": "...",
    "“": '"', "”": '"', "‘": "'", "’": "'", "≥": ">=", "≤": "<=", "→": "->", "δ": "d", "█": "#", "─": "-", "│": "|", "┼": "+",
}  # fmt: skip
"""What is printed where stdout has no such letter; for all others their number, \\u2026."""
_HEIGHT = 100
"""No page fills a height; if rich is told none, it reads LINES and COLUMNS itself."""
_HANDLER = "gapbook-stand-ins"
_MARGIN = "  "


def width() -> int:
    """Columns there are to fill: those of COLUMNS or of the terminal, 40 to 2000; PIPE_WIDTH into a pipe."""
    stated = os.environ.get("COLUMNS", "")
    if stated.isascii() and stated.isdecimal():
        return min(max(int(stated[:9]), NARROWEST), WIDEST)
    if sys.stdout.isatty():
        with suppress(OSError):  # a terminal that tells no size
            return min(max(os.get_terminal_size(sys.stdout.fileno()).columns, NARROWEST), WIDEST)
    return PIPE_WIDTH


def show(*parts: RenderableType) -> None:
    """Print to stdout: colour only on a terminal without NO_COLOR, 80 columns into a pipe unless COLUMNS says more."""
    from gapbook.screens.console import SafeConsole  # late: --help and --json do without rich

    out = io.StringIO()
    terminal = sys.stdout.isatty()
    console = SafeConsole(
        file=out,
        width=width(),
        height=_HEIGHT,
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
    put(text if terminal else "\n".join(line.rstrip() for line in text.split("\n")))


@contextmanager
def streams() -> Iterator[None]:
    """Make stdout and stderr take any text in this context: one that is closed loses it, one without a letter gets a stand-in.

    What is written to stderr, by whatever library, is made safe.
    """
    codecs.register_error(_HANDLER, _stand_in)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)
    with redirect_stderr(_Safe(sys.stderr)):
        yield


class _Safe(io.TextIOBase):
    """A stream to which texts are written that were made safe."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        self._stream.write(safe_lines(text))
        return len(text)

    def flush(self) -> None:
        self._stream.flush()

    def isatty(self) -> bool:
        return self._stream.isatty()

    def fileno(self) -> int:
        return self._stream.fileno()


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(STANDS_FOR.get(sign, sign.encode("ascii", "backslashreplace").decode()) for sign in signs), error.end


def write(text: str) -> None:
    """Write words to stdout, made safe; lines end as they are."""
    put(safe_lines(text))


def put(text: str) -> None:
    """Write to stdout as it is; for a reader that has gone away (`| head`) it goes nowhere from then on.

    GapbookError `unwritable` if stdout takes no more, as on a full disk.
    """
    progress.clear()
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        raise fail("unwritable", f"stdout cannot be written: {error.strerror or error}") from None


def write_data(text: str) -> None:
    """Write data for a program."""
    put(as_data(text))


def as_data(text: str) -> str:
    """Data for a program as they are; on a terminal, signs that a terminal would obey are written out."""
    return safe_lines(text) if sys.stdout.isatty() else text


def as_json(text: str) -> str:
    """A JSON document made safe; if stdout lacks a letter of it, letters are escaped as JSON escapes them."""
    text = safe_json(text)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except (LookupError, UnicodeEncodeError):
        return "".join(sign if sign.isascii() else json.dumps(sign)[1:-1] for sign in text)
    return text


def complain(error: GapbookError) -> None:
    """Tell on stderr what is wrong, and point at it in a question; of each kind and file only the first problems are told."""
    for problem in _first_of_each_kind(error.problems):
        sys.stderr.write(f"gapbook: {safe_lines(str(problem))}\n")
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
