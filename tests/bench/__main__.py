"""`python -m tests.bench`: how fast and how large, as ratios within one run.

It invents packages in a temporary folder, derives them in processes of their own, and asks one question cold. Nothing
here is a test; the figures are for people. `--specimens N` makes it shorter.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
QUESTION = "95-98 sq in, 16 mains, tighter centre than fern-98"
PLAIN_SPECIMENS = 1000
COPIES_A_FRAME = 1.19
"""Copies that `invent.py` invents of a frame, in the mean."""
REPEATS = 15
TURNS = 5

WHOLE_SPECIMENS = 30_000
DERIVE = """
import json, os, resource, sys, time
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
start = time.perf_counter()
derive(open_package(sys.argv[1]), ["beds"])
seconds = time.perf_counter() - start
unit = 1e9 if sys.platform == "darwin" else 1e9 / 1024
print(json.dumps([seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit]))
"""
PLAIN = """
import sys, time
from pathlib import Path
from bench import plain
start = time.perf_counter()
plain.derive(Path(sys.argv[1]), Path(sys.argv[2]))
print(time.perf_counter() - start)
"""
READ_ONCE = """
import sys, time
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store
store = Store(open_package(sys.argv[1]))
start = time.perf_counter()
store.load("scores")
print(time.perf_counter() - start)
"""


def run(*command: str) -> str:
    """The output of a process of its own, with the checkout on its path, and without pandas."""
    paths = os.pathsep.join(str(ROOT / folder) for folder in ("tests/bench/without", "derive", "tests"))
    return subprocess.run(command, check=True, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": paths}).stdout


def python(code: str, *arguments: object) -> str:
    """The output of a piece of Python."""
    return run(sys.executable, "-c", code, *map(str, arguments))


def invented(folder: Path, specimens: int) -> Path:
    """A package of so many specimens."""
    out = folder / f"of-{specimens}"
    run(sys.executable, str(ROOT / "derive" / "invent.py"), "--specimens", str(specimens), "--seed", "1", "--out", str(out))
    return out


def rows_in(package: Path) -> int:
    """Spacing rows of a package."""
    with (package / "catalogue" / "spacings.csv").open("rb") as stream:
        return sum(chunk.count(b"\n") for chunk in iter(lambda: stream.read(1 << 24), b"")) - 1


def bench_derive(folder: Path, largest: int) -> Path:
    """Print rows a second and peak memory of beds and scores by size, and the ratio to the plain loop, both by turns; the
    largest package, derived.
    """
    sizes = [size for size in (1000, 10_000, 100_000) if size <= largest]
    packages = {size: invented(folder, size) for size in sizes}
    (folder / "plain").mkdir()
    plain, whole = [], []
    for turn in range(TURNS):
        plain.append(PLAIN_SPECIMENS / float(python(PLAIN, packages[PLAIN_SPECIMENS], folder / "plain")))
        for size in sizes if turn == 0 else sizes[-1:]:
            seconds, memory = json.loads(python(DERIVE, packages[size]))
            rows = rows_in(packages[size])
            rate = f"{seconds:6.2f} s, {rows / seconds:>9,.0f} rows/s, at most {memory:.2f} GB"
            print(f"beds and scores of {size:>7,} specimens, {rows:>9,} rows: {rate}", flush=True)
        whole.append(sizes[-1] / seconds)
    ratios = sorted(fast / slow for fast, slow in zip(whole, plain, strict=True))
    slow, fast = statistics.median(plain), statistics.median(whole)
    print(f"plain loop: {slow:,.0f} specimens/s; derive of {sizes[-1]:,}: {fast:,.0f} (medians of {TURNS})")
    print(f"derive over the plain loop: {statistics.median(ratios):.1f} (from {ratios[0]:.1f} to {ratios[-1]:.1f})")
    return packages[sizes[-1]]


def bench_whole(folder: Path, largest: int, before: Path | None) -> None:
    """Print how much sooner a whole derivation is done by several processes, and than by the tree `before`."""
    package = invented(folder, min(WHOLE_SPECIMENS, largest))
    tree = ["--before", str(before)] if before else []
    print(run(sys.executable, "-m", "bench.derive", str(package), *tree), end="")


def timed(command: list[str]) -> float:
    """Seconds one cold process takes."""
    start = time.perf_counter()
    run(*command)
    return time.perf_counter() - start


def bench_question(large: Path) -> None:
    """Print the ratios of one cold question to `import duckdb`, and on the large package to the demo."""
    ask = [sys.executable, "-m", "gapbook", "ask", QUESTION]
    commands = {
        "import duckdb": [sys.executable, "-c", "import duckdb"],
        "ask, demo": [*ask, "--package", str(ROOT)],
        "ask, large": [*ask, "--package", str(large)],
    }
    for command in commands.values():
        run(*command)  # what is imported has been compiled, as from the second run on
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(REPEATS):
        for name, command in commands.items():
            taken[name].append(timed(command))
    middle = {name: statistics.median(times) for name, times in taken.items()}
    read = statistics.median(float(python(READ_ONCE, large)) for _ in range(3))
    for name, seconds in middle.items():
        print(f"{name}: {1000 * seconds:.0f} ms (median of {REPEATS}, least {1000 * min(taken[name]):.0f})")
    print(f"a question over import duckdb: {middle['ask, demo'] / middle['import duckdb']:.2f}")
    print(f"large package, reading the scores once: {1000 * read:.0f} ms")
    print(f"large question less that reading, over the demo's: {(middle['ask, large'] - read) / middle['ask, demo']:.2f}")


def bench_page(frames: int) -> None:
    """Print how soon the atlas of a package of about so many frames shows a change."""
    with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
        package = invented(Path(scratch), round(COPIES_A_FRAME * frames))
        run(sys.executable, "-m", "gapbook", "derive", "--package", str(package))
        print(run(sys.executable, "-m", "bench.atlas", str(package)), end="")


def main() -> None:
    """Run everything."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--specimens", type=int, default=100_000, help="size of the largest package (1,000 or more)")
    parser.add_argument(
        "--sets",
        type=int,
        default=0,
        help="only look at the relations of N invented packages (1,000 for the figures in DEVELOPERS.md)",
    )
    parser.add_argument("--clean", type=int, metavar="N", help="only check N clean invented packages, and count what is found")
    parser.add_argument("--atlas", type=int, metavar="N", help="only time the page of an invented package of about N frames")
    parser.add_argument("--calibration", type=int, metavar="N", help="only say how often verdicts are right (60)")
    parser.add_argument("--coverage", type=int, metavar="N", help="only say how often intervals of relate hold (500)")
    parser.add_argument("--spark", type=int, metavar="N", help="only derive N specimens here and by Spark (20,000)")
    parser.add_argument("--memory", metavar="SIZE", help="with --spark: also here within so much memory, as 1GB")
    parser.add_argument("--mutants", action="store_true", help="only change lines of science/ and see whether tests notice")
    parser.add_argument("--sample", type=int, metavar="N", help="with --mutants: how many (default 200; 0 for all)")
    parser.add_argument("--seed", type=int, default=1, help="with --mutants: of the sample")
    parser.add_argument("--modules", metavar="A,B", help="with --mutants: only these modules of science/")
    parser.add_argument("--before", type=Path, metavar="TREE", help="another checkout whose derivation is compared")
    given = parser.parse_args()
    if given.clean:
        print(run(sys.executable, "-m", "bench.clean", str(given.clean)), end="")
        return
    if given.spark:
        with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
            limit = ["--memory", given.memory] if given.memory else []
            print(run(sys.executable, "-m", "bench.spark", str(invented(Path(scratch), given.spark)), *limit), end="")
        return
    if given.atlas:
        bench_page(given.atlas)
        return
    if given.mutants:
        sys.path[:0] = [str(ROOT / "tests")]
        from bench.mutants import SAMPLE, bench_mutants

        sample = SAMPLE if given.sample is None else given.sample
        raise SystemExit(bench_mutants(sample or None, given.seed, given.modules.split(",") if given.modules else []))
    if given.coverage:
        print(run(sys.executable, "-m", "bench.coverage", "--sets", str(given.coverage)), end="")
        return
    if given.calibration:
        print(run(sys.executable, "-m", "bench.calibration", "--packages", str(given.calibration)), end="")
        return
    largest = given.specimens
    if given.sets:
        sys.path[:0] = [str(ROOT / "derive"), str(ROOT / "tests")]
        from bench.relate import DEMO, FEW, bench_relate

        for copies in (DEMO, FEW):
            bench_relate(given.sets, copies)
        return
    with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(scratch) / "compiled")
        large = bench_derive(Path(scratch), largest)
        bench_whole(Path(scratch), largest, given.before)
        print(run(sys.executable, "-m", "bench.check", "--rows", str(min(1_000_000, 77 * largest))), end="")
        print(run(sys.executable, "-m", "bench.mechanics", str(Path(scratch) / f"of-{PLAIN_SPECIMENS}")), end="")
        bench_question(large)


main()
