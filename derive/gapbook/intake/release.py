"""A release: the package checked, its version stated, a changelog from the logs, a citation and the export.

The export is made first, then the files beside the descriptor, and the descriptor last: with it the version is released. If it
is interrupted before, the same release can be made again.
"""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

from gapbook.errors import GapbookError, Place, fail
from gapbook.intake.check import Say, check_layers
from gapbook.intake.log import ADMISSIONS, CORRECTIONS, all_rows
from gapbook.intake.rule import Report
from gapbook.intake.rules.descriptor import VERSION
from gapbook.signs import markdown
from gapbook.tables.drift import Drift, drift
from gapbook.tables.export import CITATION, Author, citation, export
from gapbook.tables.files import LARGEST_TEXT, open_file, read_bytes, replacing
from gapbook.tables.locking import locked
from gapbook.tables.package import DESCRIPTOR, Package, must_be_writable
from gapbook.tables.reader import read_table
from gapbook.tables.rewriting import Row, rows_with

CHANGELOG = "CHANGELOG.md"
TITLE = "# Changelog"
NAMED = 200
"""Things of one kind that a changelog lists; of more it says how many."""


@dataclass(frozen=True)
class Release:
    """What became of a release.

    version: its version
    report: what the check found
    drift: rows of derived tables that do not follow from the catalogue
    rows: rows exported, by table; None if it was refused
    changes: this version's part of the changelog
    """

    version: str
    report: Report
    drift: tuple[Drift, ...] = ()
    rows: Mapping[str, int] | None = None
    changes: str = ""

    @property
    def is_refused(self) -> bool:
        """Whether errors or stale tables stand in its way."""
        return self.rows is None

    def to_json(self) -> dict[str, Any]:
        """The release with the keys that programs rely on."""
        return {
            "version": self.version,
            "status": "refused" if self.is_refused else "released",
            "errors": [finding.to_json() for finding in self.report.errors],
            "drift": [one.to_json() for one in self.drift],
            "rows": dict(self.rows or {}),
            "changes": self.changes,
        }


def release(
    package: Package,
    version: str,
    out: Path,
    since: Path | None = None,
    today: datetime.date | None = None,
    say: Say | None = None,
) -> Release:
    """Release a version of the package, or say what stands in its way; then nothing is written.

    package: what is released
    version: MAJOR.MINOR.PATCH, above the one that it has
    out: the folder of the export, as of `export`
    since: the export of the version before, with which beds are compared; None: `out`, if it holds one
    today: the day
    say: is told what is being done

    GapbookError `version`, `read-only`, `locked`, `rule-broken`, and those of `export`.
    """
    day, tell = today or datetime.date.today(), say or (lambda text: None)
    must_be_writable(package)
    _must_rise(package.version, version)
    with locked(package.root, f"gapbook release {version}"):
        report = check_layers(package, None, today=day, say=tell).report
        if report.broken:
            raise fail("rule-broken", "a rule could not be run", found=report.broken[0], fix="Please report it")
        if report.errors:
            return Release(version, report)
        tell("deriving")
        if drifted := drift(package):
            return Release(version, report, tuple(drifted))
        changes = _changes(package, version, day, since if since is not None else out)
        stated = {**package.descriptor, "version": version, "created": f"{day.isoformat()}T00:00:00Z"}
        named, people = replace(package, descriptor=stated), authors(package)
        tell("exporting")
        rows = export(named, out, people)
        _write(package.root / CHANGELOG, _with_changes(package.root, version, changes))
        _write(package.root / CITATION, citation(named, people))
        _write(package.root / DESCRIPTOR, json.dumps(stated, ensure_ascii=False, indent=2) + "\n")
    return Release(version, report, (), rows, changes)


def _must_rise(before: str, version: str) -> None:
    if not VERSION.fullmatch(version):
        raise fail("version", "this is no version", found=version, expected="MAJOR.MINOR.PATCH, such as 1.0.0")
    if VERSION.fullmatch(before) and _order(version) <= _order(before):
        raise fail("version", "the version does not rise", found=version, expected=f"one above {before}")


def _order(version: str) -> tuple[tuple[int, ...], bool, str]:
    """What versions are ordered by; one with a suffix after a hyphen comes before the one without."""
    numbers, _, suffix = version.partition("+")[0].partition("-")
    return tuple(int(number) for number in numbers.split(".")), not suffix, suffix


def authors(package: Package) -> list[Author]:
    """The package's contributors as a citation names them."""
    return [Author(row["name"], row.get("orcid", "")) for row in rows_with(package, "contributors", [""])]


def _write(path: Path, text: str) -> None:
    with replacing(path) as stream:
        stream.write(text.encode())


# The changelog


class _Earlier(NamedTuple):
    """Tables of the export of the version before, by name; None if there is none."""

    beds: pa.Table | None = None
    frames: pa.Table | None = None
    corrections: pa.Table | None = None
    admissions: pa.Table | None = None


