"""`python -m bench.check`: a check of 1,000,000 spacing rows, all rules and structure alone, against frictionless.

Both read the same file, each in a process of its own, one after the other in the same run; the ratio is what counts.
`--rows N` makes it shorter.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROWS_A_SPECIMEN = 77
"""Spacing rows of an invented specimen, about."""

CHECK = """
import json, resource, sys, time
from gapbook.intake.check import check_layers
from gapbook.intake.rules import RULES
from gapbook.intake.rules.structure import RULES as STRUCTURE
from gapbook.tables.opening import open_package
start = time.perf_counter()
found = check_layers(open_package(sys.argv[1]), None, rules=STRUCTURE if sys.argv[2] == "structure" else RULES)
seconds = time.perf_counter() - start
usage = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({
    "seconds": seconds, "cpu": usage.ru_utime + usage.ru_stime, "memory": usage.ru_maxrss / 1e6,
    "counts": found.report.counts, "broken": found.report.broken, "rows": found.context.tables["spacings"].num_rows,
}))
"""
PEER = """
import json, os, resource, sys, time
from frictionless import Resource
os.chdir(sys.argv[1])
resource_of = json.load(open("datapackage.json"))
spacings = next(item for item in resource_of["resources"] if item["name"] == "spacings")
schema = json.load(open(spacings["schema"]))
schema.pop("foreignKeys")
start = time.perf_counter()
report = Resource.from_descriptor({**spacings, "schema": schema}).validate()
seconds = time.perf_counter() - start
usage = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({
    "seconds": seconds, "cpu": usage.ru_utime + usage.ru_stime, "memory": usage.ru_maxrss / 1e6, "valid": report.valid,
}))
"""
BAD_CELL = b"\nfern-98-a,main,0,gap,1,nobody,nothing,soon,1,x,mm\n"


def python(code: str, *arguments: object) -> dict[str, object]:
    """What a piece of Python prints, as JSON."""
    paths = os.pathsep.join((str(ROOT / "derive"), str(ROOT / "tests")))
    command = [sys.executable, "-c", code, *map(str, arguments)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": paths})
    return json.loads(done.stdout)


def bench_check(folder: Path, rows: int) -> None:
    """Print seconds, ratio and memory for a package of so many spacing rows, clean, and with one bad row at its end."""
    package = folder / "to-check"
    specimens = rows // ROWS_A_SPECIMEN + 200
    invent = [sys.executable, str(ROOT / "derive" / "invent.py"), "--specimens", str(specimens), "--seed", "1"]
    subprocess.run([*invent, "--out", str(package)], check=True, capture_output=True)
    peer = python(PEER, package)
    print(f"frictionless, spacings.csv alone, no references: {peer['seconds']:.1f} s, {peer['memory']:.2f} GB")
    for label, which in (("check, structure alone", "structure"), ("check, all rules", "all")):
        _say(label, python(CHECK, package, which), peer)
    spacings = package / "catalogue" / "spacings.csv"
    spacings.write_bytes(spacings.read_bytes().rstrip(b"\n") + BAD_CELL)
    _say("check, structure alone, one bad row", python(CHECK, package, "structure"), peer)


def _say(label: str, found: dict[str, object], peer: dict[str, object]) -> None:
    seconds, theirs = found["seconds"], peer["seconds"]
    assert isinstance(seconds, float)
    assert isinstance(theirs, float)
    print(
        f"{label}, {found['rows']:,} spacing rows: {seconds:.2f} s ({found['cpu']:.2f} s of processor), "
        f"{found['memory']:.2f} GB, frictionless over it {theirs / seconds:.1f}; {found['counts']}, broken {found['broken']}"
    )


def main() -> None:
    """Run it alone."""
    parser = argparse.ArgumentParser(prog="python -m bench.check", description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000, help="spacing rows, about")
    with tempfile.TemporaryDirectory(prefix="gapbook-bench-") as scratch:
        bench_check(Path(scratch), parser.parse_args().rows)


if __name__ == "__main__":
    main()
