"""A whole derivation of one package: with one process and with as many as there are cores, by turns, and by another tree.

`python -m bench.derive PACKAGE [--before TREE]` (the package is derived in place).
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

TURNS = 3
DERIVE = """
import json, os, resource, sys
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
workers = int(sys.argv[2])
derive(open_package(sys.argv[1]), workers=workers)
unit = 1e9 if sys.platform == "darwin" else 1e9 / 1024
own, largest = (resource.getrusage(who).ru_maxrss / unit for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
print(json.dumps(own + workers * largest))
"""


def by_workers(package: Path, workers: int) -> tuple[float, float]:
    """Seconds of a process of its own, from its start, and memory of all its processes [GB]."""
    start = time.perf_counter()
    said = subprocess.run([sys.executable, "-c", DERIVE, package, str(workers)], check=True, capture_output=True, text=True)
    return time.perf_counter() - start, json.loads(said.stdout)


def by_tree(package: Path, tree: Path) -> float:
    """Seconds of the command line of another checkout."""
    command = [sys.executable, "-m", "gapbook", "derive", "--package", str(package)]
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env={**os.environ, "PYTHONPATH": str(tree / "derive")})
    return time.perf_counter() - start


def main() -> None:
    """Print seconds, memory and ratios."""
    parser = argparse.ArgumentParser(prog="python -m bench.derive", description=__doc__)
    parser.add_argument("package", type=Path)
    parser.add_argument("--before", type=Path, metavar="TREE", help="another checkout to compare with, by turns")
    given = parser.parse_args()
    from gapbook.tables.engines import MOST, cores

    many = min(cores(), MOST)
    taken: dict[str, list[float]] = {"one": [], "many": [], "before": []}
    for _ in range(TURNS):
        if given.before:
            taken["before"].append(by_tree(given.package, given.before))
        for name, workers in (("one", 1), ("many", many)):
            seconds, memory = by_workers(given.package, workers)
            taken[name].append(seconds)
            print(f"whole derive, {workers} processes: {seconds:.2f} s, at most {memory:.2f} GB", flush=True)
    for name, what in (("one", "one process"), ("before", f"the tree at {given.before}")):
        if taken[name]:
            ratios = sorted(slow / fast for slow, fast in zip(taken[name], taken["many"], strict=True))
            middle, ratio = statistics.median(taken[name]), statistics.median(ratios)
            print(f"{what}, {middle:.2f} s, over {many} processes: {ratio:.2f} (from {ratios[0]:.2f} to {ratios[-1]:.2f})")


if __name__ == "__main__":
    main()
