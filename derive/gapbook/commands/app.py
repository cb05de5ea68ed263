"""The gapbook command: its subcommands, and the one place where errors become exit statuses."""

from __future__ import annotations

import contextlib
import gc
import os
import sys
import warnings
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

import typer

from gapbook.commands import help as topics
from gapbook.commands import interrupts
from gapbook.commands.groups import SUMMARIES, GroupedCommands
from gapbook.errors import GapbookError, fail
from gapbook.screens import page, progress
from gapbook.signs import safe
from gapbook.tables.freshness import StaleTables
from gapbook.tables.limits import CellsNotAllowed
from gapbook.tables.opening import OtherPackage, open_package

COMMANDS = (
    "ask", "find", "show", "compare", "check", "derive", "sql", "draw", "chart", "sheet", "relate", "design",
    "export", "retension", "advise", "admit", "agreement", "atlas", "near", "drill", "pages", "photo",
    "start", "upgrade", "convert", "enter", "correct", "withdraw", "rename", "merge", "forget", "history", "release",
)  # fmt: skip
"""Subcommands; each is a module here with a function of that name and its HELP."""
READING = ("ask", "find", "show", "compare", "near")
"""Subcommands that write no file (compare only with --out), so that nothing has to be removed if they are interrupted."""
FAULT = 70
"""Exit status of a fault of gapbook's own (EX_SOFTWARE of BSD's sysexits.h)."""
LAST = 8
"""So many of the last steps before a fault are shown."""
LONGEST = 200
"""So many characters of a name or message are shown."""
HELP = "How tight a string bed really is: ask, find and compare racquet frames from measured string spacings."


def build(names: Sequence[str] = COMMANDS) -> typer.Typer:
    """The command with these subcommands; only their modules are imported. With several, it also has `help` and completion."""
    is_whole = len(names) > 1
    app = typer.Typer(
        name="gapbook",
        help=HELP,
        cls=GroupedCommands,
        no_args_is_help=True,
        add_completion=is_whole,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback(invoke_without_command=True)(_root)
    for name in names:
        module = import_module(f"gapbook.commands.{name}")
        app.command(name, help=module.HELP, short_help=SUMMARIES.get(name))(getattr(module, name))
    if is_whole:
        app.command("help", help=topics.HELP, short_help=SUMMARIES["help"])(topics.help)
    return app


def _root(version: bool = typer.Option(False, "--version", help="Version of the program and of the data package.")) -> None:
    if version:
        from importlib.metadata import PackageNotFoundError  # late: nothing else needs it
        from importlib.metadata import version as installed

        package = open_package()
        try:
            program = installed("gapbook")
        except PackageNotFoundError:
            program = "from a checkout"
        page.write(f"gapbook {program}, data package {package.name} {package.version}\n")
        raise typer.Exit


def _run(names: Sequence[str], times: int = 3) -> None:
    """Run a command, at most so many times: again if the package was changed while it read, before it printed anything."""
    for left in reversed(range(times)):
        try:
            with progress.shown_on_terminal("--json" in sys.argv):
                return build(names)(prog_name="gapbook")
        except GapbookError as error:
            if not left or error.problems[0].code != "package-changed":
                raise


def main() -> NoReturn:
    """Run the command line. Exit status 2 for bad usage or input that cannot be used, FAULT for a fault of gapbook's own."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # none is used; looking for them takes as long as typer
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # matrices here are small: idle threads would only spin
    warnings.showwarning = _show
    gc.disable()  # little of what a command makes is garbage that has to be looked for
    if not set(sys.argv[1:2]) <= set(READING) or any(argument.startswith("--o") for argument in sys.argv):
        interrupts.heed()
    status = _status()
    interrupts.end_at_once()
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)  # to shut the interpreter down takes a tenth of the time of a question


def _show(
    message: Warning | str, category: type[Warning], filename: str, lineno: int, file: object = None, line: str | None = None
) -> None:
    """Tell a warning on stderr: one of gapbook's own in its words, any other where it comes from."""
    progress.clear()
    with contextlib.suppress(OSError):
        where = (
            ""
            if issubclass(category, (StaleTables, CellsNotAllowed, OtherPackage))
            else f"{os.path.basename(filename)}:{lineno}: {category.__name__}: "
        )
        sys.stderr.write(f"gapbook: {where}{safe(str(message))}\n")


def _status() -> int:
    """The exit status of what was asked for on the command line, whose messages are printed."""
    with page.streams():
        return _run_status()


def _run_status() -> int:
    called = sys.argv[1:2]
    try:
        _must_be_text(sys.argv[1:])
        _run(called if called and called[0] in COMMANDS else COMMANDS)  # a command waits for no other
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 0 if leaving.code is None else 1
    except BaseException as error:
        if interrupts.came() or isinstance(error, KeyboardInterrupt):
            return interrupts.INTERRUPTED
        interrupts.end_at_once()
        with contextlib.suppress(OSError):
            page.complain(_told(error))
        return 2 if isinstance(error, (GapbookError, OSError)) else FAULT
    return 0


def _must_be_text(arguments: Sequence[str]) -> None:
    for argument in arguments:
        if any("\ud800" <= sign <= "\udfff" for sign in argument):
            raise fail("usage", "an argument is not UTF-8 text", found=ascii(argument))


def _told(error: BaseException) -> GapbookError:
    """An error as it is shown. What the operating system refuses counts as input; anything else is a fault of gapbook's own."""
    if isinstance(error, GapbookError):
        return error
    if isinstance(error, OSError):
        refused = "the system refuses it" if error.filename is None else f"{_cut(str(error.filename))} cannot be used"
        return fail("unreadable", f"{refused}: {error.strerror or error}")
    import traceback  # late: nothing else needs it

    steps = traceback.extract_tb(error.__traceback__)
    way = " > ".join(f"{os.path.basename(step.filename)}:{step.lineno}" for step in steps[-LAST:])
    fix = "Please report this line, and what was asked"
    return fail("fault", f"a fault of gapbook's own: {type(error).__name__}: {_cut(str(error))}", found=way, fix=fix)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
