"""Every command in one process with an audit hook: `python opens.py PACKAGE MINE OUT` prints JSON, by command what was touched
outside the package, the contribution, the interpreter's own files and the folder of outputs.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
WRITING = {"os.remove": (0, -1), "os.rename": (0, -2), "os.mkdir": (0, -1), "os.rmdir": (0, -1), "os.truncate": (0, None)}
"""Events that change a file: where in their arguments the path stands, and the folder it is relative to."""
SYSTEM = ("/dev/null", "/dev/urandom", "/proc", "/sys", "/etc/localtime", "/usr/share/zoneinfo", "/usr/share/fonts")
"""What every process may read: clocks, its own state, fonts."""


class Watch:
    """What is opened or changed, as real paths; those not below `allowed` are kept."""

    def __init__(self, allowed: list[str]) -> None:
        self.allowed = [os.path.realpath(path) for path in allowed]
        self._more: list[str] = []
        self.outside: set[str] = set()
        self._relative: list[int | None] = []
        self._open = os.open
        os.open = self._opening  # the event of an open does not say what the path is relative to
        sys.addaudithook(self._hear)

    def allow(self, more: list[str]) -> None:
        """Forget what was touched; these are allowed from now on, besides what was allowed at first."""
        self._more = [os.path.realpath(path) for path in more]
        self.outside.clear()

    def _opening(self, path: Any, *arguments: Any, dir_fd: int | None = None, **named: Any) -> int:
        self._relative.append(dir_fd)
        try:
            return self._open(path, *arguments, dir_fd=dir_fd, **named)
        finally:
            self._relative.pop()

    def _hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open":
            self._look(arguments[0], self._relative[-1] if self._relative else None)
        elif event in WRITING:
            path, folder = WRITING[event]
            self._look(arguments[path], None if folder is None else arguments[folder], event == "os.truncate")

    def _look(self, path: Any, folder: int | None, follows: bool = True) -> None:
        """Note a path; what is removed or renamed is a link itself, not what it leads to."""
        if isinstance(path, int):
            return
        base = os.getcwd() if folder in (None, -1) else os.readlink(f"/proc/self/fd/{folder}")
        found = os.path.join(base, os.fsdecode(path))
        folder_of, name = os.path.split(found)
        found = os.path.realpath(found) if follows else os.path.join(os.path.realpath(folder_of), name)
        if not any(found == one or found.startswith(one + os.sep) for one in (*self.allowed, *self._more)):
            self.outside.add(found)


DRILL = ("--pattern", "16x19", "--head", "98 sq in", "--centre", "11", "--sides", "+12%")
PHOTO = ("--pattern", "16x19", "--beam", "23", "--bar-left", "270", "--bar-right", "270", "--contributor", "ada-moss")
STARTED = ("--title", "Beds", "--licence", "CC0-1.0", "--who", "ada-moss", "--name", "Ada Moss")
DECIDED = ("--reason", "read wrongly", "--who", "ole")


def commands(package: str, mine: str, out: Path) -> dict[str, list[str]]:
    """Each command with arguments that make it do all its work, in an order in which each still finds what it works on."""
    named = ["--package", package]
    return {
        "ask": ["measured, tighter centre than two", *named],
        "find": ["--tighter-than", "one", *named],
        "show": ["one", *named],
        "compare": ["one", mine, *named],
        "check": [mine, *named],
        "derive": named,
        "sql": ["select * from scores", *named],
        "draw": [mine, "--out", str(out / "bed.svg"), *named],
        "chart": ["head area", "centre mesh", "--out", str(out / "chart.png"), *named],
        "sheet": ["one", "--out", str(out / "sheet.pdf"), *named],
        "relate": ["openness_centre", "launch_angle_deg", *named],
        "design": ["openness_centre", "launch_angle_deg", "--effect", "0.1", *named],
        "export": ["--out", str(out / "export"), *named],
        "retension": ["one", mine, "--at", "24kg", *named],
        "advise": ["one", "--against", "two", *named],
        "admit": [mine, *named],
        "agreement": named,
        "atlas": ["--out", str(out / "atlas"), *named],
        "near": ["one", *named],
        "drill": [*DRILL, "--out", str(out / "drilling.svg"), *named],
        "pages": ["--out", str(out / "pages.pdf")],
        "photo": [str(out / "bed.jpg"), *PHOTO, "--out", str(out / "bed"), *named],
        "start": [str(out / "club"), *STARTED],
        "convert": [*(f"{mine}/{one}.csv" for one in ("spacings", "specimens", "frames")), "--out", str(out / "made"), *named],
        "upgrade": named,
        "enter": [mine, *named],
        "release": ["1.5.0", "--out", str(out / "released"), *named],
        "correct": ["one-a/main/0/7/1", "--value", "12.6", *DECIDED, *named],
        "rename": ["two", "too", "--table", "frames", *DECIDED, *named],
        "merge": ["cal", "cal-2", *DECIDED, *named],
        "withdraw": ["two-a", *DECIDED, *named],
        "history": ["one-a", *named],
        "forget": ["ida", *DECIDED, *named],
    }


def system() -> list[str]:
    """What belongs to the interpreter, the program and the system."""
    own = [str(ROOT / name) for name in ("derive", "tests", "schema", "datapackage.json")]  # the program, and its own schemas
    return [sys.prefix, sys.base_prefix, *(path for path in sys.path if path), *own, *SYSTEM]


def main() -> None:
    """Run every command; what each touched outside."""
    package, mine, out = sys.argv[1:]
    scratch, home = Path(tempfile.mkdtemp(dir=out)), Path(tempfile.mkdtemp(dir=out))
    os.environ |= {"HOME": str(home), "XDG_CONFIG_HOME": str(home), "XDG_CACHE_HOME": str(home)}
    tempfile.tempdir = str(scratch)
    watch = Watch([package, mine, out, *system()])
    from gapbook.commands import app

    told = {}
    for name, arguments in commands(package, mine, Path(out)).items():
        watch.outside.clear()
        sys.argv = ["gapbook", name, *arguments]
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
            status = app._status()
        told[name] = {"status": status, "outside": sorted(watch.outside), "said": printed.getvalue()[-500:]}
    watch.outside.clear()
    with contextlib.suppress(OSError):
        os.close(os.open("elsewhere", os.O_RDONLY, dir_fd=os.open("/", os.O_RDONLY)))
    told["a file outside"] = {"status": 0, "outside": sorted(watch.outside), "said": ""}
    print(json.dumps(told))


if __name__ == "__main__":
    main()
