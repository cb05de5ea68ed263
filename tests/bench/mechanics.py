"""How many beds a second are struck on one core, with and without uncertainty, and how many a plain loop manages.

The plain loop (`plain_net`) gives the five stiffnesses alone; the array code the frequency as well. Nets of stretching strings
are timed too.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

from bench import plain_net  # noqa: E402 (threads are limited before numpy is imported)

TURNS = 5
PLAIN_BEDS = 100
PULLS = (245.0, 245.0)


def seconds(work: Callable[[], object]) -> float:
    """The middle one of TURNS times the work takes of one core's time, after one that is not counted."""
    work()
    taken = []
    for _ in range(TURNS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def plain_beds(lines) -> list[plain_net.PlainBed]:
    """The first beds as plain ones."""
    from gapbook.science import outline

    exponent = outline.exponent_of(lines.size[:, 0], lines.size[:, 1], lines.area)
    found = []
    for bed in range(min(PLAIN_BEDS, len(lines.area))):
        mains = slice(1, int(lines.main_count[bed]) + 1)
        upper, lower = lines.mains[bed, 0, mains], lines.mains[bed, 1, mains]
        strings = zip(((upper + lower) / 2).tolist(), ((upper - lower) / 160).tolist(), strict=True)
        crosses = lines.cross_y[bed, 1 : int(lines.cross_count[bed]) + 1].tolist()
        found.append(plain_net.PlainBed(list(strings), crosses, *lines.size[bed].tolist(), float(exponent[bed])))
    return found


def main(package: Path) -> None:
    """Print the rates for the beds of a package of some hundred or thousand copies."""
    import numpy as np

    from gapbook.science.bed_mechanics import bed_mechanics, lines_of, solve_zones, strings_of
    from gapbook.science.cable_net import net_of
    from gapbook.science.mechanics import ZONE_POINTS, patch
    from gapbook.science.stretching import DEPTHS_MM, STIFFNESS_N, press
    from gapbook.science.tension import in_bed
    from gapbook.tables.catalogue import read_catalogue
    from gapbook.tables.derivation import gather, heads_of
    from gapbook.tables.opening import open_package
    from gapbook.tables.reader import read_table

    opened = open_package(package)
    catalogue = read_catalogue(opened)
    gathered = gather(opened, catalogue, read_table(opened, "spacings"))
    laid = gathered.lay_out(catalogue, gathered.blocks[0])
    heads = heads_of(catalogue, laid.specimen)
    lines = lines_of(laid.mains, laid.crosses, heads)
    beds, plain = len(lines.area), plain_beds(lines)
    tension = in_bed(PULLS[0])
    alone = beds / seconds(lambda: solve_zones(lines, PULLS))
    whole = beds / seconds(lambda: bed_mechanics(laid.mains, laid.crosses, heads, gathered.pooled.errors(catalogue), PULLS))
    loop = len(plain) / seconds(lambda: [plain_net.stiffness(bed, tension, tension) for bed in plain])
    print(f"mechanics, {beds:,} beds, one core: {alone:,.0f} beds/s; with uncertainty {whole:,.0f} beds/s")
    some = strings_of(lines.take(np.flatnonzero(lines.main_count * 100 + lines.cross_count == 1619)[:PLAIN_BEDS]))
    share = patch(net_of(some), ZONE_POINTS[:1]).shared[:, 0]
    axial = STIFFNESS_N[-1]
    pressed = len(share) / seconds(lambda: press(some, share, DEPTHS_MM, (tension, tension), (axial, axial)))
    print(f"stretching strings, {len(share)} beds pressed in by 5, 15 and 25 mm: {pressed:,.0f} beds/s")
    print(f"plain assemble-and-solve loop, scipy.sparse: {loop:,.0f} beds/s; ratio {alone / loop:.1f}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
