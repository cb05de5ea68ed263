"""The layers of a check: the catalogue and, on top of it, a contribution. Here is which files they have, and how all of them
are read into typed tables of sound rows, with findings for everything else.
"""

from __future__ import annotations

import difflib
import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import Place, fail
from gapbook.intake.findings import Finding
from gapbook.intake.keys import Nearest, TableFiles, check_conflicts, check_references
from gapbook.intake.table_files import Source, TableFile, cell_of, read_table_file
from gapbook.science.grouping import IntArray
from gapbook.tables.cells import quoted
from gapbook.tables.csv_text import MANY
from gapbook.tables.package import DESCRIPTOR, LOG_TABLES, RAW_TABLES, Package
from gapbook.tables.reader import texts
from gapbook.tables.units import codes

CATALOGUE, CONTRIBUTION = 0, 1
"""The numbers of the layers."""
NEEDED = ("frames", "specimens", "spacings", "readings", "instruments", "contributors")
"""Tables without which nothing can be computed."""
_SPECIMEN = "specimen_id"
_EXPECTED = "nothing but " + ", ".join(f"{name}.csv" for name in RAW_TABLES)
_OPEN = ("~$", ".~lock.")
"""How names of files begin that a spreadsheet puts beside a table while it is open."""
_LEFT = (".DS_Store", "Thumbs.db", "desktop.ini", "overlay.png", "photo.json")
"""What operating systems put into folders they show, and `gapbook photo` beside its tables; it is no finding."""
_ARCHIVES = (".zip", ".gz", ".tgz", ".tar", ".bz2", ".xz", ".7z", ".rar", ".zst")


class Layer(NamedTuple):
    """The files of the catalogue, or of a contribution.

    files: the path of each table's file
    shown: by table, how people are shown it
    folder: the folder of the contribution; None: it is the catalogue
    """

    files: dict[str, Path]
    shown: dict[str, str]
    folder: Path | None = None


def catalogue_layer(package: Package) -> Layer:
    """The catalogue's files: those of the tables that the descriptor names, whether they exist or not; logs only if they do."""
    names = [name for name in RAW_TABLES if name in package.resources]
    names += [name for name in LOG_TABLES if name in package.resources and os.path.lexists(package.path(name))]
    return Layer({name: package.path(name) for name in names}, {name: package.shown(name) for name in names})


def contribution_layer(folder: Path) -> Layer:
    """The files of a contribution that are named like tables of the catalogue. GapbookError if `folder` is no folder."""
    if not folder.is_dir():
        raise fail("no-folder", f"no folder at {folder}", expected="a folder with CSVs of the catalogue's tables")
    files = {name: path for name in RAW_TABLES if os.path.lexists(path := folder / f"{name}.csv")}
    return Layer(files, {name: str(path) for name, path in files.items()}, folder)


def is_package(path: Path) -> bool:
    """Whether `path` is a data package (else it is a contribution)."""
    return path.name == DESCRIPTOR or os.path.lexists(path / DESCRIPTOR)


# All layers read


