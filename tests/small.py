"""Small data packages built row by row, written out whole and derived, for tests of what follows from a few readings."""

from __future__ import annotations

import csv
import json
import shutil
import tempfile
from collections.abc import Callable, Iterable, Sequence
from itertools import accumulate
from pathlib import Path

from gapbook.tables.derived import compute
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package

ROOT = Path(__file__).resolve().parents[1]
RAW = (
    "frames", "specimens", "spacings", "readings", "instruments", "contributors", "playtests", "testers", "exceptions",
    "corrections", "admissions",
)  # fmt: skip
NAMES = {
    path.stem: [field["name"] for field in json.loads(path.read_text(encoding="utf-8"))["fields"]]
    for path in (ROOT / "schema").glob("*.json")
}
TOOLS = (
    ("cal", "calliper", "0.01", "0.05", "mm"),
    ("cal-2", "calliper", "0.02", "0.03", "mm"),
    ("rule", "rule", "0.5", "0.5", "mm"),
    ("rule-in", "rule", "0.03125", "0.02", "in"),
    ("scale", "scale", "0.1", "0.5", "g"),
)
"""instrument_id, kind, resolution, max_error, unit."""


class Small:
    """The rows of a small package. It starts with the instruments TOOLS and two people, `ida` and `ole`."""

    def __init__(self) -> None:
        self.tables: dict[str, list[dict[str, str]]] = {name: [] for name in RAW}
        for tool in TOOLS:
            self.add("instruments", **dict(zip(NAMES["instruments"], tool, strict=True)))
        for person in ("ida", "ole"):
            self.add("contributors", contributor_id=person, name=person.title(), since="2020-01-01")

    def add(self, table: str, **cells: object) -> None:
        """One row; cells not named stay blank."""
        self.tables[table].append({name: str(cells.pop(name, "")) for name in NAMES[table]})
        assert not cells, cells

    def frame(self, name: str, mains: int = 16, crosses: int = 19, area: float = 620.0, **more: object) -> None:
        """A frame as its maker declares it."""
        row = {"maker": "Nobody", "model": name, "edition": "retail"} | more
        self.add("frames", frame_id=name, mains=mains, crosses=crosses, head_area_cm2=area, **row)

    def copy(self, name: str, frame: str, gauge: str = "1.25") -> None:
        """A specimen of a frame."""
        self.add("specimens", specimen_id=name, frame_id=frame, string_gauge_mm=gauge)

    def run(
        self,
        copy: str,
        family: str,
        values: Iterable[object],
        edges: bool = False,
        kind: str = "gap",
        station: float = 0,
        **more: object,
    ) -> None:
        """One repeat of a run: gaps or marks in order of number, from 0 with edges and from 1 without."""
        row = {
            "contributor_id": "ida", "instrument_id": "cal" if kind == "gap" else "rule", "taken_on": "2026-03-01",
            "repeat": 1, "unit": "mm",
        }  # fmt: skip
        for no, value in enumerate(values, 0 if edges else 1):
            key = {"specimen_id": copy, "family": family, "station_mm": station, "kind": kind, "no": no}
            self.add("spacings", **key, **(row | {"value": value} | more))

    def reading(self, copy: str, quantity: str, value: object, unit: str = "mm", **more: object) -> None:
        """One whole-frame reading."""
        row = {
            "strung": "true", "contributor_id": "ida", "instrument_id": "rule", "taken_on": "2026-03-01", "repeat": 1,
        }  # fmt: skip
        self.add("readings", specimen_id=copy, quantity=quantity, value=value, unit=unit, **(row | more))

    def write(self, folder: Path) -> Path:
        """Write the whole package into a new folder."""
        (folder / "catalogue" / "derived").mkdir(parents=True)
        shutil.copyfile(ROOT / "datapackage.json", folder / "datapackage.json")
        shutil.copytree(ROOT / "schema", folder / "schema")
        for name, rows in self.tables.items():
            with (folder / "catalogue" / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
                out = csv.DictWriter(file, NAMES[name], lineterminator="\n")
                out.writeheader()
                out.writerows(rows)
        return folder

    def inspect(self, look: Callable[[Package], object]) -> object:
        """What `look` finds in the package, written to a folder that is gone afterwards."""
        with tempfile.TemporaryDirectory(prefix="small-") as scratch:
            return look(open_package(self.write(Path(scratch) / "package")))

    def derived(self, parts: Sequence[str] = ("beds",)) -> dict[str, dict[str, dict[str, object]]]:
        """The derived tables: rows by their first column, by table."""
        tables = self.inspect(lambda package: compute(package, parts))
        return {name: {next(iter(row.values())): row for row in data.to_pylist()} for name, data in tables.items()}

    def bed(self) -> dict[str, object]:
        """The row of beds.csv of the one bed there is."""
        (row,) = self.derived()["beds"].values()
        return row


def marks(gaps: Iterable[float], start: float = 12.0) -> list[float]:
    """Running marks of a row of gaps, along a scale that shows `start` at the first."""
    return list(accumulate([start, *gaps]))


def even(main: float = 12.5, cross: float = 12.5, mains: int = 16, crosses: int = 19, gauge: str = "1.25") -> Small:
    """A package with one bed of evenly spaced strings, read as gaps without edges."""
    small = Small()
    small.frame("one", mains, crosses)
    small.copy("one-a", "one", gauge)
    small.run("one-a", "main", [main] * (mains - 1))
    small.run("one-a", "cross", [cross] * (crosses - 1))
    return small
