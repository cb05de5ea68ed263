"""Admission: a contribution is checked, and all its rows are added to the catalogue or none.

Checking, computing what follows and swapping happen under the package's lock, so that two admissions come one after the
other and the second is checked against what the first left. Tables and what is derived from them are swapped together
(`tables/transactions.py`). Warnings refuse a contribution until a reviewer accepts them with a reason, which becomes a row
of exceptions.csv.
"""

from __future__ import annotations

import csv
import datetime
import io
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, Literal

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.intake import changes
from gapbook.intake.additions import Additions, additions, appended
from gapbook.intake.check import Checked, Say, check_layers
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION, Layer, contribution_layer, is_package
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES, STRUCTURE
from gapbook.science.comparison import CONFIDENCE
from gapbook.tables.cells import cell_problem
from gapbook.tables.derived import compute, write_derived
from gapbook.tables.files import copy_whole, open_file
from gapbook.tables.locking import WAIT
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.schemas import Schema
from gapbook.tables.transactions import Change, changing, consistent

Status = Literal["admitted", "admissible", "already-there", "refused"]
"""What may become of a contribution; `Admission` says what each means."""


@dataclass(frozen=True)
class Acceptance:
    """What a reviewer accepts: codes of warnings, the reason, and who says so (a contributor_id)."""

    codes: tuple[str, ...]
    reason: str
    who: str


@dataclass(frozen=True)
class Terms:
    """How to admit.

    acceptance: what the reviewer accepts
    dry_run: whether to say what would happen and write nothing
    confidence: the probability that a verdict needs
    today: the day of the admission
    rules: the rules to check by; the rules of structure are added to them
    wait: how long to wait for another writer, in s
    """

    acceptance: Acceptance | None = None
    dry_run: bool = False
    confidence: float = CONFIDENCE
    today: datetime.date = field(default_factory=datetime.date.today)
    rules: Sequence[Rule] = RULES
    wait: float = WAIT


@dataclass(frozen=True)
class Admission:
    """What became of a contribution.

    status: `admitted`; `admissible` if a dry run found nothing against it; `already-there` if there is nothing to add;
        `refused` because of errors or of open warnings
    report: what the check found
    rows: how many rows are added, by table, the exceptions of accepted warnings among them
    there: how many rows the catalogue has already, by table
    accepted: the warnings that were accepted
    open: the warnings that nobody accepted
    unused: codes that the reviewer accepts although no finding has them
    change: what changes in the derived tables; None if nothing was derived
    """

    status: Status
    report: Report
    rows: Mapping[str, int] = field(default_factory=dict)
    there: Mapping[str, int] = field(default_factory=dict)
    accepted: tuple[Finding, ...] = ()
    open: tuple[Finding, ...] = ()
    unused: tuple[str, ...] = ()
    change: changes.Change | None = None


def admit(package: Package, folder: Path, terms: Terms | None = None, say: Say | None = None) -> Admission:
    """Check the contribution in `folder` and add its rows to the package, or, on a dry run, only say what that would do.

    package: the package to add to
    folder: the folder of the contribution
    terms: how to admit; None: without accepting any warning, as of today
    say: is told what is being done

    GapbookError, with nothing written: `read-only` for the copy of an installation, `locked` while somebody else changes
    the package, `rule-broken` if the checker itself failed, and if a file cannot be read or written.
    """
    try:
        return _admit(package, folder, terms or Terms(), say or (lambda text: None))
    except OSError as error:
        raise fail("unreadable", f"{error.filename or folder} cannot be read: {error.strerror or error}") from None


def _admit(package: Package, folder: Path, asked: Terms, tell: Say) -> Admission:
    if asked.acceptance is not None:
        _must_be_acceptable(asked.acceptance, asked.rules)
    if is_package(folder):
        raise fail("not-a-contribution", f"{folder} is a data package", expected="a folder with a contribution's own rows")
    if asked.dry_run:
        with consistent(package, *package.resources), tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
            return _judged(package, folder, asked, Change(package, Path(scratch)), tell)
    must_be_writable(package)
    with changing(package, f"gapbook admit {folder}", asked.wait) as change:
        admission = _judged(package, folder, asked, change, tell)
        if admission.status == "admitted":
            tell("writing")
            change.swap()
        return admission


def _judged(package: Package, folder: Path, terms: Terms, change: Change, say: Say) -> Admission:
    """Check the contribution and, unless it is refused, write the new versions of the tables into `change`."""
    sent = contribution_layer(folder)
    with _private(sent) as contribution:
        rules = [*(rule for rule in STRUCTURE if rule not in terms.rules), *terms.rules]
        checked = check_layers(package, contribution, today=terms.today, say=say, rules=rules)
        _must_be_whole(checked.report)
        if checked.report.errors:
            return Admission("refused", checked.report)
        if exchanged := [sent.shown[name] for name, path in sent.files.items() if contribution.files[name] == path]:
            raise fail("contribution-changed", "the contribution was changed while it was read", found=exchanged[0])
        brought = additions(checked.context)
    accepted = _accept(package, checked, terms.acceptance, terms.today)
    rows = _with_exceptions(brought, accepted)
    if not rows.rows:
        return Admission("already-there", checked.report, there=rows.there, unused=accepted.unused)
    status: Status = "refused" if accepted.open else "admissible" if terms.dry_run else "admitted"
    result = Admission(status, checked.report, rows.rows, rows.there, accepted.now, accepted.open, accepted.unused)
    if accepted.open and not terms.dry_run:
        return result
    say("deriving")
    return replace(result, change=_staged(package, change, rows, checked, terms))


