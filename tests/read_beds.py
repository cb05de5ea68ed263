"""A small package in which people have read as people do: noise, repeats, two sessions on some beds, playtests."""

from __future__ import annotations

import copy
import datetime
import random
import tempfile
from functools import cache
from pathlib import Path

from gapbook.intake.check import check_layers
from gapbook.intake.findings import Finding
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rules import QUALITY
from gapbook.tables.opening import open_package
from small import Small, marks

TODAY = datetime.date(2026, 6, 1)
COPIES = tuple(f"one-{letter}" for letter in "abcdefghij")
MAINS, CROSSES = 16, 19


def _gaps(rng: random.Random, strings: int, middle: float) -> list[float]:
    """Gaps without edges, wider to the ends, strings a little out of place [mm]."""
    half = strings / 2
    return [middle + 3.0 * (abs(gap - half) / half) ** 2 + rng.gauss(0, 0.2) for gap in range(1, strings)]


def _reading(rng: random.Random, gaps: list[float], noise: float, step: float) -> list[str]:
    places = len(f"{step:g}".partition(".")[2])
    return [f"{round((gap + rng.gauss(0, noise)) / step) * step:.{places}f}" for gap in gaps]


def _beds(small: Small, rng: random.Random) -> None:
    for number, name in enumerate(COPIES):
        small.copy(name, "one")
        beds = {"main": _gaps(rng, MAINS, 10.0 + 0.1 * number), "cross": _gaps(rng, CROSSES, 11.0 + 0.1 * number)}
        for family, gaps in beds.items():
            for repeat in (1, 2):
                small.run(name, family, _reading(rng, gaps, 0.1, 0.01), repeat=repeat)
            if number < 5:
                values = _reading(rng, gaps, 0.1, 0.02)
                small.run(name, family, values, contributor_id="ole", instrument_id="cal-2", taken_on="2026-03-09")
            if number >= 7:
                for repeat in (1, 2, 3):
                    values = _reading(rng, marks(gaps, 12.0 + rng.random()), 0.2, 0.5)
                    small.run(name, family, values, kind="mark", contributor_id="ole", repeat=repeat)
        for person in ("ida", "ole"):
            for repeat in (1, 2):
                width = f"{round(2 * (245 + rng.gauss(0, 0.3))) / 2:.1f}"
                small.reading(name, "head_width", width, contributor_id=person, repeat=repeat)
        mass = 320 + rng.gauss(0, 3)
        for repeat in (1, 2):
            small.reading(name, "mass", f"{mass + rng.gauss(0, 0.1):.1f}", "g", instrument_id="scale", repeat=repeat)


@cache
def _whole() -> Small:
    rng = random.Random(7)
    small = Small()
    small.frame("one", MAINS, CROSSES)
    small.frame("two", MAINS, CROSSES)
    small.copy("two-a", "two")
    _beds(small, rng)
    for tester in ("ann", "bea", "cid"):
        small.add("testers", tester_id=tester, style="flat", own_frame="none")
        for number in range(16):
            given = {f"{mark}_vs_own": rng.choice((-1, 0, 1)) for mark in ("control", "lift", "comfort")}
            small.add(
                "playtests", playtest_id=f"{tester}-{number}", specimen_id=COPIES[0] if number % 2 else "two-a",
                tester_id=tester, played_on="2026-04-01", string_material="polyester", main_tension=52, cross_tension=52,
                tension_unit="lb", **given,
            )  # fmt: skip
    return small


def good() -> Small:
    """The package, to be broken."""
    return copy.deepcopy(_whole())


def rows_of(small: Small, table: str, **cells: object) -> list[int]:
    """The rows of a table, counted from 0, that have these cells."""
    rows = enumerate(small.tables[table])
    return [number for number, row in rows if all(row[name] == str(value) for name, value in cells.items())]


def shift(small: Small, table: str, rows: list[int], by: float) -> None:
    """Add to the values of rows, at the decimals they have."""
    for number in rows:
        text = small.tables[table][number]["value"]
        places = len(text.partition(".")[2])
        small.tables[table][number]["value"] = f"{float(text) + by:.{places}f}"


def findings(small: Small, contribution: Small | None = None) -> list[Finding]:
    """What the rules of reading quality find in a package, or in a contribution meant for it."""
    with tempfile.TemporaryDirectory(prefix="beds-") as scratch:
        package = open_package(small.write(Path(scratch) / "package"))
        layer = None
        if contribution is not None:
            folder = contribution.write(Path(scratch) / "sent") / "catalogue"
            for path in folder.glob("*.csv"):
                if path.read_text(encoding="utf-8").count("\n") < 2:
                    path.unlink()
            (folder / "derived").rmdir()
            layer = contribution_layer(folder)
        checked = check_layers(package, layer, today=TODAY, rules=QUALITY)
    assert checked.report.broken == ()
    return list(checked.report.findings)


def found(small: Small, contribution: Small | None = None) -> list[tuple[str, str, int | None, str | None]]:
    """Code, table, line and column of each finding."""
    return [(item.code, item.table, item.line, item.column) for item in findings(small, contribution)]
