"""The package as Parquet or CSV: every table and view with its units, a descriptor, checksums, a citation.

Frictionless reads Parquet through pandas, where a NULL is a nan, which no limit admits, and counts no bytes of it. So the
descriptor of a Parquet file states no `bytes`, and the limits of a column that holds NULL stand under `limits` instead of
`constraints`.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

from gapbook.errors import GapbookError, fail
from gapbook.progress import counted
from gapbook.tables.files import LARGEST_TEXT, drafting, read_bytes, sha256
from gapbook.tables.package import DERIVED_TABLES, DESCRIPTOR, EXPORTED, LOG_TABLES, RAW_TABLES, Package, read_json
from gapbook.tables.results import csv_text
from gapbook.tables.sql import table
from gapbook.tables.views import View, views

SUMS = "SHA256SUMS"
CITATION = "CITATION.cff"
MADE_BY = "gapbook export"
PARQUET, CSV = "parquet", "csv"
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_KEPT = ("type", "title", "description", "licenses", "sources")


class Author(NamedTuple):
    """Somebody whom the citation names, with their ORCID iD or an empty text."""

    name: str
    orcid: str = ""


class Item(NamedTuple):
    """A table or view that is written.

    view: what it is
    data: its rows
    csv: its bytes as CSV; None if they are to be made of its rows
    parts: how many Parquet files it is cut into
    """

    view: View
    data: pa.Table
    csv: bytes | None = None
    parts: int = 1


def export(
    package: Package,
    out: Path,
    authors: Sequence[Author] = (),
    form: str = PARQUET,
    raw: bool = False,
    partitions: int = 1,
) -> dict[str, int]:
    """Write the package into a folder, whole or not at all; rows written by table and view.

    package: what is written
    out: the folder
    authors: cited besides those whom the descriptor names
    form: PARQUET or CSV
    raw: whether to write the raw tables alone, which need not have been derived from
    partitions: how many Parquet files spacings are cut into

    GapbookError as `write_folder`, and if a table cannot be read.
    """
    if partitions < 1 or (partitions > 1 and form != PARQUET):
        raise fail("usage", "partitions are files of Parquet, 1 or more", found=str(partitions), fix="Leave out --csv")
    return write_folder(package, out, _tables(package, form, raw, partitions), authors, form)


def write_folder(
    package: Package, out: Path, items: Iterable[Item], authors: Sequence[Author] = (), form: str = PARQUET
) -> dict[str, int]:
    """Write tables, with a descriptor, into a folder, whole or not at all; rows written by table.

    package: whose tables they are
    out: the folder
    items: the tables
    authors: cited besides those whom the descriptor names
    form: PARQUET or CSV

    `out` is made if it is missing. If it exists, it must be empty, or hold an earlier export and nothing else, which is then
    replaced. GapbookError otherwise.
    """
    earlier = _must_be_free(out)
    with drafting(out) as scratch:
        rows = _write(package, scratch, items, authors, form)
        _swap(scratch, out, earlier)
    return rows


def _tables(package: Package, form: str, raw: bool, partitions: int) -> Iterator[Item]:
    """The tables and views of a package."""
    listed = [view for view in views(package) if not raw or view.name in (*RAW_TABLES, *LOG_TABLES)]
    for view in counted(listed, "exporting tables", len(listed)):
        plain = package.read(view.name) if form == CSV and view.sql is None else None
        yield Item(view, _read(package, view), plain, partitions if view.name == "spacings" else 1)


def _write(package: Package, folder: Path, items: Iterable[Item], authors: Sequence[Author], form: str) -> dict[str, int]:
    (folder / "data").mkdir()
    resources, rows = [], {}
    for item in items:
        name, data = item.view.name, item.data
        paths = [folder / "data" / f"{name}.{form}"]
        if form == CSV:
            paths[0].write_bytes(csv_text(data).encode("utf-8") if item.csv is None else item.csv)
        else:
            if item.parts > 1:
                (folder / "data" / name).mkdir()
                paths = [folder / "data" / name / f"part-{number:05d}.{form}" for number in range(item.parts)]
            edges = [data.num_rows * number // item.parts for number in range(item.parts + 1)]
            for path, (low, high) in zip(paths, pairwise(edges), strict=True):
                pq.write_table(_with_whole_numbers(data.slice(low, high - low)), path, compression="zstd")
        rows[name] = data.num_rows
        resources.append(_resource(package, item.view, paths, folder, data))
    _write_json(folder / DESCRIPTOR, {**package.descriptor, EXPORTED: MADE_BY, "resources": resources})
    (folder / CITATION).write_text(citation(package, authors), encoding="utf-8")
    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    sums = "".join(f"{_checksum(folder / name)}  {name}\n" for name in files)
    (folder / SUMS).write_text(sums, encoding="utf-8")
    return rows


def _read(package: Package, view: View) -> pa.Table:
    try:
        return table(package, view.name)
    except GapbookError as error:
        missing = next((name for name in view.tables or (view.name,) if not package.path(name).exists()), None)
        if error.problems[0].code == "missing-file" and missing in DERIVED_TABLES:
            message = f"{package.shown(missing)} has not been derived yet"
            raise fail("not-derived", message, fix="Run gapbook derive") from None
        raise


def _with_whole_numbers(data: pa.Table) -> pa.Table:
    """The same table; whole numbers of which some are NULL are marked for pandas, which would make decimals of them."""
    marked = [
        {"name": field.name, "field_name": field.name, "pandas_type": "int64", "numpy_type": "Int64", "metadata": None}
        for field, column in zip(data.schema, data.columns, strict=True)
        if pa.types.is_integer(field.type) and column.null_count
    ]
    if not marked:
        return data
    words = {"index_columns": [], "column_indexes": [], "columns": marked, "creator": {"library": "pyarrow"}}
    return data.replace_schema_metadata({**(data.schema.metadata or {}), b"pandas": json.dumps(words).encode()})


def _resource(package: Package, view: View, paths: list[Path], folder: Path, data: pa.Table) -> dict[str, Any]:
    """The descriptor of a table's files, its schema written out beside them. There is a hash if it is one file."""
    is_csv, single = paths[0].suffix == f".{CSV}", len(paths) == 1
    names = [path.relative_to(folder).as_posix() for path in paths]
    stated = package.resource(view.name) if view.sql is None else {"type": "table", "description": view.description}
    kept = {name: stated[name] for name in _KEPT if name in stated}
    schema = package.schema_descriptor(view.name) if view.sql is None else _schema_of(package, view)
    return {
        **({"$schema": stated["$schema"]} if "$schema" in stated else {}),
        "name": view.name,
        **kept,
        "path": names[0] if single else names,
        "format": CSV if is_csv else PARQUET,
        "mediatype": "text/csv" if is_csv else "application/vnd.apache.parquet",
        **({"encoding": "utf-8", "bytes": paths[0].stat().st_size} if is_csv else {}),
        **({"hash": f"sha256:{_checksum(paths[0])}"} if single else {}),
        "schema": schema if is_csv else _with_limits_aside(schema, data),
    }


