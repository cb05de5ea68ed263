"""The one error that users see: what is wrong, where it is, and how to mend it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """A place in the input: a file, the physical line in it (the header is line 1) and the column's name."""

    file: str
    line: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        line = "" if self.line is None else f":{self.line}"
        column = "" if self.column is None else f", column {self.column}"
        return f"{self.file}{line}{column}"


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with an input.

    code: its stable name.
    message: what is wrong.
    place: the file, line and column; None if it is not in a file.
    found: the input as it is.
    expected: what it may be.
    fix: how to mend it.
    """

    code: str
    message: str
    place: Place | None = None
    found: str | None = None
    expected: str | None = None
    fix: str | None = None

    def __str__(self) -> str:
        where = "" if self.place is None else f"{self.place}: "
        found = "" if self.found is None else f"; found {self.found}"
        expected = "" if self.expected is None else f"; expected {self.expected}"
        fix = "" if self.fix is None else f". {self.fix}"
        return f"{where}{self.message}{found}{expected}{fix}"


class GapbookError(Exception):
    """Input that cannot be used (exit status 2). Carries every problem found, worst first."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


def fail(code: str, message: str, **details: object) -> GapbookError:
    """A GapbookError with one problem; `details` are the other fields of Problem."""
    return GapbookError(Problem(code, message, **details))  # type: ignore[arg-type]
