"""The command as a user runs it, in a process of its own.

Starting Python and importing the libraries takes longer than most commands. `gapbook` therefore has its processes forked from
one that has imported them already (this file, run as a script); from the fork on they are what `python -m gapbook` is, with
their own arguments, environment, folder, streams and exit status. `started_anew` starts Python for it, as a user does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parents[1]
LEFT_OUT = ("GAPBOOK_PACKAGE", "COLUMNS", "NO_COLOR")
"""Variables of whoever runs the tests that a command would heed."""
LIBRARIES = (
    "typer", "pydantic.fields", "duckdb", "numpy", "pyarrow.compute", "pyarrow.csv", "pyarrow.parquet", "scipy.linalg",
    "scipy.special", "scipy.sparse", "rich.console", "rich.table", "matplotlib.figure", "matplotlib.backends.backend_svg",
    "matplotlib.backends.backend_pdf",
)  # fmt: skip
"""What commands import and what does no more at its import than to be there: no thread, nothing read from the environment."""
SINGLE = {"OPENBLAS_NUM_THREADS": "1", "JE_ARROW_MALLOC_CONF": "background_thread:false"}
"""Libraries start no threads, which would be lost in a fork."""


def started_anew(*arguments: object, cwd: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    """One run of the command by a Python started for it."""
    command = [sys.executable, "-m", "gapbook", *map(str, arguments)]
    return subprocess.run(command, cwd=cwd, env=_environment(environment), capture_output=True, text=True, encoding="utf-8")


def gapbook(*arguments: object, cwd: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    """One run of the command in a process of its own, with these variables in its environment besides the usual ones."""
    if not hasattr(os, "fork"):
        return started_anew(*arguments, cwd=cwd, **environment)
    with tempfile.TemporaryDirectory(prefix="running-") as scratch:
        streams = [Path(scratch, name) for name in ("out", "err")]
        asked = {
            "arguments": [str(one) for one in arguments],
            "cwd": str(cwd),
            "environment": _environment(environment),
            "streams": [str(path) for path in streams],
        }
        server = _server()
        server.stdin.write(json.dumps(asked) + "\n")
        server.stdin.flush()
        status = int(server.stdout.readline())
        out, err = (path.read_text(encoding="utf-8") for path in streams)
    return subprocess.CompletedProcess(["gapbook", *asked["arguments"]], status, out, err)


def _environment(more: dict[str, str]) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in LEFT_OUT}
    return kept | {"PYTHONPATH": str(ROOT / "derive"), "PYTHONIOENCODING": "utf-8"} | more


@cache
def _server() -> subprocess.Popen[str]:
    """The process that the others are forked from; it ends with its input, when this one ends."""
    environment = _environment(SINGLE)
    return subprocess.Popen(
        [sys.executable, __file__], env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
    )


def stop() -> None:
    """End the process that the others are forked from, if there is one."""
    if _server.cache_info().currsize:
        _server().communicate()
        _server.cache_clear()


def _serve() -> None:
    """Run one command after the other, as told by lines of JSON; answer with their exit statuses."""
    from importlib import import_module
    from pkgutil import walk_packages

    for name in (*LIBRARIES, *(module.name for module in walk_packages([ROOT / "derive" / "gapbook"], "gapbook."))):
        if name != "gapbook.__main__":
            import_module(name)
    answers = os.fdopen(os.dup(1), "w")
    orders = os.fdopen(os.dup(0))
    with open(os.devnull, "r+b") as nothing:
        os.dup2(nothing.fileno(), 0)
        os.dup2(nothing.fileno(), 1)
    for line in orders:
        asked = json.loads(line)
        pid = os.fork()
        if not pid:
            _become(**asked)
        answers.write(f"{os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])}\n")
        answers.flush()


def _become(arguments: list[str], cwd: str, environment: dict[str, str], streams: list[str]) -> NoReturn:
    """Be `python -m gapbook` from here on."""
    import runpy
    import traceback

    status = 1
    try:
        for number, path in enumerate(streams, 1):
            with open(path, "wb") as file:
                os.dup2(file.fileno(), number)
        os.chdir(cwd)
        os.environ.clear()
        os.environ.update(environment)
        sys.argv[1:] = arguments
        runpy.run_module("gapbook", run_name="__main__", alter_sys=True)
    except SystemExit as leaving:
        status = leaving.code if isinstance(leaving.code, int) else 1
    except BaseException:
        traceback.print_exc()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)


if __name__ == "__main__":
    _serve()