@dataclass(frozen=True)
class LayeredTables:
    """What was read from all layers. A sound row is one in which no rule of structure found anything.

    layers: the layers, the catalogue first
    tables: by table the sound rows, typed, of all layers one after the other
    layer: by table the layer of each of these rows [R]
    record: by table the record of each of these rows in its file [R]; 0 is the first below the header
    findings: what is wrong with the other rows and with the files, by layer and code
    doubtful_specimens: the ids, as written, of specimens of whose spacings not all rows are sound
    rows: how many rows the files of each layer have
    lines: by table and layer, the physical line on which each record starts
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


def read_layers(package: Package, layers: Sequence[Layer]) -> LayeredTables:
    """Read every file of every layer. Whatever is wrong with a file becomes a finding, never an error.

    GapbookError if the package's schemas cannot be used.
    """
    check_schemas(package)
    tables = {
        name: [
            read_table_file(_source(package, name, number, layer)) for number, layer in enumerate(layers) if name in layer.files
        ]
        for name in layers[CATALOGUE].files
    }
    for listed in tables.values():
        if len(listed) > CONTRIBUTION:
            check_conflicts(listed[CONTRIBUTION], listed[CATALOGUE])
    check_references(tables)
    findings: dict[tuple[int, str], list[Finding]] = defaultdict(list)
    for number, layer in enumerate(layers):
        if layer.folder is not None:
            for code, finding in unknown_entries(layer.folder, [name for name in tables if name in RAW_TABLES]):
                findings[number, code].append(finding)
    for file in (file for listed in tables.values() for file in listed):
        for finding in file.findings:
            findings[file.source.layer, finding.code].append(finding)
    return _read(layers, tables, dict(findings))


def _source(package: Package, table: str, number: int, layer: Layer) -> Source:
    inside = layer.folder is None and layer.files[table].is_relative_to(package.root)
    root = package.root if inside else None  # a new version may lie in a scratch folder of gapbook's own
    return Source(table, package.schema(table), number, layer.files[table], layer.shown[table], root)


def _read(layers: Sequence[Layer], tables: TableFiles, findings: Mapping[tuple[int, str], list[Finding]]) -> LayeredTables:
    every = [file for listed in tables.values() for file in listed]
    known = Nearest(set().union(*(file.ids(_SPECIMEN) for file in tables["specimens"])))
    return LayeredTables(
        layers=tuple(layers),
        tables={name: pa.concat_tables([file.data for file in listed]).unify_dictionaries() for name, listed in tables.items()},
        layer={
            name: np.concatenate([np.full(len(file.rows), file.source.layer) for file in listed])
            for name, listed in tables.items()
        },
        record={name: np.concatenate([file.record for file in listed]) for name, listed in tables.items()},
        findings=dict(findings),
        doubtful_specimens=_doubtful_specimens(tables["spacings"], known),
        rows=tuple(sum(len(file.text.lines) for file in every if file.source.layer == one) for one in range(len(layers))),
        lines={(file.source.table, file.source.layer): file.text.lines for file in every},
    )


def _doubtful_specimens(files: Iterable[TableFile], known: Nearest) -> frozenset[str]:
    """The ids, as written, of specimens of whose spacings some rows were left out. Nothing is computed of them, because what is
    left would be misread as a bed with numbers missing.

    If a row that was left out names no `known` specimen, the one it belongs to is not certain: then the specimen of the rows
    around it is doubtful too, or those with the nearest ids.
    """
    doubtful: set[str] = set()
    for file in files:
        ids, code = [*texts(file.data[_SPECIMEN]), ""], np.concatenate(([-1], codes(file.data[_SPECIMEN]), [-1]))
        left_out = _left_out(file)
        place = np.searchsorted(file.record, np.array([record for record, _ in left_out], dtype=np.int64))
        around = zip((text for _, text in left_out), code[place].tolist(), code[place + 1].tolist(), strict=True)
        for text, before, after in set(around):
            doubtful.add(text)
            if text not in known.known:
                doubtful |= {ids[before]} if before == after and ids[before] else set(known.to(text))
        if left_out and not file.text.is_whole and file.data.num_rows:
            doubtful.add(ids[int(code[-2])])
    return frozenset(doubtful - {""})


def _left_out(file: TableFile) -> list[tuple[int, str]]:
    """The record and the specimen, as written, of each row that is not sound."""
    column, rows = file.column(_SPECIMEN), np.flatnonzero(file.in_doubt)
    written = [column.texts[code] for code in column.codes[rows].tolist()]
    bad = [(bad.record, cell_of(file.source.schema, bad.cells, _SPECIMEN)) for bad in file.text.bad if bad.record is not None]
    return [*zip(file.text.record[rows].tolist(), written, strict=True), *bad]


# Entries of a contribution's folder that are no table


def unknown_entries(folder: Path, known: Sequence[str]) -> Iterator[tuple[str, Finding]]:
    """Code and finding for each entry of a contribution's folder that is not the file of a `known` table, and for a folder
    without any table.
    """
    with os.scandir(folder) as entries:
        listed = sorted((entry.name, entry.is_symlink(), entry.is_dir(follow_symlinks=False)) for entry in entries)
    tables = [f"{name}.csv" for name in known]
    if not any(name in tables for name, _, _ in listed):
        yield "missing-file", _of_entry(folder, "no table", f"one or more of {', '.join(tables)}", "Put a table's CSV in")
    for name, is_link, is_folder in listed[:MANY]:
        if name in tables or (name in _LEFT and not is_link and not is_folder):
            continue
        if is_link:
            found = f"a link to {quoted(os.readlink(folder / name))}"
            yield "path", _of_entry(folder / name, found, "the file itself, or nothing", "")
        else:
            yield "unknown-file", _of_entry(folder / name, _kind(name, is_folder), _EXPECTED, _mend(name, is_folder, tables))


def _of_entry(path: Path, found: str, expected: str, fix: str) -> Finding:
    return Finding("", None, found, expected, fix, file=str(path))


def _kind(name: str, is_folder: bool) -> str:
    kind = "a folder" if is_folder else "an archive" if name.lower().endswith(_ARCHIVES) else "a file"
    return f"{kind} called {quoted(name)}"


def _mend(name: str, is_folder: bool, tables: list[str]) -> str:
    """What to do with an entry that is no table."""
    if is_folder:
        return "Take the folder out; a contribution's tables stand side by side"
    if name.lower().endswith(_ARCHIVES):
        return "Unpack the archive; a contribution holds plain CSV files"
    if name.startswith(_OPEN):
        return "Close the spreadsheet: it leaves this file beside a table that is open in it"
    stem = name.lower().partition(".")[0]
    if near := difflib.get_close_matches(stem, [table.removesuffix(".csv") for table in tables], 1, 0.8):
        return f"Call it {near[0]}.csv" if name.lower().endswith(".csv") else f"Save it as {near[0]}.csv, comma-separated"
    return "Take it out: it is neither read nor admitted; words about a copy fit in the note of specimens.csv"


# Whether the package's schemas can be checked with


def check_schemas(package: Package) -> None:
    """GapbookError if the package lacks a table that is needed, or has a schema that tables cannot be checked with."""
    for name in NEEDED:
        package.resource(name)
    for name in (*RAW_TABLES, *LOG_TABLES):
        if name in package.resources:
            schema = package.schema(name)
            for key in schema.foreign_keys:
                known = key.table in package.resources and key.parent in package.schema(key.table).names
                if not known or package.schema(key.table).field(key.parent).type != "string":
                    found, expected = f"{key.field} to {key.table}.{key.parent}", "texts of fields that exist"
                    message = f"the schema of {name} refers to an unknown field"
                    raise fail("schema", message, place=Place(DESCRIPTOR), found=found, expected=expected)
