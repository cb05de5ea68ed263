"""A contribution folder: a few tables as CSV, its own rows only, read together with the catalogue they are meant for."""

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


@dataclass(frozen=True)
class MeasuredCopy:
    """The one bed a contribution measures: its frame, and its row of beds.csv."""

    specimen_id: str
    frame_id: str
    mains: int
    crosses: int
    head_area_cm2: float
    bed: Mapping[str, float | None]


def tables_in(folder: Path) -> dict[str, Path]:
    """The contribution's files by table. GapbookError for a folder without any, or one that holds what is not opened, such
    as links.
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
    """The catalogue with a contribution's rows added, for as long as it is looked at, and the specimens the contribution
    measures.

    GapbookError, at the contribution's own file and line, where it cannot be read or measures no bed; errors raised while
    it is looked at are told at the files a person has.
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
    """The one specimen a contribution measures; GapbookError where it measures none or several."""
    if len(measured) != 1:
        found = ", ".join(measured) or "none"
        raise fail("one-bed", f"{folder} must measure one specimen to compare with", found=found, expected="one")
    return measured[0]


def measured_copy(package: Package, folder: Path) -> MeasuredCopy:
    """Score the bed in a contribution folder, with repeatability pooled over catalogue and contribution.

    GapbookError as of `joined`, or where it measures several beds.
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
    """Physical lines of the catalogue's file, and of the contribution's down to its header."""

    catalogue: int
    header: int


def _split(text: bytes) -> tuple[int, bytes]:
    """The number of lines down to a file's header, blank ones before it included, and the rows below it."""
    end = text.find(b"\n", len(text) - len(text.lstrip(b"\r\n")))
    rows = text[end + 1 :] if end >= 0 else b""
    return text.count(b"\n") - rows.count(b"\n"), rows


def _merge(package: Package, files: dict[str, Path], scratch: Path) -> tuple[Package, dict[str, _Lines]]:
    """A package in `scratch` of the catalogue's rows and then the contribution's, and how their lines fit together."""
    lengths: dict[str, _Lines] = {}
    resources = []
    for name in RAW_TABLES:
        if name not in package.resources:
            continue
        text = package.read(name).removeprefix(b"\xef\xbb\xbf")
        text += b"" if text.endswith(b"\n") else b"\n"
        lengths[name] = _Lines(text.count(b"\n"), 0)
        if name in files:
            own = read_bytes(files[name], str(files[name])).removeprefix(b"\xef\xbb\xbf")
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
    """The problem at the file a person has: the contribution's, or the catalogue's."""
    place = problem.place
    name = Path(place.file).stem if place else ""
    if place is None or name not in lengths:
        return problem
    catalogue, header = lengths[name]
    if place.line is None or place.line <= catalogue:
        return replace(problem, place=replace(place, file=package.shown(name)))
    return replace(problem, place=Place(str(files[name]), place.line - catalogue + header, place.column))
