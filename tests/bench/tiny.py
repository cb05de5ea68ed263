"""Tiny packages of invented beds, built row by row, for the tests of the plain derive and for timing it."""

from __future__ import annotations

import csv
import random
from itertools import accumulate

from bench import plain


class Package:
    """Tables of a tiny package, built up row by row; it starts with a calliper `cal` and a rule `rule`."""

    def __init__(self):
        self.tables = {name: [] for name in ("frames", "specimens", "spacings", "readings", "instruments", "contributors")}
        for name, kind, resolution, error in (("cal", "calliper", 0.01, 0.05), ("rule", "rule", 0.5, 0.5)):
            self.add("instruments", instrument_id=name, kind=kind, resolution=resolution, max_error=error, unit="mm")
        for person in ("ida", "ole"):
            self.add("contributors", contributor_id=person, name=person, since="2020-01-01")

    def add(self, table, **cells):
        self.tables[table].append({key: str(value) for key, value in cells.items()})

    def frame(self, name, mains=16, crosses=19, area=620, copies=("",), gauge="1.25"):
        self.add("frames", frame_id=name, mains=mains, crosses=crosses, head_area_cm2=area)
        for copy in copies:
            self.add("specimens", specimen_id=f"{name}-{copy or 'a'}", frame_id=name, string_gauge_mm=gauge)

    def run(self, specimen, family, values, edges=False, kind="gap", station=0, **more):
        """One repeat of a run: gaps, or marks, in order of number."""
        first = 0 if edges else 1
        for no, value in enumerate(values, first):
            self.add(
                "spacings",
                **{"specimen_id": specimen, "family": family, "station_mm": station, "kind": kind, "no": no}
                | {"contributor_id": "ida", "instrument_id": "cal", "taken_on": "2026-03-01", "repeat": 1}
                | {"value": value, "unit": "mm"}
                | more,
            )

    def head(self, specimen, quantity, value, unit="mm", **more):
        row = {"specimen_id": specimen, "quantity": quantity, "strung": "true", "contributor_id": "ida"}
        row |= {"instrument_id": "cal", "taken_on": "2026-03-01", "repeat": 1, "value": value, "unit": unit}
        self.add("readings", **row | more)

    def bed(self):
        """The one bed there is."""
        (found,) = plain.measured_beds(self.tables)
        return found

    def write(self, path):
        """Write the tables where a package keeps them."""
        (path / "catalogue").mkdir()
        for name, rows in self.tables.items():
            with open(path / "catalogue" / f"{name}.csv", "w", newline="", encoding="utf-8") as file:
                out = csv.DictWriter(file, list(rows[0]))
                out.writeheader()
                out.writerows(rows)


def even(main=12.5, cross=12.5, **more):
    """A package with one bed of evenly spaced strings."""
    package = Package()
    package.frame("one", **more)
    package.run("one-a", "main", [main] * 15)
    package.run("one-a", "cross", [cross] * 18)
    return package


PATTERNS = [(16, 19), (18, 20), (16, 20), (18, 19), (16, 18), (14, 18), (18, 18), (16, 21), (20, 20)]


def invented(specimens, seed):
    """A package of beds read in every way there is, two specimens a frame, and one frame nobody measured.

    Gaps and marks, with and without edges, one and three stations, millimetres and inches, two repeats, two
    sessions, with and without head readings: about 75 rows of spacings a specimen.
    """
    rng = random.Random(seed)
    package = Package()
    for no in range(0, specimens, 2):
        mains, crosses = PATTERNS[no // 2 % len(PATTERNS)]
        copies = ("a", "b")[: specimens - no]
        package.frame(f"frame-{no}", mains, crosses, round(rng.uniform(590, 680), 1), copies=copies)
        for way, copy in enumerate(copies, no):
            read_in_some_way(package, f"frame-{no}-{copy}", mains, crosses, way, rng)
    package.frame("unmeasured", copies=())
    return package


def read_in_some_way(package, specimen, mains, crosses, way, rng):
    """One specimen; the number `way` says how it is read."""
    drilling = rng.uniform(0.85, 1.0)
    main, cross = bed_of(mains, 245.0, drilling, rng), bed_of(crosses, 330.0, drilling, rng)
    kind = ("gap", "mark")[way % 2]
    rule = {"kind": kind, "edges": way // 2 % 3 > 0, "instrument_id": "rule" if kind == "mark" else "cal"}
    rule["unit"] = "in" if way % 5 == 0 else "mm"
    stations, repeats = ((-90, 0, 90), 1) if way // 3 % 4 == 0 else ((0,), 2)
    for repeat in range(1, repeats + 1):
        for station in stations:
            values = read(main, 1 - abs(station) / 3000, rng, rule)
            package.run(specimen, "main", values, station=station, repeat=repeat, **rule)
        package.run(specimen, "cross", read(cross, 1.0, rng, rule), repeat=repeat, **rule)
    if way % 7 == 1:
        package.run(specimen, "main", read(main, 1.0, rng, rule), contributor_id="ole", **rule)
        package.run(specimen, "cross", read(cross, 1.0, rng, rule), contributor_id="ole", **rule)
    if way % 3 != 1:
        package.head(specimen, "head_width", round(sum(main) + rng.gauss(0, 0.5), 1))
        package.head(specimen, "head_length", round(sum(cross) + rng.gauss(0, 0.5), 1))


def bed_of(strings, extent, drilling, rng):
    """Gaps of one family with both edge gaps [mm], closer in the middle, a little uneven."""
    middle = (strings - 2) / 2
    shape = [1 + 0.25 * ((k - middle) / middle) ** 2 + rng.gauss(0, 0.02) for k in range(strings - 1)]
    scale = drilling * extent / strings * len(shape) / sum(shape)
    gaps = [scale * value for value in shape]
    edge = (extent - sum(gaps)) / 2
    return [edge, *gaps, edge]


def read(gaps, scale, rng, rule):
    """What hand and instrument make of the gaps, in order of number, as written down."""
    noisy = [gap * scale + rng.gauss(0, 0.1) for gap in (gaps if rule["edges"] else gaps[1:-1])]
    values = noisy if rule["kind"] == "gap" else [10.0, *(10.0 + place for place in accumulate(noisy))]
    inches = rule.get("unit") == "in"
    return [round(value / 25.4, 3) if inches else round(value, 1) for value in values]
