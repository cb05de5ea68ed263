"""A whole derivation of one package: with one process and with as many as there are cores, by turns, and by another tree.

`python -m bench.derive PACKAGE [--before TREE]` (the package is derived in place). Arrow reads with all cores even if one
process solves, so there is a turn in which one process has one core, too, where a process can be held to a core.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TURNS = 3
WITHOUT = Path(__file__).parent / "without"
"""Holds a pandas that cannot be imported."""
DERIVE = """
import json, os, resource, sys
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
import gapbook.commands.app  # likewise
if sys.argv[3] == "held":
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
workers = int(sys.argv[2])
derive(open_package(sys.argv[1]), workers=workers)
unit = 1e9 if sys.platform == "darwin" else 1e9 / 1024
own, others = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
busy = sum(who.ru_utime + who.ru_stime for who in (own, others))
print(json.dumps([busy, (own.ru_maxrss + workers * others.ru_maxrss) / unit]))
"""


def environment(*paths: Path) -> dict[str, str]:
    """The environment with folders before its path, and without pandas."""
    before = [str(path) for path in (WITHOUT, *paths)]
    return {**os.environ, "PYTHONPATH": os.pathsep.join([*before, os.environ.get("PYTHONPATH", "")])}


def by_workers(package: Path, workers: int, is_held: bool) -> tuple[float, float, float]:
    """Seconds of a process of its own, from its start; processor time [s] and memory [GB] of all its processes."""
    start = time.perf_counter()
    command = [sys.executable, "-c", DERIVE, str(package), str(workers), "held" if is_held else "free"]
    said = subprocess.run(command, check=True, capture_output=True, text=True, env=environment())
    busy, memory = json.loads(said.stdout)
    return time.perf_counter() - start, busy, memory


def as_of(tree: Path, package: Path, folder: Path) -> Path:
    """The package with another checkout's schemas of derived tables, which may have other columns."""
    made = Path(shutil.copytree(package, folder / "package"))
    for name in ("beds", "scores", "handling", "mechanics"):
        shutil.copy(tree / "schema" / f"{name}.json", made / "schema")
    return made


def by_tree(package: Path, tree: Path) -> float:
    """Seconds of the command line of another checkout."""
    command = [sys.executable, "-m", "gapbook", "derive", "--package", str(package)]
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=environment(tree / "derive"))
    return time.perf_counter() - start


def main() -> None:
    """Print seconds, memory and ratios."""
    parser = argparse.ArgumentParser(prog="python -m bench.derive", description=__doc__)
    parser.add_argument("package", type=Path)
    parser.add_argument("--before", type=Path, metavar="TREE", help="another checkout to compare with, by turns")
    given = parser.parse_args()
    from gapbook.tables.engines import MOST, cores

    many = min(cores(), MOST)
    ways = {"many": (many, False), "one": (1, False)} | ({"held": (1, True)} if hasattr(os, "sched_setaffinity") else {})
    taken: dict[str, list[float]] = {name: [] for name in (*ways, "before")}
    with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
        old = as_of(given.before, given.package, Path(scratch)) if given.before else None
        for _ in range(TURNS):
            if old is not None:
                taken["before"].append(by_tree(old, given.before))
                print(f"whole derive, the tree before: {taken['before'][-1]:.2f} s", flush=True)
            for name, (workers, is_held) in ways.items():
                seconds, busy, memory = by_workers(given.package, workers, is_held)
                taken[name].append(seconds)
                what = f"{workers} processes" + " on one core" * is_held
                print(
                    f"whole derive, {what}: {seconds:.2f} s ({busy:.2f} s of processors), at most {memory:.2f} GB", flush=True
                )
    named = {"one": "one process", "held": "one process on one core", "before": f"the tree at {given.before}"}
    for name, what in named.items():
        if taken.get(name):
            ratios = sorted(slow / fast for slow, fast in zip(taken[name], taken["many"], strict=True))
            middle, ratio = statistics.median(taken[name]), statistics.median(ratios)
            print(f"{what}, {middle:.2f} s, over {many} processes: {ratio:.2f} (from {ratios[0]:.2f} to {ratios[-1]:.2f})")


if __name__ == "__main__":
    main()
