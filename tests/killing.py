"""Admissions in processes of their own that are killed, or whose writes fail, at a chosen point.

Everything is imported first; each admission then runs in a fork on a fresh copy of a package. After it the package is
opened again, as any command would, and its files are compared with what they were and with what they should become.

Checking and deriving write nothing. Where hundreds of points are tried they are done once and their results used again;
random kills and admissions at the same time do everything.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import pickle
import shutil
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

with suppress(ImportError):
    import pandas  # noqa: F401  (Arrow looks for it)

from contributed import even_bed, package_in, sent, state
from gapbook.errors import GapbookError
from gapbook.intake import admit as admission
from gapbook.intake import changes  # noqa: F401  (imported before any fork)
from gapbook.intake.additions import appended
from gapbook.intake.admit import Terms, admit
from gapbook.tables import transactions
from gapbook.tables.opening import open_package

KILLED, REFUSED = 137, 3
TERMS = Terms(rules=(), wait=120.0)
STATUS = {"admitted": 10, "already-there": 11}
TOUCHING = ("replace", "fsync", "unlink", "open", "mkdir", "rmdir", "close", "fchmod")
WATCHED = ("transactions.py", "locking.py", "files.py", "additions.py", "writing.py")
Fault = Callable[[], None]
SEEN = [0]
"""Points that a faulty process has passed."""


class Bench:
    """A derived package, a contribution for it, and the package after its admission; copies are made of the first."""

    def __init__(self, scratch: Path) -> None:
        self.scratch = scratch
        self.contribution = sent(even_bed("three", "three-a"), scratch / "sent")
        self.other = sent(even_bed("four", "four-a", main=11.5), scratch / "other")
        self._package = scratch / "package"
        run(lambda: _exit(bool(package_in(self._package))))
        self.old = state(self._package)
        copy = self.copy()
        assert run(lambda: admitted(copy, self.contribution)) == STATUS["admitted"]
        self.new = state(copy)
        assert self.new.keys() == self.old.keys()
        assert self.new != self.old

    def quick(self) -> None:
        """From here on the contribution is not checked, nor is anything derived: both were done once, in a fork."""
        kept, copy = self.scratch / "kept", self.copy()
        run(lambda: admitted(copy, self.contribution))
        run(lambda: kept.write_bytes(pickle.dumps(_worked_out(self._package, copy, self.contribution))))
        checked, again, before, after = pickle.loads(kept.read_bytes())
        size = len(self.old["catalogue/specimens.csv"])
        admission.check_layers = lambda package, *_, **__: (
            checked if package.path("specimens").stat().st_size == size else again
        )
        admission.compute = lambda _, parts=None: before if parts else after

    def copy(self) -> Path:
        """A fresh copy of the package."""
        root = Path(tempfile.mkdtemp(dir=self.scratch)) / "copy"
        shutil.copytree(self._package, root)
        return root

    def after(self, root: Path) -> str:
        """Open the package as any command does; `old`, `new`, or what is wrong with it."""
        package = open_package(root)
        if package.is_changing:
            return "a journal is left"
        found = {name: text for name, text in state(root).items() if not name.endswith(".new")}
        return "old" if found == self.old else "new" if found == self.new else "torn"

    def outcome(self, point: object, root: Path, ended: int) -> dict[str, Any]:
        """What is found after a fault at `point`; then the contribution is admitted again, and all must be well."""
        found = {"point": point, "ended": ended, "after": self.after(root)}
        again = run(lambda: admitted(root, self.contribution))
        found["again"] = again == STATUS["admitted" if found["after"] == "old" else "already-there"]
        found["whole"] = state(root) == self.new
        shutil.rmtree(root.parent)
        return found


def _worked_out(root: Path, admitted_to: Path, contribution: Path) -> tuple[Any, Any, Any, Any]:
    """What is checked before and after the admission, and what is derived before and after it."""
    package = open_package(root)
    files = admission.contribution_layer(contribution)
    checked, again = (admission.check_layers(open_package(one), files, rules=()) for one in (root, admitted_to))
    with tempfile.TemporaryDirectory() as scratch:
        change = transactions.Change(package, Path(scratch))
        for table, records in admission.additions(checked.context).records.items():
            change.write(table, partial(appended, path=package.path(table), header=(), records=records))
        return checked, again, admission.compute(package, ["beds"]), admission.compute(change.staged())


def run(work: Fault) -> int:
    """Exit status of `work` in a fork; 256 more than the signal for one that was killed."""
    return ended(start(work))


def start(work: Fault) -> int:
    """Begin `work` in a fork, which ends with it; the fork's process id."""
    if pid := os.fork():
        return pid
    try:
        work()
    except GapbookError as error:
        sys.stderr.write(f"{error}\n")
        os._exit(REFUSED)
    except BaseException as error:
        sys.stderr.write(f"{type(error).__name__}: {error}\n")
        os._exit(1)
    os._exit(0)


def ended(pid: int) -> int:
    """How a fork ended."""
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    return code if code >= 0 else 256 - code


def _exit(fine: bool) -> None:
    os._exit(0 if fine else 1)


def admitted(root: Path, contribution: Path, fault: Fault | None = None) -> None:
    """Admit, and end the process with what became of it."""
    package = open_package(root)
    if fault is not None:
        fault()
    os._exit(STATUS[admit(package, contribution, TERMS).status])


def at_call(number: int, act: Fault) -> Fault:
    """A fault that does `act` before or after the `number`th call that touches files (twice a call: before, after)."""

    def install() -> None:
        def count() -> None:
            SEEN[0] += 1
            if SEEN[0] == number:
                act()

        def wrap(original: Callable[..., Any]) -> Callable[..., Any]:
            def called(*arguments: Any, **named: Any) -> Any:
                count()
                result = original(*arguments, **named)
                count()
                return result

            return called

        for name in TOUCHING:
            setattr(os, name, wrap(getattr(os, name)))
        builtins.open = io.open = wrap(io.open)

    return install


def at_line(number: int) -> Fault:
    """A fault that kills at the `number`th line run in the modules that write."""

    def install() -> None:
        def trace(frame: FrameType, event: str, _: object) -> Any:
            if os.path.basename(frame.f_code.co_filename) not in WATCHED:
                return None
            if event == "line":
                SEEN[0] += 1
                if SEEN[0] == number:
                    os._exit(KILLED)
            return trace

        sys.settrace(trace)

    return install


def kill() -> None:
    """End the process as `kill -9` does: nothing is flushed, nothing cleaned up."""
    os._exit(KILLED)


def no_space() -> None:
    """What a full disk does."""
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
