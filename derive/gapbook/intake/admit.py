"""Admission: a contribution is checked, and all its rows are added to the catalogue or none.

Checking, computing what follows and swapping happen under the package's lock, so that two admissions come one after the
other and the second is checked against what the first left. Tables and what is derived from them are swapped together
(`tables/transactions.py`).
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gapbook.errors import GapbookError, Problem, fail
from gapbook.intake.admission.accepting import Acceptance, Accepted, accept, must_be_acceptable
from gapbook.intake.admission.rows import Additions, additions, appended
from gapbook.intake.check import Checked, Say, check_layers
from gapbook.intake.findings import Finding
from gapbook.intake.layers import CONTRIBUTION, Layer, contribution_layer, is_package
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES
from gapbook.science.comparison import CONFIDENCE
from gapbook.tables.files import copy_whole, open_file
from gapbook.tables.locking import WAIT
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.regenerate import compute, write_derived
from gapbook.tables.transactions import Change, changing, consistent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gapbook.intake.admission.changes import Change as Consequences

Status = Literal["admitted", "admissible", "already-there", "refused"]


@dataclass(frozen=True)
class Admission:
    """What became of a contribution.

    `admitted`; `admissible`, on a dry run; `already-there`, nothing to add; `refused`, for the errors of the `report` or
    the `open` warnings that nobody accepted. `rows` and `there` count, by table, rows to add and rows the catalogue has
    already; `rows` includes the exceptions that `accepted` warnings add. `unused` are codes that were to be accepted and under
    which nothing was found.
    """

    status: Status
    report: Report
    rows: Mapping[str, int] = field(default_factory=dict)
    there: Mapping[str, int] = field(default_factory=dict)
    accepted: tuple[Finding, ...] = ()
    open: tuple[Finding, ...] = ()
    unused: tuple[str, ...] = ()
    change: Consequences | None = None


@dataclass(frozen=True)
class Terms:
    """How to admit: what the reviewer accepts, whether only to look, how sure the verdicts shown must be, the day, the
    rules to check by, and how long to wait for another writer [s].
    """

    acceptance: Acceptance | None = None
    dry_run: bool = False
    confidence: float = CONFIDENCE
    today: datetime.date = field(default_factory=datetime.date.today)
    rules: Sequence[Rule] = RULES
    wait: float = WAIT


def admit(package: Package, folder: Path, terms: Terms | None = None, say: Say | None = None) -> Admission:
    """Check the contribution in `folder` and add its rows to the package, or, on a dry run, only say what that would do.

    GapbookError, with nothing written: `read-only` for the copy of an installation, `locked` while somebody else changes
    the package, `rule-broken` where the checker itself failed, and where a file cannot be read or written.
    """
    try:
        return _admit(package, folder, terms or Terms(), say or (lambda text: None))
    except OSError as error:
        raise fail("unreadable", f"{error.filename or folder} cannot be read: {error.strerror or error}") from None


def _admit(package: Package, folder: Path, asked: Terms, tell: Say) -> Admission:
    if asked.acceptance is not None:
        must_be_acceptable(asked.acceptance, asked.rules)
    if is_package(folder):
        raise fail("not-a-contribution", f"{folder} is a data package", expected="a folder with a contribution's own rows")
    if asked.dry_run:
        with consistent(package, *package.resources), tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
            return _judged(package, folder, asked, Change(package, Path(scratch)), tell)
    must_be_writable(package)
    with changing(package, f"gapbook admit {folder}", asked.wait) as change:
        found = _judged(package, folder, asked, change, tell)
        if found.status == "admitted":
            tell("writing")
            change.swap()
        return found


def _judged(package: Package, folder: Path, terms: Terms, change: Change, say: Say) -> Admission:
    """Check, and write the new versions of the tables into `change`."""
    sent = contribution_layer(folder)
    with _private(sent) as contribution:
        checked = check_layers(package, contribution, today=terms.today, say=say, rules=terms.rules)
        _must_be_whole(checked.report)
        if checked.report.errors:
            return Admission("refused", checked.report)
        if exchanged := [sent.shown[name] for name, path in sent.files.items() if contribution.files[name] == path]:
            raise fail("contribution-changed", "the contribution was changed while it was read", found=exchanged[0])
        found = additions(package, contribution)
    if found.conflicts:
        return Admission("refused", replace(checked.report, findings=(*found.conflicts, *checked.report.findings)))
    accepted = accept(package, checked, terms.acceptance, terms.today)
    rows = _with_exceptions(found, accepted)
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


def _with_exceptions(found: Additions, accepted: Accepted) -> Additions:
    """The rows to add with those that accepted warnings add to the exceptions."""
    if not accepted.rows:
        return found
    brought = found.records.get("exceptions", ())
    return replace(found, records={**found.records, "exceptions": [*brought, *accepted.records()]})


def _staged(package: Package, change: Change, found: Additions, checked: Checked, terms: Terms) -> Consequences:
    """Write the new versions of the tables, raw and derived, and compare what follows from them."""
    from gapbook.intake.admission import changes

    before = compute(package, ["beds"])
    for table, records in found.records.items():
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
    """The contribution with private copies of its files: what is judged is what is admitted, whatever becomes of them.

    A file that is not opened stays where it is, for the check to say why.
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


def document(found: Admission, terms: Terms) -> dict[str, Any]:
    """An admission with the keys that programs rely on."""
    from gapbook.intake.admission.documents import change_document

    return {
        "status": found.status,
        "dry_run": terms.dry_run,
        "rows": dict(found.rows),
        "already_there": {table: count for table, count in found.there.items() if count},
        "accepted": [finding.to_json() for finding in found.accepted],
        "open": [finding.to_json() for finding in found.open],
        "change": None if found.change is None else change_document(found.change),
        "check": found.report.to_json(),
    }
