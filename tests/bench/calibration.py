"""How often verdicts said to be so sure are right: frames and copies of invented packages of known truth, compared.

`python -m bench.calibration --packages N [--write]` prints a table, and writes it between its marks in DEVELOPERS.md. Of two
frames, right is what holds of two copies that nobody has read; of two copies, what holds of their strings at rest. Beds
come from two generators that share no code: `tests/beds_of_truth.py` with people who read in many ways, and the demo's.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from beds_of_truth import Heads, Rack, Way, copy_of, new_bed, truth
from gapbook import open_catalogue
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from invent import write_package
from inventing.streams import stream
from inventing.tables import write_catalogue
from inventing.truth import draw_beds, true_scores
from inventing.world import make_world

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = 60
FRAMES = 40
SPREAD = 0.01
"""Copies of a frame: standard deviation of the logarithm of openness."""
UNREAD = 5
"""Of the demo's frames one in so many is left unread."""
WHERE = ("centre", "sides", "tip")
FARTHEST = 9
"""Beds are compared with those up to so many places away in the order of their openness."""
STEPS = np.array([0.50, 0.60, 0.70, 0.80, 0.90, 0.99, 1.0])
"""Bounds of the classes of stated probabilities."""
MARKS = ("<!-- calibration -->", "<!-- /calibration -->")


class Package(NamedTuple):
    """A derived package and what is true of the frames in it (as a new copy has it) and of its copies, by score."""

    folder: Path
    frames: dict[str, dict[str, float]]
    copies: dict[str, dict[str, float]]


class Said(NamedTuple):
    """Verdicts: how sure the likelier side was said to be [V], at least 0.5, and whether it was right [V]."""

    sure: np.ndarray
    right: np.ndarray


