"""Warnings that a reviewer accepts, with a reason: what is left to accept, and the rows for exceptions.csv."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.intake.check import Checked
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE
from gapbook.intake.rule import Rule
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
    """The warnings nobody accepted yet, those accepted now, the rows these add to exceptions.csv, and the codes under which
    there was nothing to accept.
    """

    open: tuple[Finding, ...]
    now: tuple[Finding, ...]
    rows: tuple[tuple[str, ...], ...]
    unused: tuple[str, ...] = ()

    def records(self) -> list[bytes]:
        """The rows as CSV records."""
        return [_record(row) for row in self.rows]


def must_be_acceptable(acceptance: Acceptance, rules: Sequence[Rule]) -> None:
    """GapbookError for a code that is no warning's, and for a reason without a word in it."""
    severity = {rule.code: rule.severity for rule in rules}
    for code in acceptance.codes:
        if severity.get(code) is not Severity.warning:
            found = "no rule's code" if code not in severity else f"the code of {_of(severity[code])}"
            raise fail("not-a-warning", f"{code} cannot be accepted", found=found, expected="the code of a warning")
    if not any(sign.isalpha() for sign in acceptance.reason):
        raise fail("exception", "this is no reason", found=repr(acceptance.reason), expected="why it is right, in words")


def _of(severity: Severity) -> str:
    return "an error" if severity is Severity.error else "a note"


def accept(package: Package, checked: Checked, acceptance: Acceptance | None, today: datetime.date) -> Accepted:
    """Sort the warnings of a check by whether they are accepted.

    An exception that comes with the contribution itself counts only if the reviewer accepts its code as well; its own
    reason then stands. GapbookError where reason or person cannot be used.
    """
    codes = () if acceptance is None else acceptance.codes
    warnings = [finding for finding in checked.report.findings if finding.severity is Severity.warning]
    now = [finding for finding in warnings if finding.code in codes]
    open_ = [finding for finding in warnings if finding.code not in codes]
    brought = _listed(checked.context)
    wanted = dict.fromkeys(key for finding in now if (key := (finding.code, finding.row_key)) not in brought)
    rows: list[tuple[str, ...]] = []
    if acceptance is not None:
        schema = package.schema("exceptions")
        rows = [_row(schema, code, key, acceptance, today) for code, key in wanted]
        sample = _row(schema, "code", "key", acceptance, today)  # what is said must be sound even if nothing needs it
        _must_be_sound(package, checked.context, acceptance.who, [sample, *rows])
    unused = dict.fromkeys(codes).keys() - {finding.code for finding in now}
    return Accepted(tuple(open_), tuple(now), tuple(rows), tuple(sorted(unused)))


def _listed(context: CheckContext) -> set[tuple[str, str]]:
    """Rule and row of every exception; of what is still a warning, only the contribution itself can have brought one."""
    if "exceptions" not in context.tables:
        return set()
    return {(str(row["rule"]), str(row["row_key"])) for row in context.tables["exceptions"].to_pylist()}


def _row(schema: Schema, code: str, key: str, acceptance: Acceptance, today: datetime.date) -> tuple[str, ...]:
    """A row of exceptions.csv; fields a package has besides stay blank."""
    reason = acceptance.reason.strip()
    said = {"rule": code, "row_key": key, "reason": reason, "who": acceptance.who, "decided_on": today.isoformat()}
    return tuple(said.get(name, "") for name in schema.names)


def _must_be_sound(package: Package, context: CheckContext, who: str, rows: Sequence[tuple[str, ...]]) -> None:
    held = (context.read.layer["contributors"] == CATALOGUE).tolist()
    people = {str(one) for one, own in zip(context.column("contributors", "contributor_id"), held, strict=True) if own}
    if who not in people:
        expected = "one of " + ", ".join(sorted(people)) if people else "somebody whose row was admitted before"
        raise fail("unknown-contributor", "the catalogue has no such contributor", found=who, expected=expected)
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