def _schema_of(package: Package, view: View) -> dict[str, Any]:
    """The Table Schema of a view."""
    fields = []
    for column in view.columns:
        words = {"title": column.title or column.name, "description": column.description, "unit": column.unit}
        fields.append({"name": column.name, "type": column.type, **{name: text for name, text in words.items() if text}})
    schema = package.schema_descriptor(view.tables[0]).get("$schema") if view.tables else None
    return {**({"$schema": schema} if schema else {}), "title": view.name, "description": view.description, "fields": fields}


def _with_limits_aside(schema: dict[str, Any], data: pa.Table) -> dict[str, Any]:
    """The schema with the limits of columns that hold NULL under `limits`."""
    fields = []
    for field in schema["fields"]:
        held = field.get("constraints", {})
        limits = {name: held[name] for name in ("minimum", "maximum") if name in held}
        if limits and data[field["name"]].null_count:
            rest = {name: value for name, value in held.items() if name not in limits}
            field = {**{name: value for name, value in field.items() if name != "constraints"}, "limits": limits}
            field |= {"constraints": rest} if rest else {}
        fields.append(field)
    return {**schema, "fields": fields}


def _write_json(path: Path, document: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n", encoding="utf-8")


def _checksum(path: Path) -> str:
    with path.open("rb") as stream:
        return sha256(stream)


def _must_be_free(out: Path) -> bool:
    """Whether `out` is an earlier export. GapbookError if it is anything else but missing or an empty folder."""
    expected = "a new or empty folder, or one that holds an earlier export and nothing else"
    if out.is_symlink() or (out.exists() and not out.is_dir()):
        raise fail("not-a-folder", f"{out} is no folder of its own", expected=expected)
    if not out.exists() or not any(out.iterdir()):
        return False
    strangers = _strangers(out)
    if strangers is None or strangers:
        found = "files that are not from an export" if strangers is None else ", ".join(strangers[:3])
        raise fail("not-empty", f"{out} is not empty", found=found, expected=expected, fix="Name another folder")
    return True


def _strangers(out: Path) -> list[str] | None:
    """Files and links in a folder that its export did not put there; None if it holds no export."""
    try:
        descriptor = read_json(out / DESCRIPTOR, DESCRIPTOR, out)
        lines = read_bytes(out / SUMS, SUMS, out, LARGEST_TEXT).decode().splitlines()
    except (GapbookError, ValueError):
        return None
    if descriptor.get(EXPORTED) != MADE_BY:
        return None
    own = {SUMS, *(line[66:] for line in lines)}
    there = [path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_symlink() or not path.is_dir()]
    return sorted(set(there) - own)


def _swap(new: Path, out: Path, earlier: bool) -> None:
    """Put `new` in the place of `out`; what was there before is put back if that fails."""
    if not earlier:
        if out.exists():
            out.rmdir()
        os.rename(new, out)
        return
    with drafting(out) as aside:
        os.rename(out, aside / "earlier")
        try:
            os.rename(new, out)
        except BaseException:
            os.rename(aside / "earlier", out)
            raise


def citation(package: Package, authors: Sequence[Author] = ()) -> str:
    """CITATION.cff, from the descriptor and further `authors`: a document in the Citation File Format (CFF 1.2.0, doi
    10.5281/zenodo.5171937).

    Texts are JSON strings, which YAML reads as they are.
    """
    stated = package.descriptor
    lines = [
        "cff-version: 1.2.0",
        f"message: {_json_text('If you use these data, please cite them as below.')}",
        "type: dataset",
        f"title: {_json_text(stated.get('title') or package.name)}",
        "authors:",
        *(line for author in _authors(package, authors) for line in _author_lines(author)),
    ]
    if package.version:
        lines.append(f"version: {_json_text(package.version)}")
    if day := _DAY.match(str(stated.get("created", ""))):
        lines.append(f"date-released: {day.group()}")
    if licences := [str(item["name"]) for item in _items(stated, "licenses") if "name" in item]:
        lines.append(f"license: {_json_text(licences[0])}")
    for key, field in (("abstract", "description"), ("url", "homepage")):
        if stated.get(field):
            lines.append(f"{key}: {_json_text(stated[field])}")
    keywords = stated.get("keywords")
    if isinstance(keywords, list) and keywords:
        lines += ["keywords:", *(f"  - {_json_text(word)}" for word in keywords)]
    return "\n".join(lines) + "\n"


def _authors(package: Package, more: Sequence[Author]) -> list[Author]:
    """Those whom the descriptor names, then the others, each once, with the ORCID iD that is known of them."""
    known = {author.name: author for author in more}
    stated = [str(item["title"]) for item in _items(package.descriptor, "contributors") if "title" in item]
    names = dict.fromkeys([*stated, *known]) or {package.name: None}
    return [known.get(name, Author(name)) for name in names]


def _author_lines(author: Author) -> list[str]:
    orcid = [f"    orcid: {_json_text(f'https://orcid.org/{author.orcid}')}"] if author.orcid else []
    return [f"  - name: {_json_text(author.name)}", *orcid]


def _items(stated: dict[str, Any], name: str) -> list[dict[str, Any]]:
    items = stated.get(name)
    return [item for item in items if isinstance(item, dict)] if isinstance(items, list) else []


def _json_text(value: object) -> str:
    return json.dumps(str(value), ensure_ascii=False)