def _by_people(rack: Rack, ways: Sequence[Way], people: int, tools: int) -> Callable[[str, int], None]:
    """A way to read the copy of a name and number: by strangers with tools of their own, or by members of a club who share."""
    if not people:
        return lambda name, number: rack.read(name, ways[number % len(ways)])
    errors = [[rack.instrument(f"{way.tool}-{index}-{tool}", way.tool, way.resolution, way.limit) for tool in range(tools)]
              for index, way in enumerate(ways)]  # fmt: skip

    def read(name: str, number: int) -> None:
        index, tool = number % len(ways), (number // len(ways)) % tools
        way = ways[index]._replace(people=tuple((number + turn) % people for turn in range(ways[index].sessions)))
        rack.read_with(name, way, f"{way.tool}-{index}-{tool}", errors[index][tool])

    return read


def read_in(ways: Sequence[Way], people: int = 0, tools: int = 2, counted: int = 5) -> Callable[[Path, int, int], Package]:
    """Packages of frames with one or two copies, read in turn in some ways, and of some that nobody read.

    ways: in which beds are read
    people: of a club; 0 for somebody new for every session, each with a tool of their own
    tools: of each kind in the club
    counted: frames that nobody read
    """

    def make(folder: Path, seed: int, frames: int) -> Package:
        rack, new, number = Rack(seed), {}, 0
        read = _by_people(rack, ways, people, tools)
        for frame in range(frames):
            design = new_bed(rack.rng, Heads())
            rack.frame(f"f{frame}", design)
            new[f"f{frame}"] = truth(copy_of(rack.rng, design, SPREAD))
            for letter in "ab"[: 0 if frame < counted else 1 + frame % 2]:
                name = f"f{frame}-{letter}"
                rack.specimen(name, f"f{frame}", copy_of(rack.rng, design, SPREAD))
                read(name, number)
                number += 1
        return Package(rack.write(folder), new, {name: truth(bed) for name, bed in rack.true.items()})

    return make


def demo_like(folder: Path, seed: int, frames: int) -> Package:
    """A package of the demo's generator, which gives each instrument one error throughout. Frames that nobody read are drawn by
    lot from the rack: those that its list leaves unread are the plainer ones, and no estimate could know that.
    """
    world = make_world(2 * frames, seed)
    write_package(folder, 2, seed)
    write_catalogue(world, folder / "schema", folder / "catalogue")
    bought = true_scores(draw_beds(stream(seed, "copies to buy"), world.designs))
    here = world.scores()
    listed = sorted({world.frame_ids[row] for row in world.frame_of[world.read]})
    counted = set(np.random.default_rng(seed).choice(listed, len(listed) // UNREAD, replace=False).tolist())
    of_copy = {name: world.frame_ids[row] for name, row in zip(world.copy_ids, world.frame_of, strict=True)}
    _without(folder / "catalogue" / "spacings.csv", {name for name, frame in of_copy.items() if frame in counted})
    return Package(
        folder,
        {
            name: {score: float(bought[score][row]) for score in bought}
            for row, name in enumerate(world.frame_ids)
            if name in listed
        },
        {name: {score: float(here[score][row]) for score in here} for row, name in enumerate(world.copy_ids)},
    )


def _without(path: Path, specimens: set[str]) -> None:
    """Take the rows of some specimens out of a table whose first column names the specimen."""
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(line for line in lines if line.split(",", 1)[0] not in specimens), encoding="utf-8", newline="")


_GAPS, _RULE = Way(), Way(tool="rule", resolution=0.5, limit=0.3, hand=0.25, repeats=1)
GENERATORS: dict[str, Callable[[Path, int, int], Package]] = {
    "strangers with callipers": read_in([_GAPS, _GAPS._replace(repeats=1), _GAPS._replace(stations=(-80.0, 0.0, 80.0))]),
    "strangers with rules, read once": read_in([_RULE, _RULE._replace(resolution=1.0)]),
    "a club of three with two callipers": read_in([_GAPS, _GAPS._replace(stations=(-80.0, 0.0, 80.0))], people=3),
    "a club of five, two sessions a bed": read_in([_GAPS._replace(sessions=2), _RULE._replace(sessions=2)], people=5),
    "people who differ by 0.10 mm, two sessions a bed": read_in([_GAPS._replace(bias=0.10, sessions=2)], people=5),
    "without edges, stations 0 and 5 mm": read_in([_GAPS._replace(edges=False), _GAPS._replace(stations=(0.0, 5.0))]),
    "few frames, most only counted": read_in([_GAPS], counted=24),
    "the demo's": demo_like,
}


def _ordered(package: Package, table: str, key: str, known: set[str], seed: int) -> list[list[str]]:
    """Beds to be compared, the first of each list with the others: near ones, because far ones are never in doubt."""
    rows = open_catalogue(package.folder).table(table).to_pylist()
    near = sorted(
        (float(row["openness_centre"]), str(row[key])) for row in rows if row["openness_centre"] and row[key] in known
    )
    names = [name for _, name in near]
    rng = np.random.default_rng(seed)
    return [
        [name, *(names[place + int(step)] for step in rng.choice(FARTHEST, 3, replace=False) + 1)]
        for place, name in enumerate(names[: len(names) - FARTHEST])
    ]


def _judged(package: Package, lists: list[list[str]], true: dict[str, dict[str, float]]) -> Iterator[tuple[float, bool]]:
    catalogue = open_catalogue(package.folder)
    for names in lists:
        for one in catalogue.compare(*names).contrasts:
            if one.where in WHERE:
                tighter = true[one.name][f"openness_{one.where}"] < true[one.against][f"openness_{one.where}"]
                sure = one.probability_tighter
                yield max(sure, 1.0 - sure), tighter == (sure >= 0.5)


def said_of(make: Callable[[Path, int, int], Package], packages: int, seed: int, frames: int = FRAMES) -> dict[str, Said]:
    """Verdicts on frames and on copies in so many packages."""
    found: dict[str, list[tuple[float, bool]]] = {"frames": [], "copies": []}
    with tempfile.TemporaryDirectory(prefix="gapbook-calibration-") as scratch:
        for number in range(packages):
            package = make(Path(scratch) / str(number), seed * 1000 + number, frames)
            derive(open_package(package.folder), ["beds"], workers=1)
            for what, table, key, true in (
                ("frames", "scores", "frame_id", package.frames),
                ("copies", "beds", "specimen_id", package.copies),
            ):
                lists = _ordered(package, table, key, set(true), number)
                found[what] += _judged(package, lists, true)
    return {what: Said(*map(np.array, zip(*pairs, strict=True))) for what, pairs in found.items()}


def together(said: Sequence[Said]) -> Said:
    """Verdicts of several packages as one."""
    return Said(*(np.concatenate(parts) for parts in zip(*said, strict=True)))


class Class(NamedTuple):
    """Verdicts of like stated probability: how many, how sure they were said to be and how many were right [1]."""

    number: int
    sure: float
    right: float


def classes(said: Said) -> list[Class]:
    """One class for each step from 50 to 99 %, and the rest above."""
    place = np.clip(np.searchsorted(STEPS, said.sure, side="right") - 1, 0, len(STEPS) - 2)
    found = []
    for step in range(len(STEPS) - 1):
        here = place == step
        number = int(here.sum())
        found.append(Class(number, *((float(np.mean(column[here])) if number else np.nan) for column in said)))
    return found


def table(by_generator: dict[str, dict[str, Said]], packages: int, seed: int) -> str:
    """The table in Markdown, with a line on each generator."""
    columns = {what: together([said[what] for said in by_generator.values()]) for what in ("frames", "copies")}
    lines = [
        f"`python -m tests.bench --calibration {packages}` (seed {seed}): {packages} packages of each of {len(by_generator)}",
        "generators, beds compared in centre, sides and tip; said is the mean of what the verdicts said.",
        "",
        "| said to be sure [%] | frames | said [%] | right [%] | copies | said [%] | right [%] |",
        "|---|---|---|---|---|---|---|",
    ]
    for step, (frames, copies) in enumerate(zip(*(classes(said) for said in columns.values()), strict=True)):
        low, high = 100 * STEPS[step], 100 * STEPS[step + 1]
        cells = " | ".join(f"{one.number:,} | {100 * one.sure:.1f} | {100 * one.right:.1f}" for one in (frames, copies))
        lines.append(f"| {low:.0f} to {high:.0f} | {cells} |")
    lines += [
        "",
        "Right less said, in points, over all verdicts below 99 %:",
        "",
        "| read by | frames | copies |",
        "|---|---|---|",
    ]
    for name, said in by_generator.items():
        cells = []
        for what in ("frames", "copies"):
            doubtful = said[what].sure < STEPS[-2]
            cells.append(f"{100 * (np.mean(said[what].right[doubtful]) - np.mean(said[what].sure[doubtful])):+.1f}")
        lines.append(f"| {name} | {' | '.join(cells)} |")
    return "\n".join(lines)


def write(text: str, path: Path = ROOT / "DEVELOPERS.md", marks: tuple[str, str] = MARKS) -> None:
    """Put a table between its marks in a document."""
    before, found, rest = path.read_text(encoding="utf-8").partition(marks[0])
    _, end, after = rest.partition(marks[1])
    if not (found and end):
        raise SystemExit(f"{path} holds no {marks[0]} … {marks[1]}: put the marks where the table belongs")
    path.write_text(f"{before}{marks[0]}\n{text}\n{marks[1]}{after}", encoding="utf-8")


def main() -> None:
    """Print the table, and write it if asked."""
    parser = argparse.ArgumentParser(prog="python -m bench.calibration", description=__doc__)
    parser.add_argument("--packages", type=int, default=PACKAGES, help="packages of each generator")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", action="store_true", help="write the table into DEVELOPERS.md")
    given = parser.parse_args()
    by_generator = {name: said_of(make, given.packages, given.seed) for name, make in GENERATORS.items()}
    text = table(by_generator, given.packages, given.seed)
    print(text)
    if given.write:
        write(text)


if __name__ == "__main__":
    main()
