"""Every kind of fault of `killing.py`, on one package: `python kills.py` prints JSON, by kind the list of what was found.

`python kills.py few` makes a few of one kind only.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from contributed import state
from gapbook.intake.admit import admit
from gapbook.tables.opening import open_package
from killing import KILLED, SEEN, TERMS, Bench, Fault, admitted, at_call, at_line, ended, kill, no_space, run, start


def calls(bench: Bench) -> Iterator[dict[str, Any]]:
    """Killed before every call that touches a file."""
    yield from _at_every(bench, lambda number: at_call(number, kill), 2)


def few(bench: Bench) -> Iterator[dict[str, Any]]:
    """Killed before a few calls that touch a file, from the first to nearly the last."""
    yield from _at_every(bench, lambda number: at_call(number, kill), 24)


def lines(bench: Bench) -> Iterator[dict[str, Any]]:
    """Killed at every 19th line of the modules that write."""
    yield from _at_every(bench, at_line, 19)


def full(bench: Bench) -> Iterator[dict[str, Any]]:
    """Calls that touch a file fail once, before they did their work or after it."""
    yield from _at_every(bench, lambda number: at_call(number, no_space), 3)


def _at_every(bench: Bench, fault: Callable[[int], Fault], step: int) -> Iterator[dict[str, Any]]:
    root = bench.copy()
    assert run(lambda: _counted(root, bench, fault(0))) == 0
    for number in range(1, int((root.parent / "points").read_text()) + 1, step):
        root = bench.copy()
        how = run(lambda root=root, number=number: admitted(root, bench.contribution, fault(number)))
        yield bench.outcome(number, root, how)


def _counted(root: Path, bench: Bench, fault: Fault) -> None:
    """Admit and write down how many points were passed."""
    package = open_package(root)
    fault()
    admit(package, bench.contribution, TERMS)
    points = SEEN[0]
    (root.parent / "points").write_text(str(points))


def random_times(bench: Bench) -> Iterator[dict[str, Any]]:
    """SIGKILL at times drawn from a fixed seed over a little more than an admission takes."""
    rng = random.Random(20)
    root, begun = bench.copy(), time.monotonic()
    run(lambda: admitted(root, bench.contribution))
    takes = time.monotonic() - begun
    for _ in range(15):
        root = bench.copy()
        pid = start(lambda root=root: admitted(root, bench.contribution))
        time.sleep(moment := rng.uniform(0.0, 1.1 * takes))
        os.kill(pid, signal.SIGKILL)
        yield bench.outcome(round(moment, 4), root, ended(pid))


def recoveries(bench: Bench) -> Iterator[dict[str, Any]]:
    """Killed half way, and killed again at every call while the next command finishes it."""
    for half in _half_swapped(bench):
        for number in range(1, 200, 3):
            root = Path(tempfile.mkdtemp(dir=bench.scratch)) / "copy"
            shutil.copytree(half, root)
            how = run(lambda root=root, number=number: _opened(root, at_call(number, kill)))
            yield bench.outcome(number, root, how)
            if how == 0:
                break


def _opened(root: Path, fault: Fault) -> None:
    fault()
    open_package(root)


def _half_swapped(bench: Bench) -> Iterator[Path]:
    """Packages killed before the first, after the second, and after the last table was swapped."""
    last = 9  # three tables of the contribution, the log, four derived tables and their digests
    for swaps in (0, 2, last):

        def fault(swaps: int = swaps) -> None:
            original, seen = os.replace, -1  # the first call puts the journal in place

            def replace(*arguments: Any, **named: Any) -> None:
                nonlocal seen
                if seen == swaps:
                    kill()
                seen += 1
                original(*arguments, **named)
                if seen == last == swaps:
                    kill()

            os.replace = replace

        root = bench.copy()
        assert run(lambda root=root, fault=fault: admitted(root, bench.contribution, fault)) == KILLED
        assert (root / ".gapbook" / "journal.json").exists()
        yield root


def file_limit(bench: Bench) -> Iterator[dict[str, Any]]:
    """Real writes that fail: no file may grow beyond a limit."""
    import resource

    for limit in (1, 50, 300, 1000, len(bench.new["catalogue/spacings.csv"]) - 1):

        def fault(limit: int = limit) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        root = bench.copy()
        how = run(lambda root=root, fault=fault: admitted(root, bench.contribution, fault))
        yield bench.outcome(limit, root, how)


def read_only(bench: Bench) -> Iterator[dict[str, Any]]:
    """Folders that may not be written to, for somebody who is not the system's administrator."""
    for name in (".", "catalogue", "catalogue/derived"):
        root = bench.copy()
        shutil.rmtree(root / ".gapbook", ignore_errors=True)
        os.chmod(root.parent, 0o755)
        for path in (root, *root.rglob("*")):
            os.chown(path, 65534, 65534) if os.geteuid() == 0 else None
        (root / name).chmod(0o555)

        def fault() -> None:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)

        how = run(lambda root=root: admitted(root, bench.contribution, fault))
        (root / name).chmod(0o755)
        yield bench.outcome(name, root, how)


def together(bench: Bench) -> Iterator[dict[str, Any]]:
    """Two at once: the same contribution, and two different ones in both orders."""
    pairs = [(bench.contribution, bench.contribution), (bench.contribution, bench.other), (bench.other, bench.contribution)]
    for pair in [*pairs, *pairs]:
        root = bench.copy()
        pids = [start(lambda root=root, sent=sent: admitted(root, sent)) for sent in pair]
        how = sorted(ended(pid) for pid in pids)
        was = state(root)
        run(lambda root=root: _derive(root))
        frames = was["catalogue/frames.csv"].decode().splitlines()[1:]
        yield {
            "same": pair[0] == pair[1],
            "ended": how,
            "frames": sorted(line.split(",")[0] for line in frames),
            "spacings": was["catalogue/spacings.csv"].count(b"\n") - bench.old["catalogue/spacings.csv"].count(b"\n"),
            "derived": state(root) == was,
        }


def _derive(root: Path) -> None:
    from gapbook.tables.derived import derive

    derive(open_package(root))


def main() -> None:
    """Make every kind of fault, or a few, and print what was found."""
    is_few = sys.argv[1:] == ["few"]
    quick = (few,) if is_few else (calls, lines, full, random_times, recoveries, file_limit, read_only)
    fast = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # a disk in memory flushes at once
    with tempfile.TemporaryDirectory(prefix="killing-", dir=fast) as scratch:
        os.chmod(scratch, 0o755)
        bench = Bench(Path(scratch))
        found = {} if is_few else {"together": list(together(bench))}
        bench.quick()
        print(json.dumps(found | {fault.__name__: list(fault(bench)) for fault in quick}))


if __name__ == "__main__":
    main()
