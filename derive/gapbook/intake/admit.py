"""Admission: a contribution is checked, and all its rows are added to the catalogue or none.

Checking, computing what follows and swapping happen under the package's lock, so that two admissions come one after the
other and the second is checked against what the first left. Tables and what is derived from them are swapped together
(`tables/transactions.py`). Warnings refuse a contribution until a reviewer accepts them with a reason, which becomes a row
of exceptions.csv.
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, Literal

from gapbook.errors import GapbookError, Problem, fail
from gapbook.intake import changes
from gapbook.intake.accepting import Acceptance, Accepted, accept, must_be_acceptable, must_be_known
from gapbook.intake.additions import Additions, additions, appended
from gapbook.intake.check import Checked, Say, check_layers
from gapbook.intake.findings import Finding
from gapbook.intake.layers import CONTRIBUTION, Layer, contribution_layer, is_package
from gapbook.intake.log import ADMISSIONS, admission_records, digest_of, is_kept
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES, STRUCTURE
from gapbook.science.comparison import CONFIDENCE
from gapbook.tables.derived import compute, write_derived
from gapbook.tables.files import copy_whole, open_file
from gapbook.tables.locking import WAIT
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.transactions import Change, changing, consistent

Status = Literal["admitted", "admissible", "already-there", "refused"]
"""What may become of a contribution; `Admission` says what each means."""


@dataclass(frozen=True)
class Terms:
    """How to admit.

    acceptance: what the reviewer accepts
    dry_run: whether to say what would happen and write nothing
    confidence: the probability that a verdict needs
    today: the day of the admission
    rules: the rules to check by; the rules of structure are added to them
    who: who admits it (a contributor_id); empty: who accepts its warnings, or nobody is named
    wait: how long to wait for another writer, in s
    """

    acceptance: Acceptance | None = None
    dry_run: bool = False
    confidence: float = CONFIDENCE
    today: datetime.date = field(default_factory=datetime.date.today)
    rules: Sequence[Rule] = RULES
    who: str = ""
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
    unused: what the reviewer accepts although no finding is called so
    own: the accepted warnings that are about readings of who accepts them
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
    own: tuple[Finding, ...] = ()


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
        must_be_acceptable(asked.acceptance, asked.rules)
    if asked.who:
        must_be_known(package, asked.who)
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
        brought, digest = additions(checked.context), digest_of(contribution)
    accepted = accept(package, checked, terms.acceptance, terms.today)
    rows = _with_exceptions(brought, accepted)
    if not rows.rows:
        return Admission("already-there", checked.report, there=rows.there, unused=accepted.unused)
    status: Status = "refused" if accepted.open else "admissible" if terms.dry_run else "admitted"
    result = Admission(status, checked.report, rows.rows, rows.there, accepted.now, accepted.open, accepted.unused)
    result = replace(result, own=accepted.own)
    if accepted.open and not terms.dry_run:
        return result
    say("deriving")
    return replace(result, change=_staged(package, change, _logged(package, digest, folder, rows, terms), checked, terms))


def _must_be_whole(report: Report) -> None:
    if report.broken:
        fix = "This is a fault of gapbook, not of the contribution; please report it"
        raise GapbookError(*(Problem("rule-broken", "a rule could not be run", found=text, fix=fix) for text in report.broken))


def _with_exceptions(brought: Additions, accepted: Accepted) -> Additions:
    """The rows to add, together with the exceptions that accepted warnings become."""
    if not accepted.rows:
        return brought
    exceptions = [*brought.records.get("exceptions", ()), *accepted.records()]
    return replace(brought, records={**brought.records, "exceptions": exceptions})


def _logged(package: Package, digest: str, folder: Path, rows: Additions, terms: Terms) -> dict[str, Sequence[bytes]]:
    """The rows to add, together with the admission log's; without them if the package keeps no log."""
    records = dict(rows.records)
    if is_kept(package, ADMISSIONS):
        who = terms.who or (terms.acceptance.who if terms.acceptance is not None else "")
        records[ADMISSIONS] = admission_records(package, digest, folder, rows.records, who, terms.today)
    return records


def _staged(
    package: Package, change: Change, records: Mapping[str, Sequence[bytes]], checked: Checked, terms: Terms
) -> changes.Change:
    """Write the new versions of the tables, raw and derived, and compare what follows from them."""
    before = compute(package, ["beds"])
    for table, added in records.items():
        if added:
            header = package.schema(table).names
            change.write(table, partial(appended, path=package.path(table), header=header, records=added))
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
