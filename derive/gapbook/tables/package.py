"""A data package on disk: its descriptor, its schemas, and paths that stay inside it. `opening.py` finds and opens it."""

from __future__ import annotations

import json
import math
import os
import re
from dataclasses import dataclass
from functools import cached_property
from io import BufferedReader
from pathlib import Path
from typing import Any

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.conforming import must_be_sound, must_extend
from gapbook.tables.files import LARGEST_TABLE, LARGEST_TEXT, open_file, read_bytes, read_whole
from gapbook.tables.schemas import Schema, parse_schema

DESCRIPTOR = "datapackage.json"
JOURNAL = ".gapbook/journal.json"
"""This file exists while tables of the package are being replaced (`transactions.py`)."""
RAW_TABLES = (
    "frames",
    "specimens",
    "spacings",
    "readings",
    "instruments",
    "contributors",
    "playtests",
    "testers",
    "exceptions",
)
LOG_TABLES = ("corrections", "admissions")
"""What was done to the raw tables; only gapbook writes them, and a package may lack them."""
OPTIONAL_DERIVED = ("digests",)
"""What is told of the derived tables; a package may lack it."""
DERIVED_TABLES = ("beds", "scores", "handling", "mechanics")
EXPORTED = "exportedBy"
"""The key of a descriptor that an export wrote; such a package is read-only."""
PARQUET = ".parquet"
DIGESTS = "digests"
"""The table of digests. A package may lack it; then nothing is noticed but by `gapbook derive --check`."""
TABLES = (*RAW_TABLES, *LOG_TABLES, *DERIVED_TABLES, DIGESTS)
"""The tables that gapbook has a schema of."""
INVENTED = "Invented data: no frame in this package is real"
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")
_NEVER = "*?[]{}="
"""Characters that some programs take for a pattern of paths, or for a value in the name of a folder."""
Signature = tuple[int, int, int]
"""Inode, size in bytes and time [ns]: they differ between versions of a file (`transactions.py`)."""


@dataclass(frozen=True)
class Package:
    """An opened data package.

    root: its folder.
    descriptor: what its datapackage.json holds.
    installed: whether it is the copy that came with an installation, which is read-only.
    foreign: whether it was only found around the current folder and is not known to be this user's; it is not written to.
    """

    root: Path
    descriptor: dict[str, Any]
    installed: bool = False
    foreign: bool = False

    @property
    def name(self) -> str:
        """The package's name."""
        return str(self.descriptor.get("name", ""))

    @property
    def version(self) -> str:
        """The package's version; empty if none is stated."""
        return str(self.descriptor.get("version", ""))

    @cached_property
    def resources(self) -> dict[str, dict[str, Any]]:
        """The descriptor's resources by name."""
        return {item["name"]: item for item in self.descriptor["resources"]}

    @cached_property
    def seen(self) -> dict[Path, Signature]:
        """The version of each file that was read from this package (`transactions.py`)."""
        return {}

    @property
    def is_changing(self) -> bool:
        """Whether its tables are being changed, or a change was interrupted."""
        return os.path.lexists(self.root / JOURNAL)

    def resource(self, table: str) -> dict[str, Any]:
        """The descriptor of one table. GapbookError if the package has no such table."""
        if table not in self.resources:
            raise fail(
                "no-table",
                f"the package has no table {table!r}",
                place=Place(DESCRIPTOR),
                expected="one of " + ", ".join(self.resources),
            )
        return self.resources[table]

    def path(self, table: str) -> Path:
        """The table's file, inside the package; it need not exist. GapbookError if it is in several files."""
        if isinstance(stated := self.resource(table).get("path"), list):
            fix = "Export the package anew in one piece, or derive with --out"
            raise fail("in-parts", f"the table {table} is in {len(stated)} files", place=Place(self.shown(table)), fix=fix)
        return inside(self.root, stated)

    def paths(self, table: str) -> list[Path]:
        """The table's files, inside the package: several if an export wrote it in partitions."""
        stated = self.resource(table).get("path")
        return [inside(self.root, part) for part in stated] if isinstance(stated, list) else [self.path(table)]

    def open(self, table: str) -> BufferedReader:
        """The table's file, open for reading. GapbookError as `files.open_file`."""
        return open_file(self.path(table), self.shown(table), self.root)

    def is_parquet(self, table: str) -> bool:
        """Whether the table's file is Parquet, as in an export; else it is CSV."""
        return all(path.suffix.lower() == PARQUET for path in self.paths(table))

    def read(self, table: str) -> bytes:
        """The whole of the table's file. GapbookError as `files.open_file`."""
        with self.open(table) as stream:
            return read_whole(stream, self.shown(table), LARGEST_TABLE)

    def shown(self, table: str) -> str:
        """The table's file, or the folder of its files, as people are shown it: relative to the package."""
        stated = self.resource(table)["path"]
        return os.path.dirname(stated[0]) if isinstance(stated, list) and stated else str(stated)

    def schema(self, table: str) -> Schema:
        """The table's schema. GapbookError if it is missing or malformed, or is not gapbook's own nor extends it."""
        if table not in self._cache:
            self._cache[table] = self._checked_schema(table)
        return self._cache[table]

    @cached_property
    def _cache(self) -> dict[str, Schema]:
        return {}

    def _checked_schema(self, table: str) -> Schema:
        stated = self.resource(table).get("schema")
        shown = stated if isinstance(stated, str) else DESCRIPTOR
        schema = _parsed(table, self.schema_descriptor(table), shown)
        own = own_root()
        if self.root != own and table in TABLES:
            must_be_sound(schema, shown)
            path = f"schema/{table}.json"
            must_extend(schema, _parsed(table, read_json(own / path, path, own), path), shown)
        return schema

    def schema_descriptor(self, table: str) -> dict[str, Any]:
        """The table's Table Schema as it is written, in the descriptor or in a file of its own."""
        stated = self.resource(table).get("schema")
        return stated if isinstance(stated, dict) else read_json(inside(self.root, stated), str(stated), self.root)


