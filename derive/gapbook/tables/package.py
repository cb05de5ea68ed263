"""The data package on disk: which one is meant, its descriptor, its schemas, and paths that stay inside it."""

from __future__ import annotations

import json
import os
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.schemas import Schema, parse_schema

DESCRIPTOR = "datapackage.json"
ENVIRONMENT = "GAPBOOK_PACKAGE"
JOURNAL = ".gapbook/journal.json"
"""Stands while tables of the package are being swapped (`swapping.py`)."""
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
DERIVED_TABLES = ("beds", "scores", "handling", "mechanics")
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")
Signature = tuple[int, int, int]
"""What tells one version of a file from another (`steady.py`)."""


@dataclass(frozen=True)
class Package:
    """An opened data package: its root folder, its descriptor, and whether it may be written to."""

    root: Path
    descriptor: dict[str, Any]
    installed: bool = False

    @property
    def name(self) -> str:
        """The package's name."""
        return str(self.descriptor.get("name", ""))

    @property
    def version(self) -> str:
        """The package's version, empty where none is stated."""
        return str(self.descriptor.get("version", ""))

    @cached_property
    def resources(self) -> dict[str, dict[str, Any]]:
        """The descriptor's resources by name."""
        return {item["name"]: item for item in self.descriptor["resources"]}

    @cached_property
    def seen(self) -> dict[Path, Signature]:
        """Which version of each table's file was read of this package (`steady.py`)."""
        return {}

    @property
    def is_changing(self) -> bool:
        """Whether a change of its tables is under way, or was broken off."""
        return os.path.exists(self.root / JOURNAL)

    def resource(self, table: str) -> dict[str, Any]:
        """The descriptor of one table; GapbookError where the package has no such table."""
        if table not in self.resources:
            raise fail(
                "no-table",
                f"the package has no table {table!r}",
                place=Place(DESCRIPTOR),
                expected="one of " + ", ".join(self.resources),
            )
        return self.resources[table]

    def path(self, table: str) -> Path:
        """The table's file, inside the package; it need not exist."""
        return inside(self.root, self.resource(table).get("path"))

    def shown(self, table: str) -> str:
        """The table's file as people are shown it: relative to the package."""
        return str(self.resource(table)["path"])

    def schema(self, table: str) -> Schema:
        """The table's schema; GapbookError where it is missing or malformed."""
        return self._schemas(table)

    @cached_property
    def _cache(self) -> dict[str, Schema]:
        return {}

    def _schemas(self, table: str) -> Schema:
        if table not in self._cache:
            stated = self.resource(table).get("schema")
            descriptor = stated if isinstance(stated, dict) else read_json(inside(self.root, stated), str(stated))
            try:
                self._cache[table] = parse_schema(table, descriptor)
            except (KeyError, TypeError, ValueError, AttributeError, re.error) as error:
                place = Place(stated if isinstance(stated, str) else DESCRIPTOR)
                raise fail("schema", f"the schema of {table} cannot be used: {error!r}", place=place) from None
        return self._cache[table]


def inside(root: Path, relative: object) -> Path:
    """The file `relative` names below `root`. Refuses URLs, absolute paths, `..`, and links on the way."""
    if not isinstance(relative, str) or not relative:
        raise fail("path", "a resource needs one relative path", place=Place(DESCRIPTOR), found=repr(relative))
    expected = "a path relative to the package, inside its folder, without links"
    parts = relative.replace("\\", "/").split("/")
    if _SCHEME.match(relative) or relative.startswith(("/", "\\", "~")) or ".." in parts or "\0" in relative:
        raise fail("path", "a path leaves the package", place=Place(DESCRIPTOR), found=relative, expected=expected)
    path = root
    for part in parts:
        path = path / part
        if path.is_symlink():
            raise fail("path", "a path goes through a link", place=Place(DESCRIPTOR), found=relative, expected=expected)
    return path


def read_json(path: Path, shown: str) -> dict[str, Any]:
    """A JSON object from a file; GapbookError, with the line, where it is missing or malformed."""
    try:
        found = json.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise fail("unreadable", f"{shown} cannot be read: {error.strerror}", place=Place(shown)) from None
    except UnicodeDecodeError:
        raise fail("encoding", f"{shown} is not UTF-8 text", place=Place(shown)) from None
    except json.JSONDecodeError as error:
        raise fail("json", f"not JSON: {error.msg}", place=Place(shown, error.lineno)) from None
    except RecursionError:
        raise fail("json", "not JSON: nested too deeply", place=Place(shown)) from None
    if not isinstance(found, dict):
        raise fail("json", "not a JSON object", place=Place(shown, 1))
    return found


def open_package(path: str | os.PathLike[str] | None = None) -> Package:
    """The package at `path` (its folder or its datapackage.json); without one, that of the environment variable
    GAPBOOK_PACKAGE, of the checkout worked in, or the copy that came with the installation.
    """
    stated = path if path is not None else os.environ.get(ENVIRONMENT) or None
    if stated is not None:
        root = Path(stated)
        return _load(root.parent if root.name == DESCRIPTOR else root)
    for checkout in (_checkout_around(Path.cwd()), _checkout_of_code()):
        if checkout is not None:
            return _load(checkout)
    return _load(_installed_copy(), installed=True)


def _load(root: Path, installed: bool = False) -> Package:
    if not (root / DESCRIPTOR).is_file():
        raise fail(
            "no-package",
            f"no data package at {root}",
            expected=f"a folder with a {DESCRIPTOR}",
            fix=f"Point --package or {ENVIRONMENT} at one",
        )
    if (root / DESCRIPTOR).is_symlink():
        raise fail("path", "the descriptor is a link", place=Place(DESCRIPTOR))
    descriptor = read_json(root / DESCRIPTOR, DESCRIPTOR)
    resources = descriptor.get("resources")
    if not isinstance(resources, list) or not all(
        isinstance(item, dict) and isinstance(item.get("name"), str) for item in resources
    ):
        raise fail("descriptor", "the descriptor needs a list of named resources", place=Place(DESCRIPTOR))
    package = Package(root, descriptor, installed)
    for table in package.resources:
        package.path(table)
    if not installed and package.is_changing:
        from gapbook.tables.swapping import recover

        recover(package)
    return package


def _checkout_of_code() -> Path | None:
    root = Path(__file__).resolve().parents[3]
    return root if (root / DESCRIPTOR).is_file() and (root / "derive" / "gapbook").is_dir() else None


def _checkout_around(folder: Path) -> Path | None:
    for root in (folder, *folder.parents):
        if (root / DESCRIPTOR).is_file() and (root / "derive" / "gapbook").is_dir():
            return root
    return None


def _installed_copy() -> Path:
    return Path(__file__).resolve().parents[1] / "package"


def own_package() -> Package:
    """The package that came with the program: that of its checkout, else the installed copy."""
    checkout = _checkout_of_code()
    return _load(checkout) if checkout is not None else _load(_installed_copy(), installed=True)


def must_be_writable(package: Package) -> None:
    """GapbookError if `package` is the read-only copy of an installation."""
    if package.installed:
        raise fail(
            "read-only",
            "the package that came with the installation is read-only",
            fix="Copy or clone the data package and name it with --package PATH",
        )


__all__ = ["DERIVED_TABLES", "RAW_TABLES", "GapbookError", "Package", "inside", "must_be_writable", "open_package"]
