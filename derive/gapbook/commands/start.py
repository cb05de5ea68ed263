"""`gapbook start DIR`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, outcome, print_json
from gapbook.errors import fail
from gapbook.screens import page
from gapbook.signs import safe

HELP = """Begin a data package of your own in a new or empty folder.

It holds the descriptor, the schemas, empty tables, the first contributor, a README, a page for contributors, .gitignore, a
pre-commit configuration and workflow files that run gapbook check --strict and gapbook derive --check. On a terminal it asks
for what the options leave out. JSON: {"root", "written", "name", "licence"}."""


def start(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder; new or empty, or with nothing but .git.")],
    title: Annotated[str | None, typer.Option("--title", help="What the catalogue is called.")] = None,
    licence: Annotated[str | None, typer.Option("--licence", "--license", help="SPDX id of the data's licence.")] = None,
    who: Annotated[str | None, typer.Option("--who", help="Your contributor_id, such as ada-moss.")] = None,
    name: Annotated[str | None, typer.Option("--name", help="The name you go by.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Ask, write, say so."""
    from gapbook.tables.starting import LICENCE, Wishes, must_be_free, slug_of, spdx  # late: see shared
    from gapbook.tables.starting import start as write

    must_be_free(folder)
    name = _asked(name, "--name", "Your name", None)
    who = _asked(who, "--who", "Your id", "-".join(name.lower().split()))
    title = _asked(title, "--title", "Title of the catalogue", f"String beds read by {name}")
    wishes = Wishes(title, spdx(_asked(licence, "--licence", "Licence of the data (SPDX id)", LICENCE)), who, name)
    written = write(folder, wishes)
    with outcome():
        if as_json:
            document = {"root": str(folder), "written": [str(path) for path in written], "name": slug_of(folder, wishes)}
            print_json({**document, "licence": wishes.licence})
        else:
            page.write(f"Began {safe(wishes.title)} in {safe(str(folder))}: {len(written)} files. Next:\n")
            steps = (
                f"gapbook sheet 16x19 --contributor {who} --out sheet.pdf --package {folder}",
                f"gapbook check --strict {folder}",
                f"git -C {folder} init && git -C {folder} add . && git -C {folder} commit -m 'Begin the catalogue'",
            )
            page.write("".join(f"  {safe(step)}\n" for step in steps))


def _asked(given: str | None, option: str, words: str, default: str | None) -> str:
    """What an option says; if it says nothing, what is typed on a terminal. GapbookError if there is no terminal."""
    if given is not None:
        return given
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise fail("usage", f"{option} is needed, because there is no terminal to ask on", expected=f"{option} TEXT")
    return str(typer.prompt(words, default=default)).strip()
