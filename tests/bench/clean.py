"""What a check says of packages in which nothing is amiss: invented ones, one seed after the other, checked by all rules.

Whoever looks at a contribution must be able to believe a warning: no error at all, and at most one warning in two packages.
"""

from __future__ import annotations

import argparse
import datetime
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path

from gapbook.intake.check import check
from gapbook.intake.findings import Finding
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from invent import write_package

TODAY = datetime.date(2026, 11, 25)
"""After every day that is invented."""
COPIES = 90
"""Read copies of a package: the demo has 87."""
FIRST_SEED = 1000


def findings_of(seed: int, copies: int) -> tuple[Finding, ...]:
    """What all rules find in the invented and derived package of a seed, consequences apart. No rule may break."""
    with tempfile.TemporaryDirectory(prefix="gapbook-clean-") as scratch:
        folder = Path(scratch) / "package"
        write_package(folder, copies, seed)
        derive(open_package(folder), workers=1)
        report = check(folder, today=TODAY).report
    assert report.broken == (), report.broken
    return report.findings


def findings_over(seeds: Iterable[int], copies: int) -> Iterator[tuple[int, Finding]]:
    """The same for several seeds, each finding with its seed."""
    for seed in seeds:
        for finding in findings_of(seed, copies):
            yield seed, finding


def bench_clean(packages: int, copies: int = COPIES, first: int = FIRST_SEED) -> None:
    """Print every finding in so many packages, and how many there are by code."""
    counts: Counter[tuple[str, str]] = Counter()
    for seed, one in findings_over(range(first, first + packages), copies):
        counts[str(one.severity), one.code] += 1
        print(f"seed {seed}: {one.severity} {one.code}: {one.table} line {one.line}: {one.found}; expected {one.expected}")
    for (severity, code), number in sorted(counts.items()):
        print(f"{severity} {code}: {number}")
    for severity in ("error", "warning", "note"):
        number = sum(count for (kind, _), count in counts.items() if kind == severity)
        print(f"{number} {severity}s in {packages} clean packages of {copies} copies")


def main() -> None:
    """`python -m bench.clean`: see the module."""
    parser = argparse.ArgumentParser(prog="python -m bench.clean", description=__doc__)
    parser.add_argument("packages", type=int, help="how many packages")
    parser.add_argument("--copies", type=int, default=COPIES, help="read copies of each")
    parser.add_argument("--first", type=int, default=FIRST_SEED, help="the first seed")
    given = parser.parse_args()
    bench_clean(given.packages, given.copies, given.first)


if __name__ == "__main__":
    sys.exit(main())
