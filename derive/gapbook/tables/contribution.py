"""A contribution: a folder with its own rows of some tables as CSV, read together with the catalogue it is meant for."""

from __future__ import annotations

import json
import math
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.tables.files import open_file, read_bytes
from gapbook.tables.package import DERIVED_TABLES, DESCRIPTOR, RAW_TABLES, Package
from gapbook.tables.records import without_bom

if TYPE_CHECKING:
    from gapbook.tables.handling import CopyHandling


@dataclass(frozen=True)
class OwnCopy:
    """The one bed that a contribution measures, or the one frame of which it only counts the strings.

    specimen_id: its copy; None if it names none
    frame_id: the copy's frame
    basis: measured or counted
    mains: declared mains of the frame
    crosses: declared crosses of the frame
    head_area_cm2: declared head area of the frame [cm2]; None if it is only counted and none is declared
    scores: the row that beds.csv would have for it; empty if it is only counted
    """

    specimen_id: str | None
    frame_id: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float | None
    scores: Mapping[str, float | None]


def tables_in(folder: Path) -> dict[str, Path]:
    """The contribution's files by table.

    GapbookError if there is no folder, if it holds no table, or if a file cannot be opened safely, such as a link.
    """
    if not folder.is_dir():
        raise fail("no-folder", f"no folder at {folder}", expected="a folder with CSVs of the catalogue's tables")
    files = {name: path for name in RAW_TABLES if os.path.lexists(path := folder / f"{name}.csv")}
    for path in files.values():
        open_file(path, str(path)).close()
    if not files:
        expected = "one or more of " + ", ".join(f"{name}.csv" for name in RAW_TABLES)
        raise fail("empty-folder", f"nothing to read in {folder}", expected=expected)
    return files


@contextmanager
def joined(package: Package, folder: Path, measured: bool = True) -> Iterator[tuple[Package, list[str]]]:
    """The catalogue with a contribution's rows added, and the ids of the specimens that the contribution measures.

    They are in a scratch folder, which is removed at the end of the context. GapbookError if the contribution cannot be
    read or, unless `measured` is false, measures no bed. An error raised within the context names the contribution's or the
    catalogue's own file and line instead of those in the scratch folder.
    """
    from gapbook.tables.reader import file_problems  # here: a question about frames reads no folder

    files = tables_in(folder)
    for name, path in files.items():
        if problems := file_problems(path, package.schema(name)):
            raise GapbookError(*problems)
    if "spacings" not in files and measured:
        raise fail("no-bed", f"{folder} measures no bed", expected="a spacings.csv")
    own = _ids_in(files, package, "spacings", "specimen_id")
    with tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        merged, lengths = _merge(package, files, Path(scratch))
        try:
            yield merged, own
        except GapbookError as error:
            raise GapbookError(*(_own_place(item, package, files, lengths) for item in error.problems)) from None


def _ids_in(files: dict[str, Path], package: Package, table: str, column: str) -> list[str]:
    """The different ids in a column of one of the contribution's files, in order; none if it has no such file."""
    from gapbook.tables.reader import read_file, texts

    return sorted(texts(read_file(files[table], package.schema(table))[column])) if table in files else []


def only_one(folder: Path, measured: list[str]) -> str:
    """The only specimen of `measured`. GapbookError if the contribution measures none or several."""
    if len(measured) != 1:
        found = ", ".join(measured) or "none"
        raise fail("one-bed", f"{folder} must measure one specimen to compare with", found=found, expected="one")
    return measured[0]


