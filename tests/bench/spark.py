"""A whole derivation of one package by this machine, within a limit of memory, and by Spark on two cores.

`python -m bench.spark PACKAGE [--memory 1GB]`; without --memory there is no such limited turn, and spacings above 1 GiB are
derived within --memory only. The processor time is that of all processes that were waited for; this process adopts those
whose parent ended before them (Linux only). Some of Spark's are missing from it all the same, so there the seconds times the
cores are printed, too, as a bound.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

ADOPT = 36
"""PR_SET_CHILD_SUBREAPER of Linux' prctl."""
TABLES = ("beds", "scores", "handling", "mechanics")


def busy() -> float:
    """Processor time of all processes that ended so far [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def derived(package: Path, out: Path, *options: str) -> tuple[float, float, float]:
    """Seconds, processor time [s] and most memory of any one process of a derivation [GB]."""
    before, start = busy(), time.perf_counter()
    command = [sys.executable, "-m", "gapbook", "derive", "--package", str(package), "--out", str(out), "--csv", *options]
    code = "import os, resource, subprocess, sys; s = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode; "
    code += "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss); sys.exit(s)"
    said = subprocess.run([sys.executable, "-c", code, *command], check=True, capture_output=True, text=True)
    seconds = time.perf_counter() - start
    with suppress(ChildProcessError):
        while True:
            os.wait()
    return seconds, busy() - before, int(said.stdout) * 1024 / 1e9


def main() -> None:
    """Print seconds, processor time and ratios, and whether the tables are the same."""
    parser = argparse.ArgumentParser(prog="python -m bench.spark", description=__doc__)
    parser.add_argument("package", type=Path)
    parser.add_argument("--memory")
    given = parser.parse_args()
    ctypes.CDLL(None).prctl(ADOPT, 1, 0, 0, 0)
    spark = ("--engine", "spark", "--master", "local[2]")
    limited = {f"within {given.memory}": ("--memory", given.memory)} if given.memory else {}
    size = (given.package / "catalogue" / "spacings.csv").stat().st_size
    ways = {**({"this machine": ()} if size <= 1 << 30 else {}), **limited, "Spark, local[2]": spark}
    taken = {}
    with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
        for place, (name, options) in enumerate(ways.items()):
            taken[name] = derived(given.package, Path(scratch) / str(place), *options)
            seconds, cpu, memory = taken[name]
            files = [[Path(scratch) / str(one) / "data" / f"{table}.csv" for table in TABLES] for one in (0, place)]
            same = [one.read_bytes() == other.read_bytes() for one, other in zip(*files, strict=True)]
            told = "the same tables" if all(same) else "OTHER TABLES"
            print(f"{name}: {seconds:.1f} s, {cpu:.1f} s of processors, {memory:.2f} GB in one process; {told}", flush=True)
    alone, (seconds, counted, _) = next(iter(taken.values()))[1], taken["Spark, local[2]"]
    print(f"processor time of Spark over that of the first: {counted / alone:.2f} counted, at most {2 * seconds / alone:.2f}")


if __name__ == "__main__":
    main()