def _earlier(folder: Path) -> _Earlier:
    """What an earlier export holds; nothing if the folder is none."""
    return _Earlier(*(_parquet(folder / "data" / f"{name}.parquet", folder) for name in _Earlier._fields))


def _parquet(path: Path, folder: Path) -> pa.Table | None:
    if not path.exists():
        return None
    try:
        with open_file(path, str(path), folder) as stream:
            return pq.read_table(stream)
    except (pa.ArrowException, OSError) as error:
        raise fail("unreadable", f"the earlier export cannot be read: {error}", place=Place(str(path))) from None


def _changes(package: Package, version: str, day: datetime.date, since: Path) -> str:
    """This version's part of the changelog."""
    earlier = _earlier(since)
    lines = [f"## {version} ({day.isoformat()})", ""]
    lines += _listed("Frames added", _added(package, "frames", "frame_id", earlier.frames))
    lines += _listed("Beds added", _added(package, "beds", "specimen_id", earlier.beds))
    lines += _listed("Beds changed by more than their standard uncertainty", _moved(package, earlier.beds))
    fresh = _fresh(all_rows(package, CORRECTIONS), earlier.corrections, ("table", "row_key", "decided_on", "no"))
    lines += _listed("Withdrawn", [_told(row) for row in fresh if row["what"] == "withdrawn"])
    lines += _listed("Corrected", [_told(row) for row in fresh if row["what"] != "withdrawn"])
    key = ("digest", "admitted_on", "no", "table", "subject")
    admitted = _fresh(all_rows(package, ADMISSIONS), earlier.admissions, key)
    lines += _listed("Contributions admitted", list(dict.fromkeys(_contribution(row) for row in admitted)))
    if earlier.beds is None:
        lines += ["There was no export of an earlier version to compare beds with.", ""]
    elif len(lines) == 2:
        lines += ["Nothing that the logs or the beds show.", ""]
    return "\n".join(lines).rstrip() + "\n"


def _listed(title: str, items: Sequence[str]) -> list[str]:
    if not items:
        return []
    more = [f"- and {len(items) - NAMED} more"] if len(items) > NAMED else []
    return [f"### {title}", "", *(f"- {markdown(item)}" for item in items[:NAMED]), *more, ""]


def _added(package: Package, table: str, column: str, before: pa.Table | None) -> list[str]:
    known = set() if before is None else set(before[column].to_pylist())
    return sorted({str(one) for one in read_table(package, table)[column].to_pylist()} - known)


def _moved(package: Package, before: pa.Table | None) -> list[str]:
    """The beds whose openness in the centre differs by more than its standard uncertainty from what was released before."""
    if before is None:
        return []
    columns = ["specimen_id", "openness_centre", "u_openness_centre"]
    old = {row["specimen_id"]: row["openness_centre"] for row in before.select(columns).to_pylist()}
    moved = []
    for row in read_table(package, "beds").select(columns).to_pylist():
        then, now, u = old.get(row["specimen_id"]), row["openness_centre"], row["u_openness_centre"]
        if then is not None and now is not None and abs(now - then) > u:
            moved.append(f"{row['specimen_id']}: openness in the centre {then:g} → {now:g} (u {u:.2g})")
    return sorted(moved)


def _fresh(rows: Sequence[Row], before: pa.Table | None, key: Sequence[str]) -> list[Row]:
    """The rows of a log that the version before does not have."""
    known = set()
    if before is not None:
        known = {tuple(str(one[name]) for name in key) for one in before.select(list(key)).to_pylist()}
    return [row for row in rows if tuple(row[name] for name in key) not in known]


def _told(row: Row) -> str:
    said = f" {row['column']}: {row['old'] or 'nothing'} → {row['new'] or 'nothing'}" if row["what"] == "corrected" else ""
    said = f" {row['old']} → {row['new']}" if row["what"] in ("renamed", "merged") else said
    return f"{row['table']} {row['row_key']} {row['what']}{said}: {row['reason']} ({row['who']}, {row['decided_on']})"


def _contribution(row: Row) -> str:
    by = f" by {row['who']}" if row["who"] else ""
    return f"{row['folder'] or '(unnamed)'} ({row['digest'][:12]}) on {row['admitted_on']}{by}"


def _with_changes(root: Path, version: str, changes: str) -> str:
    """The changelog with this version's part at its top, in place of one that an interrupted release left."""
    try:
        text = read_bytes(root / CHANGELOG, CHANGELOG, root, LARGEST_TEXT).decode()
    except GapbookError as error:
        if error.problems[0].code != "missing-file":
            raise
        text = TITLE
    except UnicodeDecodeError:
        raise fail("encoding", "it is not UTF-8 text", place=Place(CHANGELOG)) from None
    head, *parts = re.split(r"(?m)^(?=## )", text)
    kept = [part.rstrip() + "\n" for part in parts if not part.startswith(f"## {version} (")]
    return (head.strip() or TITLE) + "\n\n" + "\n".join([changes, *kept])