def own_copy(package: Package, folder: Path) -> OwnCopy:
    """Score the bed in a contribution folder, with repeatability pooled over catalogue and contribution.

    Of a folder without spacings, the counts of the one frame that its frames.csv names are given. GapbookError as `joined`, or
    if it holds several beds.
    """
    from gapbook.tables.catalogue import read_catalogue
    from gapbook.tables.derived import compute

    with joined(package, folder, measured=False) as (merged, own):
        if not own:
            named, frames = _counted(package, folder), read_catalogue(merged).frames
            place = frames.ids.index(named)
            area = float(frames.area[place])
            counts = int(frames.mains[place]), int(frames.crosses[place])
            return OwnCopy(None, named, "counted", *counts, None if math.isnan(area) else area, {})
        tables = compute(merged, ["beds"])
    specimen = only_one(folder, own)
    bed = next(row for row in tables["beds"].to_pylist() if row["specimen_id"] == specimen)
    frame = next(row for row in tables["scores"].to_pylist() if row["frame_id"] == bed["frame_id"])
    return OwnCopy(specimen, bed["frame_id"], "measured", frame["mains"], frame["crosses"], frame["head_area_cm2"], bed)


def own_handling(package: Package, folder: Path) -> CopyHandling:
    """How the copy in a contribution folder handles; if the folder only counts strings, how the frame that it names does.

    GapbookError as `own_copy`.
    """
    from gapbook.tables.catalogue import read_catalogue
    from gapbook.tables.handling import CopyHandling, copy_handling, handling_table

    with joined(package, folder, measured=False) as (merged, own):
        catalogue = read_catalogue(merged)
        if own:
            return copy_handling(merged, catalogue, only_one(folder, own))
        named = _counted(package, folder)
        rows = handling_table(merged, catalogue).to_pylist()
        return CopyHandling(next((row for row in rows if row["frame_id"] == named), None), [])


def _counted(package: Package, folder: Path) -> str:
    """The one frame of which a contribution without spacings tells the counts. GapbookError if it names none or several."""
    frames = _ids_in(tables_in(folder), package, "frames", "frame_id")
    if len(frames) != 1:
        expected = "a spacings.csv, or a frames.csv with one frame"
        raise fail("no-bed", f"{folder} measures no bed", found=", ".join(frames) or None, expected=expected)
    return frames[0]


class _Lines(NamedTuple):
    """How many physical lines the catalogue's file has, and the contribution's down to and with its header."""

    catalogue: int
    header: int


def _split(text: bytes) -> tuple[int, bytes]:
    """The number of lines down to a file's header, blank ones before it included, and the rows below it."""
    end = text.find(b"\n", len(text) - len(text.lstrip(b"\r\n")))
    rows = text[end + 1 :] if end >= 0 else b""
    return text.count(b"\n") - rows.count(b"\n"), rows


def _merge(package: Package, files: dict[str, Path], scratch: Path) -> tuple[Package, dict[str, _Lines]]:
    """A package in `scratch`, the catalogue's rows first and the contribution's after them, and where each file's lines are."""
    lengths: dict[str, _Lines] = {}
    resources = []
    for name in RAW_TABLES:
        if name not in package.resources:
            continue
        text = without_bom(package.read(name))
        text += b"" if text.endswith(b"\n") else b"\n"
        lengths[name] = _Lines(text.count(b"\n"), 0)
        if name in files:
            own = without_bom(read_bytes(files[name], str(files[name])))
            header, rows = _split(own)
            lengths[name] = lengths[name]._replace(header=header)
            text += rows
        (scratch / f"{name}.csv").write_bytes(text)
        resources.append({**package.resource(name), "path": f"{name}.csv", "schema": package.schema_descriptor(name)})
    for name in DERIVED_TABLES:
        if name in package.resources:
            resources.append({**package.resource(name), "schema": package.schema_descriptor(name)})
    descriptor = {**package.descriptor, "resources": resources}
    (scratch / DESCRIPTOR).write_text(json.dumps(descriptor), encoding="utf-8")
    return Package(scratch, descriptor), lengths


def _own_place(problem: Problem, package: Package, files: dict[str, Path], lengths: dict[str, _Lines]) -> Problem:
    """The problem with its place in the file that a person has: the contribution's, or the catalogue's."""
    place = problem.place
    name = Path(place.file).stem if place else ""
    if place is None or name not in lengths:
        return problem
    catalogue, header = lengths[name]
    if place.line is None or place.line <= catalogue:
        return replace(problem, place=replace(place, file=package.shown(name)))
    return replace(problem, place=Place(str(files[name]), place.line - catalogue + header, place.column))
