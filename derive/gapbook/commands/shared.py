"""What commands share: their options, and how they print a result, an answer or the files they wrote.

`gapbook --help` imports every command. So commands import at their top only what is quick to import. What reads, computes or
draws is imported in their functions ("late"), so that a command does not wait for what it does not use.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gapbook.science.comparison import CONFIDENCE
from gapbook.screens import page
from gapbook.signs import safe
from gapbook.tables.package import Package

if TYPE_CHECKING:
    from rich.console import RenderableType

    from gapbook.catalogue import Catalogue
    from gapbook.questions.question import Question
    from gapbook.questions.ranges import Frozen


Units = StrEnum("Units", ["metric", "imperial"])
"""Units in which people are shown figures."""
PackageOption = Annotated[
    Path | None, typer.Option("--package", help="Data package to use: its folder. Else GAPBOOK_PACKAGE, else the one at hand.")
]
BesideOption = Annotated[
    Path | None, typer.Option("--beside", metavar="FOLDER", help="A contribution whose rows are asked too; nothing is changed.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")]
UnitsOption = Annotated[
    Units | None, typer.Option("--units", help="Units for people; default sq in beside cm², the rest metric.")
]
ConfidenceOption = Annotated[
    float | None,
    typer.Option("--confidence", help=f"How sure a verdict must be, above 0.5 and below 1; default {CONFIDENCE:g}."),
]
PictureOption = Annotated[Path, typer.Option("--out", help="File to write: .svg, .png or .pdf.")]
DarkOption = Annotated[bool, typer.Option("--dark", help="Light on dark, for a screen.")]


def checked_confidence(confidence: float | None) -> float:
    """The confidence asked for, CONFIDENCE if it is None. GapbookError unless it is above 0.5 and below 1."""
    if confidence is None:
        return CONFIDENCE
    from gapbook.questions import question  # late: pydantic

    return question.checked_confidence(confidence)


@contextmanager
def asked_package(package: Path | None, beside: Path | None) -> Iterator[Package]:
    """The package to ask: that of --package, with the contribution of --beside joined to a copy for this context."""
    from gapbook.tables.opening import open_package  # late: see the head

    opened = open_package(package)
    if beside is None:
        yield opened
        return
    from gapbook.intake.joining import joined

    with joined(opened, beside) as both:
        yield both


def package_document(package: Package) -> dict[str, str]:
    """What a JSON document says about the package."""
    return {"name": package.name, "version": package.version}


@contextmanager
def outcome(status: int = 0) -> Iterator[None]:
    """Print in this context what was done, then end with `status`, also if printing fails."""
    try:
        yield
    except Exception as error:
        with suppress(OSError):
            sys.stderr.write(f"gapbook: it is done, but could not be printed: {safe(str(error))}\n")
    if status:
        raise typer.Exit(status)


def print_json(document: Mapping[str, Any]) -> None:
    """Print one JSON document; what a terminal would obey is escaped as JSON escapes it."""
    page.put(page.as_json(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)) + "\n")


def print_answer(catalogue: Catalogue, question: Question, as_json: bool, units: str | None, said: Sequence[str] = ()) -> None:
    """Answer a question and print it, for `ask` and `find` alike.

    catalogue: the opened data package.
    question: the question.
    as_json: whether to print the JSON document, which has all entries; for a screen only the first ones are made.
    units: metric, imperial, or None for the default.
    said: sentences on how the question was read.
    """
    if as_json:
        print_json(catalogue.find(question, said=said).model_dump(mode="json"))
        return
    from gapbook.screens.answers import ROWS, screen  # late: rich, which JSON does not need

    page.show(*screen(catalogue.find(question, ROWS, said), units))


def print_found(found: Frozen, screen: Callable[..., Sequence[RenderableType]], as_json: bool, units: str | None) -> None:
    """Print what was found.

    found: it.
    screen: makes the screen of it and the units.
    as_json: whether to print the JSON document in place of the screen.
    units: metric, imperial, or None for the default.
    """
    if as_json:
        print_json(found.model_dump(mode="json"))
    else:
        page.show(*screen(found, units))


def print_rows(counts: Mapping[str, int]) -> None:
    """Print how many rows each file has."""
    page.write("".join(f"{safe(name)}: {count:,} rows\n" for name, count in counts.items()))


def print_written(written: Sequence[Path], document: Mapping[str, Any], as_json: bool, notes: Sequence[str] = ()) -> None:
    """Print which files were written.

    written: the files.
    document: what else the JSON document says.
    as_json: whether to print that document.
    notes: further lines for people.
    """
    with outcome():
        if as_json:
            print_json({"written": [str(path) for path in written], **document})
        else:
            page.write("".join(f"{safe(line)}\n" for line in (*(f"Wrote {path}" for path in written), *notes)))
