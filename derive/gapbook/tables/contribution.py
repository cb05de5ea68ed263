"""A contribution: a folder with its own rows of some tables as CSV, read together with the catalogue it is meant for."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.tables.files import open_file, read_bytes
from gapbook.tables.package import DERIVED_TABLES, DESCRIPTOR, RAW_TABLES, Package
from gapbook.tables.records import without_bom


@dataclass(frozen=True)
class MeasuredCopy:
    """The one bed that a contribution measures.

    specimen_id: its copy
    frame_id: the copy's frame
    mains: declared mains of the frame
    crosses: declared crosses of the frame
    head_area_cm2: declared head area of the frame [cm2]
    bed: the row that beds.csv would have for it
    """

    specimen_id: str
    frame_id: str
    mains: int
    crosses: int
    head_area_cm2: float
    bed: Mapping[str, float | None]


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
def joined(package: Package, folder: Path) -> Iterator[tuple[Package, list[str]]]:
    """The catalogue with a contribution's rows added, and the ids of the specimens that the contribution measures.

    They are in a scratch folder, which is removed at the end of the context. GapbookError if the contribution cannot be
    read or measures no bed. An error raised within the context names the contribution's or the catalogue's own file and
    line instead of those in the scratch folder.
    """
    from gapbook.tables.reader import file_problems, read_file, texts  # here: a question about frames reads no folder

    files = tables_in(folder)
    for name, path in files.items():
        if problems := file_problems(path, package.schema(name)):
            raise GapbookError(*problems)
    if "spacings" not in files:
        raise fail("no-bed", f"{folder} measures no bed", expected="a spacings.csv")
    own = sorted(texts(read_file(files["spacings"], package.schema("spacings"))["specimen_id"]))
    with tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        merged, lengths = _merge(package, files, Path(scratch))
        try:
            yield merged, own
        except GapbookError as error:
            raise GapbookError(*(_own_place(item, package, files, lengths) for item in error.problems)) from None


def only_one(folder: Path, measured: list[str]) -> str:
    """The only specimen of `measured`. GapbookError if the contribution measures none or several."""
    if len(measured) != 1:
        found = ", ".join(measured) or "none"
        raise fail("one-bed", f"{folder} must measure one specimen to compare with", found=found, expected="one")
    return measured[0]


def measured_copy(package: Package, folder: Path) -> MeasuredCopy:
    """Score the bed in a contribution folder, with repeatability pooled over catalogue and contribution.

    GapbookError as `joined`, or if it measures several beds.
    """
    from gapbook.tables.derived import compute

    with joined(package, folder) as (merged, own):
        tables = compute(merged, ["beds"])
    frames = {row["frame_id"]: row for row in tables["scores"].to_pylist()}
    specimen = only_one(folder, own)
    bed = next(row for row in tables["beds"].to_pylist() if row["specimen_id"] == specimen)
    frame = frames[bed["frame_id"]]
    return MeasuredCopy(specimen, bed["frame_id"], frame["mains"], frame["crosses"], frame["head_area_cm2"], bed)


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
