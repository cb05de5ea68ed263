"""How often the intervals of `relate` hold: invented packages, written, derived and related one after the other.

The slope is the truth where it is what the planted means of those playtests, drawn through the true traits, have; ball
speed goes with nothing, and a verdict on it is a false one. `--frames few` takes packages of 20 read copies.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

import invent
from gapbook.questions.relating import relate_columns
from gapbook.questions.relations_found import Association
from gapbook.science.relation import within
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from inventing import play
from inventing.world import World, make_world

SETS = 1000
DEMO, FEW = 87, 20
"""Read copies of a package: as in the demo, and so few that the intervals rest on about a dozen frames."""
EFFECTS = {
    "launch_angle_deg": ("openness_centre", play.LAUNCH_DEG_PER_PERCENT),
    "spin_rpm": ("openness_centre", play.SPIN_RPM_PER_PERCENT),
    "comfort_vs_own": ("mean_tension_n", play.COMFORT_PER_N),
}
"""Outcome: the trait its planted effect is in, and the effect for 1 % of openness or 1 N."""
NOTHING = ("ball_speed_kmh", "openness_centre")


def true_slope(world: World, outcome: str) -> float:
    """Slope of the planted mean of an outcome on the true trait, with tester effects, over the playtests drawn."""
    trait, effect = EFFECTS[outcome]
    if trait == "mean_tension_n":
        return effect
    tests = play.draw_playtests(world)
    openness = world.scores()["openness_centre"][tests.copy]
    measured = ~np.isnan(tests.launch)
    planted = effect * 100.0 * np.log(openness)
    x, y = within(np.column_stack([openness, planted])[measured], tests.tester[measured]).T
    return float(x @ y / (x @ x))


def associations(seeds: range, copies: int) -> Iterator[tuple[World, dict[str, Association]]]:
    """The world of each seed, and what `relate` finds in the package that was read of it, by outcome."""
    for seed in seeds:
        with tempfile.TemporaryDirectory(prefix="gapbook-relate-") as scratch:
            out = Path(scratch) / "package"
            invent.write_package(out, copies, seed)
            package = open_package(out)
            derive(package, ["beds"])
            found = {}
            for outcome, (trait, _) in EFFECTS.items():
                (found[outcome],) = relate_columns(package, [trait], [outcome]).associations
            (found[NOTHING[0]],) = relate_columns(package, [NOTHING[1]], [NOTHING[0]]).associations
        yield make_world(copies, seed), found


def bench_relate(sets: int = SETS, copies: int = DEMO, first: int = 1) -> None:
    """Print how often the 95 % intervals hold the truth, and how often nothing is called an effect."""
    held: Counter[str] = Counter()
    frames = []
    called = 0
    for world, found in associations(range(first, first + sets), copies):
        for outcome in EFFECTS:
            one = found[outcome]
            assert one.verdict != "no figure", one.sentence
            held[outcome] += one.low <= true_slope(world, outcome) <= one.high
        frames.append(found[NOTHING[0]].frames)
        called += found[NOTHING[0]].verdict in ("rises", "falls")
    print(f"relate, {sets:,} packages of {copies} read copies, {min(frames)} to {max(frames)} frames:")
    for outcome, (trait, _) in EFFECTS.items():
        print(f"  {outcome} on {trait}: the 95 % interval holds the truth in {100 * held[outcome] / sets:.1f} %")
    print(f"  {NOTHING[0]} on {NOTHING[1]}, where there is nothing: called an effect in {100 * called / sets:.1f} %")


if __name__ == "__main__":
    few = sys.argv[1:3] == ["--frames", "few"]
    bench_relate(copies=FEW if few else DEMO)
