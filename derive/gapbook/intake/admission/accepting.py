"""Warnings that a reviewer accepts, with a reason: what is left to accept, and the rows for exceptions.csv."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.intake.check import Checked
from gapbook.intake.findings import Finding
from gapbook.intake.layers import CONTRIBUTION
from gapbook.intake.rule import Rule, Severity
from gapbook.intake.study import Study
from gapbook.tables.faults import cell_problem
from gapbook.tables.package import Package
from gapbook.tables.schemas import Schema

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Acceptance:
    """What a reviewer accepts: the codes of warnings, why, and who says so (a contributor_id)."""

    codes: tuple[str, ...]
    reason: str
    who: str


@dataclass(frozen=True)
class Accepted:
    """The warnings nobody accepted yet, those accepted now, and the rows these add to exceptions.csv."""

    open: tuple[Finding, ...]
    now: tuple[Finding, ...]
    rows: tuple[tuple[str, ...], ...]

    def records(self) -> list[bytes]:
        """The rows as CSV records."""
        return [_record(row) for row in self.rows]


def must_be_acceptable(acceptance: Acceptance, rules: Sequence[Rule]) -> None:
    """GapbookError for a code that is no warning's."""
    severity = {rule.code: rule.severity for rule in rules}
    for code in acceptance.codes:
        if severity.get(code) is not Severity.warning:
            found = "no rule's code" if code not in severity else f"the code of {_of(severity[code])}"
            raise fail("not-a-warning", f"{code} cannot be accepted", found=found, expected="the code of a warning")


def _of(severity: Severity) -> str:
    return "an error" if severity is Severity.error else "a note"


def accept(package: Package, checked: Checked, acceptance: Acceptance | None, today: datetime.date) -> Accepted:
    """Sort the warnings of a check by whether they are accepted.

    An exception that comes with the contribution itself counts only if the reviewer accepts its code as well; its own
    reason then stands. GapbookError where reason or person cannot be used.
    """
    codes = () if acceptance is None else acceptance.codes
    brought = _brought(checked.study)
    warnings = [finding for finding in checked.report.findings if finding.severity is Severity.warning]
    notes = [finding for finding in checked.report.findings if finding.severity is Severity.note]
    excused = [replace(note, severity=Severity.warning) for note in notes if (note.code, note.row_key) in brought]
    now = [finding for finding in (*warnings, *excused) if finding.code in codes]
    open_ = [finding for finding in (*warnings, *excused) if finding.code not in codes]
    wanted = dict.fromkeys((finding.code, finding.row_key) for finding in warnings if finding.code in codes)
    rows: list[tuple[str, ...]] = []
    if acceptance is not None:
        schema = package.schema("exceptions")
        rows = [_row(schema, code, key, acceptance, today) for code, key in wanted]
        sample = _row(schema, "code", "key", acceptance, today)  # what is said must be sound even if nothing needs it
        _must_be_sound(package, checked.study, acceptance.who, [sample, *rows])
    return Accepted(tuple(open_), tuple(now), tuple(rows))


def _brought(study: Study) -> set[tuple[str, str]]:
    """Rule and row of the exceptions that stand in the contribution and not in the catalogue."""
    if "exceptions" not in study.tables:
        return set()
    rows = [(str(row["rule"]), str(row["row_key"])) for row in study.tables["exceptions"].to_pylist()]
    own = (study.read.layer["exceptions"] == CONTRIBUTION).tolist()
    held = {row for row, mine in zip(rows, own, strict=True) if not mine}
    return {row for row, mine in zip(rows, own, strict=True) if mine} - held


def _row(schema: Schema, code: str, key: str, acceptance: Acceptance, today: datetime.date) -> tuple[str, ...]:
    """A row of exceptions.csv; fields a package has besides stay blank."""
    said = {"rule": code, "row_key": key, "reason": acceptance.reason, "who": acceptance.who, "decided_on": today.isoformat()}
    return tuple(said.get(name, "") for name in schema.names)


def _must_be_sound(package: Package, study: Study, who: str, rows: Sequence[tuple[str, ...]]) -> None:
    people = set(study.column("contributors", "contributor_id"))
    if who not in people:
        expected = "one of " + ", ".join(sorted(str(one) for one in people))
        raise fail("unknown-contributor", "no such contributor", found=who, expected=expected)
    schema = package.schema("exceptions")
    for row in rows:
        for text, field in zip(row, schema.fields, strict=True):
            formula = field.type == "string" and text.startswith(_FORMULA)
            if formula or not text.isprintable() or cell_problem(text, field, schema.missing):
                place = Place(package.shown("exceptions"), column=field.name)
                raise GapbookError(Problem("exception", "this cannot stand in an exception", place, repr(text), field.says()))


def _record(row: Sequence[str]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(row)
    return out.getvalue().encode()
