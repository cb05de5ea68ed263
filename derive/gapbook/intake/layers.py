"""Where checked rows come from, the catalogue and the contribution meant for it, and where each of them stands."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa

from gapbook.errors import fail
from gapbook.intake.findings import Finding
from gapbook.science.grouping import IntArray
from gapbook.tables.package import DESCRIPTOR, RAW_TABLES, Package

CATALOGUE, CONTRIBUTION = 0, 1


class Layer(NamedTuple):
    """The files of one source.

    files: by table
    shown: how people are shown them, by table
    folder: what a contributor may put files in; None: the catalogue
    """

    files: dict[str, Path]
    shown: dict[str, str]
    folder: Path | None = None


def catalogue_layer(package: Package) -> Layer:
    """The catalogue's own files, those of tables the descriptor names; they need not exist."""
    names = [name for name in RAW_TABLES if name in package.resources]
    return Layer({name: package.path(name) for name in names}, {name: package.shown(name) for name in names})


def contribution_layer(folder: Path) -> Layer:
    """The files of a contribution folder that are tables of the catalogue. GapbookError if it is not a folder."""
    if not folder.is_dir():
        raise fail("no-folder", f"no folder at {folder}", expected="a folder with CSVs of the catalogue's tables")
    files = {name: path for name in RAW_TABLES if os.path.lexists(path := folder / f"{name}.csv")}
    return Layer(files, {name: str(path) for name, path in files.items()}, folder)


def is_package(path: Path) -> bool:
    """Whether `path` is a data package (else it is a contribution)."""
    return path.name == DESCRIPTOR or os.path.lexists(path / DESCRIPTOR)


@dataclass(frozen=True)
class Read:
    """All layers read.

    layers: the layers, the catalogue first
    tables: of each table the sound rows, typed, of all layers one after the other
    layer: of each table the layer of each row [R]
    record: of each table the record of each row [R]; 0 is the first below the header
    findings: what is wrong with the other rows and with the files, by layer and code
    doubtful_specimens: the specimens, as written, whose spacings are not all sound
    rows: how many rows each layer has
    lines: by table and layer the physical line of every record
    """

    layers: tuple[Layer, ...]
    tables: dict[str, pa.Table]
    layer: dict[str, IntArray]
    record: dict[str, IntArray]
    findings: dict[tuple[int, str], list[Finding]] = field(default_factory=dict)
    doubtful_specimens: frozenset[str] = frozenset()
    rows: tuple[int, ...] = ()
    lines: dict[tuple[str, int], IntArray] = field(default_factory=dict)

    def lines_of(self, table: str, layer: int, records: IntArray) -> dict[int, int]:
        """The physical line on which each record of a file starts."""
        return {int(record): int(self.lines[table, layer][record]) for record in records}
