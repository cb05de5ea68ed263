"""What a reviewer accepts: which warnings, why, and who says so; each becomes a row of exceptions.csv."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.intake.check import Checked
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE
from gapbook.intake.rule import Rule
from gapbook.tables.cells import cell_problem
from gapbook.tables.package import Package
from gapbook.tables.rewriting import rows_with
from gapbook.tables.schemas import Schema

NAMED = 5
"""Rows that are named if a place means several."""


class One(NamedTuple):
    """One finding that is accepted.

    code: its rule's code
    place: its row_key, or so many parts of it, in order and from the first, that no other finding of the code has them
    reason: why it is right; empty: as the acceptance says
    """

    code: str
    place: str
    reason: str = ""

    def __str__(self) -> str:
        return f"{self.code}@{self.place}"


@dataclass(frozen=True)
class Acceptance:
    """What a reviewer accepts.

    codes: codes of which every warning is accepted
    reason: why they are right
    who: who says so (a contributor_id)
    ones: single warnings that are accepted
    """

    codes: tuple[str, ...]
    reason: str
    who: str
    ones: tuple[One, ...] = ()


@dataclass(frozen=True)
class Accepted:
    """The warnings of a check, sorted by whether they are accepted.

    open: those that nobody accepted yet
    now: those accepted now
    own: those of them that are about readings of who accepts them
    rows: the rows of exceptions.csv that those accepted now become
    unused: what the reviewer accepts although no warning is called so
    """

    open: tuple[Finding, ...]
    now: tuple[Finding, ...]
    own: tuple[Finding, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    unused: tuple[str, ...] = ()

    def records(self) -> list[bytes]:
        """The rows as CSV records."""
        return [_record(row) for row in self.rows]


def must_be_acceptable(acceptance: Acceptance, rules: Sequence[Rule]) -> None:
    """GapbookError if a code is not the code of a warning, or if a reason holds no word."""
    severity = {rule.code: rule.severity for rule in rules}
    for code in (*acceptance.codes, *(one.code for one in acceptance.ones)):
        if severity.get(code) is not Severity.warning:
            found = "no rule's code" if code not in severity else f"the code of {_of(severity[code])}"
            raise fail("not-a-warning", f"{code} cannot be accepted", found=found, expected="the code of a warning")
    for reason in (acceptance.reason, *(one.reason for one in acceptance.ones if one.reason)):
        if not any(sign.isalpha() for sign in reason):
            raise fail("exception", "this is no reason", found=repr(reason), expected="why it is right, in words")


def _of(severity: Severity) -> str:
    return "an error" if severity is Severity.error else "a note"


def accept(package: Package, checked: Checked, acceptance: Acceptance | None, today: datetime.date) -> Accepted:
    """Sort the warnings of a check by whether they are accepted.

    package: what the contribution is meant for
    checked: its check
    acceptance: what the reviewer accepts; None: nothing
    today: the day on which it is accepted

    A contribution may bring an exception for its own warning. It counts only if the reviewer accepts the warning too; then
    the contribution's reason is kept and no second row is added. GapbookError if a place means several warnings, or if reason
    or person cannot be used.
    """
    warnings = [finding for finding in checked.report.findings if finding.severity is Severity.warning]
    if acceptance is None:
        return Accepted(tuple(warnings), ())
    reasons, unused = _reasons(warnings, acceptance)
    now = [finding for finding in warnings if (finding.code, finding.row_key) in reasons]
    open_ = [finding for finding in warnings if (finding.code, finding.row_key) not in reasons]
    brought = _listed(checked.context)
    wanted = dict.fromkeys(key for finding in now if (key := (finding.code, finding.row_key)) not in brought)
    schema = package.schema("exceptions")
    rows = [_row(schema, code, key, reasons[code, key], acceptance.who, today) for code, key in wanted]
    sample = _row(schema, "code", "key", acceptance.reason, acceptance.who, today)  # it is checked even if no row is added
    _must_be_sound(package, checked.context, acceptance.who, [sample, *rows])
    own = [finding for finding in now if finding.contributor == acceptance.who]
    return Accepted(tuple(open_), tuple(now), tuple(own), tuple(rows), unused)


def _reasons(warnings: Sequence[Finding], acceptance: Acceptance) -> tuple[dict[tuple[str, str], str], tuple[str, ...]]:
    """Why each warning, by code and row, is accepted; and what of the acceptance no warning is called."""
    keys = list(dict.fromkeys((finding.code, finding.row_key) for finding in warnings))
    reasons = {key: acceptance.reason for key in keys if key[0] in acceptance.codes}
    unused = set(acceptance.codes) - {code for code, _ in keys}
    for one in acceptance.ones:
        meant = [key for code, key in keys if code == one.code and is_at(key, one.place)]
        if one.place in meant:
            meant = [one.place]
        if len(meant) > 1:
            expected = "one of " + ", ".join(f"{one.code}@{key}" for key in meant[:NAMED]) + (" ..." * (len(meant) > NAMED))
            raise fail("ambiguous-place", f"{one} means {len(meant)} findings", found=one.place, expected=expected)
        if not meant:
            unused.add(str(one))
        reasons |= {(one.code, key): one.reason or acceptance.reason for key in meant}
    return reasons, tuple(sorted(unused))


def is_at(row_key: str, place: str) -> bool:
    """Whether a place means a row: its parts are parts of the row's key, in order, and the first is the key's first."""
    parts, wanted = row_key.split("/"), place.split("/")
    left = iter(parts)
    return parts[0] == wanted[0] and all(one in left for one in wanted)


def must_be_known(package: Package, who: str) -> None:
    """GapbookError if the catalogue has no contributor `who`."""
    people = sorted(row["contributor_id"] for row in rows_with(package, "contributors", [""]))
    if who not in people:
        expected = "one of " + ", ".join(people) if people else "somebody whose row was admitted before"
        raise fail("unknown-contributor", "the catalogue has no such contributor", found=who, expected=expected)


def _listed(context: CheckContext) -> set[tuple[str, str]]:
    """Rule and row of every exception. If one belongs to a finding that is still a warning, the contribution brought it:
    the catalogue's own exceptions have turned their warnings into notes.
    """
    if "exceptions" not in context.tables:
        return set()
    return {(str(row["rule"]), str(row["row_key"])) for row in context.tables["exceptions"].to_pylist()}


def _row(schema: Schema, code: str, key: str, reason: str, who: str, today: datetime.date) -> tuple[str, ...]:
    """A row of exceptions.csv. Fields that only this package has stay blank."""
    said = {"rule": code, "row_key": key, "reason": reason.strip(), "who": who, "decided_on": today.isoformat()}
    return tuple(said.get(name, "") for name in schema.names)


def _must_be_sound(package: Package, context: CheckContext, who: str, rows: Sequence[tuple[str, ...]]) -> None:
    """GapbookError if the catalogue has no contributor `who`, or if a cell of `rows` may not stand in exceptions.csv."""
    held = (context.read.layer["contributors"] == CATALOGUE).tolist()
    people = {str(one) for one, own in zip(context.column("contributors", "contributor_id"), held, strict=True) if own}
    if who not in people:
        expected = "one of " + ", ".join(sorted(people)) if people else "somebody whose row was admitted before"
        raise fail("unknown-contributor", "the catalogue has no such contributor", found=who, expected=expected)
    schema = package.schema("exceptions")
    for row in rows:
        for text, item in zip(row, schema.fields, strict=True):
            if not text.isprintable() or cell_problem(item, text):
                place = Place(package.shown("exceptions"), column=item.name)
                raise GapbookError(Problem("exception", "this cannot stand in an exception", place, repr(text), item.says()))


def _record(row: Sequence[str]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(row)
    return out.getvalue().encode()
