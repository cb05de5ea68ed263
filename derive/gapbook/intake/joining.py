"""A package with a contribution joined to it, to be asked before it is admitted: a copy, derived anew. Nothing of either is
changed.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gapbook.errors import fail
from gapbook.intake.additions import additions, appended
from gapbook.intake.check import check_layers
from gapbook.intake.layers import contribution_layer
from gapbook.tables.derived import derive
from gapbook.tables.files import replacing
from gapbook.tables.opening import open_package
from gapbook.tables.package import DERIVED_TABLES, DESCRIPTOR, DIGESTS, EXPORTED, Package


@contextmanager
def joined(package: Package, folder: Path) -> Iterator[Package]:
    """A copy of the package with the rows of the contribution in `folder`, as long as the context lasts.

    GapbookError if the contribution has errors, or if the package's tables are Parquet.
    """
    with tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        yield join(package, folder, Path(scratch) / "package")


def join(package: Package, folder: Path, into: Path) -> Package:
    """The same, in a folder that is made."""
    if EXPORTED in package.descriptor:
        fix = "Name the package it was made from"
        raise fail("read-only", "a contribution is not joined to an export", found=str(package.root), fix=fix)
    checked = check_layers(package, contribution_layer(folder))
    if checked.report.errors:
        found = f"{len(checked.report.errors)} errors"
        raise fail("not-sound", f"{folder} has errors, so it is not joined", found=found, fix=f"See gapbook check {folder}")
    records = additions(checked.context).records
    _copied(package, into)
    copy = open_package(into)
    for table, added in records.items():
        path = copy.path(table)
        with replacing(path) as stream:
            appended(stream, path, copy.schema(table).names, added)
    derive(copy)
    return copy


def _copied(package: Package, into: Path) -> None:
    """Write descriptor, schemas and raw tables into a new folder."""
    resources = []
    for name, stated in package.resources.items():
        if name == DIGESTS:
            continue
        path = into / package.path(name).relative_to(package.root)
        path.parent.mkdir(parents=True, exist_ok=True)
        if name not in DERIVED_TABLES and package.path(name).exists():
            path.write_bytes(package.read(name))
        resources.append({**stated, "schema": package.schema_descriptor(name)})
    text = json.dumps({**package.descriptor, "resources": resources}, ensure_ascii=False)
    (into / DESCRIPTOR).write_text(text, encoding="utf-8")