def _parsed(table: str, descriptor: dict[str, Any], shown: str) -> Schema:
    try:
        return parse_schema(table, descriptor)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, RecursionError, re.error) as error:
        raise fail("schema", f"the schema of {table} cannot be used: {error!r:.300}", place=Place(shown)) from None


def own_root() -> Path:
    """The folder of the package that came with the program: its checkout, else the installed copy."""
    return checkout_of_code() or Path(__file__).resolve().parents[1] / "package"


def checkout_of_code() -> Path | None:
    """The checkout that the program runs from; None if it is installed."""
    root = Path(__file__).resolve().parents[3]
    return root if is_checkout(root) else None


def is_checkout(root: Path) -> bool:
    """Whether a folder holds a data package and the program."""
    return os.path.lexists(root / DESCRIPTOR) and os.path.isdir(root / "derive" / "gapbook")


def inside(root: Path, relative: object) -> Path:
    """The file that `relative` names below `root`.

    GapbookError `path` for a URL, an absolute path, `..`, a link on the way, or a character that some programs take for a
    pattern.
    """
    if not isinstance(relative, str) or not relative:
        raise fail("path", "a resource needs one relative path", place=Place(DESCRIPTOR), found=repr(relative))
    expected = "a path relative to the package, inside its folder, without links"
    parts = relative.replace("\\", "/").split("/")
    if _SCHEME.match(relative) or relative.startswith(("/", "\\", "~")) or ".." in parts or "\0" in relative:
        raise fail("path", "a path leaves the package", place=Place(DESCRIPTOR), found=relative, expected=expected)
    if any(character in _NEVER for character in relative):
        expected = "a path without any of " + " ".join(_NEVER)
        raise fail("path", "a path can be read as a pattern", place=Place(DESCRIPTOR), found=relative, expected=expected)
    path = root
    for part in parts:
        path = path / part
        if path.is_symlink():
            raise fail("path", "a path goes through a link", place=Place(DESCRIPTOR), found=relative, expected=expected)
    return path


def read_json(path: Path, shown: str, root: Path) -> dict[str, Any]:
    """A JSON object from a file of the package at `root`. GapbookError, with the line, if it is missing or malformed."""
    try:
        text = read_bytes(path, shown, root, LARGEST_TEXT).decode("utf-8-sig")
        content = json.loads(text, parse_float=_finite, parse_constant=_finite)
        if "\\u" in text:
            json.dumps(content, ensure_ascii=False).encode()
    except GapbookError as error:
        if error.problems[0].code != "missing-file":
            raise
        raise fail("unreadable", f"{shown} cannot be read: the file is missing", place=Place(shown)) from None
    except UnicodeDecodeError:
        raise fail("encoding", f"{shown} is not UTF-8 text", place=Place(shown)) from None
    except UnicodeEncodeError:
        raise fail("encoding", f"{shown} has half of a character pair (a lone surrogate)", place=Place(shown)) from None
    except json.JSONDecodeError as error:
        raise fail("json", f"not JSON: {error.msg}", place=Place(shown, error.lineno)) from None
    except RecursionError:
        raise fail("json", "not JSON: nested too deeply", place=Place(shown)) from None
    except ValueError as error:  # a number that is not finite, or a whole number of more than 4300 digits
        raise fail("json", f"JSON that cannot be used: {error}", place=Place(shown)) from None
    if not isinstance(content, dict):
        raise fail("json", "not a JSON object", place=Place(shown, 1))
    return content


def _finite(text: str) -> float:
    if not math.isfinite(value := float(text)):
        raise ValueError(f"{text[:20]} is no finite number")
    return value


def must_be_writable(package: Package) -> None:
    """GapbookError if `package` is the read-only copy of an installation, or foreign."""
    if package.installed:
        raise fail(
            "read-only",
            "the package that came with the installation is read-only",
            fix="Copy or clone the data package and name it with --package PATH",
        )
    if EXPORTED in package.descriptor:
        told = "an export is read-only"
        raise fail("read-only", told, fix="Change the package it was made from, and export it again")
    if package.foreign:
        raise fail(
            "read-only",
            f"the package around the current folder, {package.root}, is not known to be yours",
            fix="Name it with --package PATH if it may be changed",
        )


def caution(package: Package) -> str | None:
    """INVENTED if a source of the package says that its data are invented, else None."""
    sources = package.descriptor.get("sources")
    stated = sources if isinstance(sources, list) else []
    titles = [str(item.get("title", "")) for item in stated if isinstance(item, dict)]
    return INVENTED if any("invented" in title.lower() for title in titles) else None
