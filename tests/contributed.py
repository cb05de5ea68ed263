"""Contributions written as people write them, packages they are meant for, and rules made up for the tests."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from damaged import good
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from gapbook.tables.package import JOURNAL, Package
from small import NAMES, Small

BOM = "\ufeff"


def own() -> Small:
    """A contribution's rows: none yet."""
    small = Small()
    for rows in small.tables.values():
        rows.clear()
    return small


def sent(small: Small, folder: Path, end: str = "\n", bom: bool = False, last: bool = True) -> Path:
    """Write the tables that have rows: with these line ends, a byte-order mark or none, and the last line ended or not."""
    folder.mkdir(parents=True, exist_ok=True)
    for table, rows in small.tables.items():
        if not rows:
            continue
        out = io.StringIO()
        writer = csv.DictWriter(out, NAMES[table], lineterminator=end)
        writer.writeheader()
        writer.writerows(rows)
        text = (BOM if bom else "") + out.getvalue()
        (folder / f"{table}.csv").write_bytes((text if last else text.removesuffix(end)).encode())
    return folder


def even_bed(frame: str, copy: str, main: float = 12.5, cross: float = 12.5, **more: object) -> Small:
    """A new frame with one evenly strung copy, read as gaps."""
    small = own()
    small.frame(frame)
    small.copy(copy, frame)
    small.run(copy, "main", [main] * 15, **more)
    small.run(copy, "cross", [cross] * 18, **more)
    return small


def session(copy: str = "one-a", gap: float = 12.6, **more: object) -> Small:
    """One more reading of a copy of the good package, by somebody else on another day."""
    small = own()
    row = {"contributor_id": "ole", "instrument_id": "cal-2", "taken_on": "2026-03-09"} | more
    small.run(copy, "main", [gap] * 15, **row)
    small.run(copy, "cross", [gap] * 18, **row)
    return small


def package_in(path: Path, small: Small | None = None) -> Package:
    """A small package, derived, in a new folder."""
    package = open_package((small or good()).write(path))
    derive(package)
    return package


def state(root: Path) -> dict[str, bytes]:
    """Every file of a package but those of its lock, by name."""
    return {
        str(path.relative_to(root)): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file() and ".gapbook" not in path.parts
    }


def _large(context: CheckContext, above: float) -> Iterator[Finding]:
    value = np.asarray(context.tables["spacings"]["value"])
    for row in np.flatnonzero((value > above) & context.is_own("spacings")).tolist():
        yield Finding("spacings", "value", f"{value[row]:g} mm", f"at most {above:g} mm", about="x", rows=(row,))


def _breaks(context: CheckContext) -> Iterator[Finding]:
    raise ZeroDivisionError("on purpose")
    yield


def rule(code: str, severity: Severity, above: float) -> Rule:
    """A rule against spacings above a value."""
    return Rule(code, severity, "a wide gap", "made up", "made up", "Read it again", lambda context: _large(context, above))


WIDE = rule("wide", Severity.warning, 14.0)
TOO_WIDE = rule("too-wide", Severity.error, 20.0)
BROKEN = Rule("breaks", Severity.warning, "a rule that breaks", "made up", "made up", "", _breaks)


def journal(package: Package, **tables: bytes) -> Path:
    """A change of these tables that was decided and broken off before the first swap, written as the journal's form has it."""
    entries = []
    for table, text in tables.items():
        path = package.path(table)
        path.with_name(path.name + ".new").write_bytes(text)
        entries.append({"path": package.shown(table), "size": len(text), "sha256": hashlib.sha256(text).hexdigest()})
    path = package.root / JOURNAL
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"format": 1, "tables": entries}), encoding="utf-8")
    return path