def _must_be_whole(report: Report) -> None:
    if report.broken:
        fix = "This is a fault of gapbook, not of the contribution; please report it"
        raise GapbookError(*(Problem("rule-broken", "a rule could not be run", found=text, fix=fix) for text in report.broken))


def _with_exceptions(brought: Additions, accepted: _Accepted) -> Additions:
    """The rows to add, together with the exceptions that accepted warnings become."""
    if not accepted.rows:
        return brought
    exceptions = [*brought.records.get("exceptions", ()), *accepted.records()]
    return replace(brought, records={**brought.records, "exceptions": exceptions})


def _staged(package: Package, change: Change, rows: Additions, checked: Checked, terms: Terms) -> changes.Change:
    """Write the new versions of the tables, raw and derived, and compare what follows from them."""
    before = compute(package, ["beds"])
    for table, records in rows.records.items():
        if records:
            header = package.schema(table).names
            change.write(table, partial(appended, path=package.path(table), header=header, records=records))
    after = compute(change.staged())
    write_derived(change, after)
    return changes.change(before, after, _measured(checked), terms.confidence)


def _measured(checked: Checked) -> set[str]:
    """The specimens the contribution has spacings of."""
    own = checked.context.read.layer["spacings"] == CONTRIBUTION
    return set(checked.context.tables["spacings"]["specimen_id"].filter(own).unique().to_pylist())


@contextmanager
def _private(contribution: Layer) -> Iterator[Layer]:
    """The contribution with private copies of its files, so that what is admitted is what was checked, even if somebody
    changes the files meanwhile.

    A file that cannot be opened is not copied: the check looks at the file itself and says what is wrong with it.
    """
    with tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        files = dict(contribution.files)
        for name, path in contribution.files.items():
            with suppress(GapbookError):
                stream = open_file(path, contribution.shown[name])
                files[name] = Path(scratch) / path.name
            if files[name] != path:
                with stream:
                    copy_whole(stream, files[name])
        yield contribution._replace(files=files)


def document(admission: Admission, terms: Terms) -> dict[str, Any]:
    """An admission with the keys that programs rely on."""
    return {
        "status": admission.status,
        "dry_run": terms.dry_run,
        "rows": dict(admission.rows),
        "already_there": {table: count for table, count in admission.there.items() if count},
        "accepted": [finding.to_json() for finding in admission.accepted],
        "open": [finding.to_json() for finding in admission.open],
        "change": None if admission.change is None else admission.change.to_json(),
        "check": admission.report.to_json(),
    }


# Accepting warnings


@dataclass(frozen=True)
class _Accepted:
    """The warnings of a check, sorted by whether they are accepted.

    open: those that nobody accepted yet
    now: those accepted now
    rows: the rows of exceptions.csv that those accepted now become
    unused: the codes that the reviewer accepts although no warning has them
    """

    open: tuple[Finding, ...]
    now: tuple[Finding, ...]
    rows: tuple[tuple[str, ...], ...]
    unused: tuple[str, ...] = ()

    def records(self) -> list[bytes]:
        """The rows as CSV records."""
        return [_record(row) for row in self.rows]


def _must_be_acceptable(acceptance: Acceptance, rules: Sequence[Rule]) -> None:
    """GapbookError if a code is not the code of a warning, or if the reason holds no word."""
    severity = {rule.code: rule.severity for rule in rules}
    for code in acceptance.codes:
        if severity.get(code) is not Severity.warning:
            found = "no rule's code" if code not in severity else f"the code of {_of(severity[code])}"
            raise fail("not-a-warning", f"{code} cannot be accepted", found=found, expected="the code of a warning")
    if not any(sign.isalpha() for sign in acceptance.reason):
        raise fail("exception", "this is no reason", found=repr(acceptance.reason), expected="why it is right, in words")


def _of(severity: Severity) -> str:
    return "an error" if severity is Severity.error else "a note"


def _accept(package: Package, checked: Checked, acceptance: Acceptance | None, today: datetime.date) -> _Accepted:
    """Sort the warnings of a check by whether they are accepted.

    A contribution may bring an exception for its own warning. It counts only if the reviewer accepts the code too; then the
    contribution's reason is kept and no second row is added. GapbookError if reason or person cannot be used.
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
        sample = _row(schema, "code", "key", acceptance, today)  # reason and person are checked even if no row is added
        _must_be_sound(package, checked.context, acceptance.who, [sample, *rows])
    unused = dict.fromkeys(codes).keys() - {finding.code for finding in now}
    return _Accepted(tuple(open_), tuple(now), tuple(rows), tuple(sorted(unused)))


def _listed(context: CheckContext) -> set[tuple[str, str]]:
    """Rule and row of every exception. If one belongs to a finding that is still a warning, the contribution brought it:
    the catalogue's own exceptions have turned their warnings into notes.
    """
    if "exceptions" not in context.tables:
        return set()
    return {(str(row["rule"]), str(row["row_key"])) for row in context.tables["exceptions"].to_pylist()}


def _row(schema: Schema, code: str, key: str, acceptance: Acceptance, today: datetime.date) -> tuple[str, ...]:
    """A row of exceptions.csv. Fields that only this package has stay blank."""
    reason = acceptance.reason.strip()
    said = {"rule": code, "row_key": key, "reason": reason, "who": acceptance.who, "decided_on": today.isoformat()}
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
