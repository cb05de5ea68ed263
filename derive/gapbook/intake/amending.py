"""Changing what was admitted: an operation's edits, what follows from them, a check, and all of it put in place or nothing.

It is done under the package's lock and through its journal, like an admission (`tables/transactions.py`). A change that makes
the catalogue worse, so that a check finds more errors in it, is refused.
"""

from __future__ import annotations

import datetime
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO, Literal

import pyarrow as pa

from gapbook.errors import fail
from gapbook.intake import changes
from gapbook.intake.accepting import must_be_known
from gapbook.intake.check import Say, check_layers
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.log import CORRECTIONS, Correction, correction_records, is_kept
from gapbook.intake.rule import Rule
from gapbook.intake.rules import RULES
from gapbook.intake.rules.freshness import RULE as STALE
from gapbook.science.comparison import CONFIDENCE
from gapbook.tables.cells import cell_problem
from gapbook.tables.derived import compute, write_derived
from gapbook.tables.locking import WAIT
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.rewriting import Edit, Touched, rewritten, written
from gapbook.tables.transactions import Change, changing, consistent

Status = Literal["changed", "would-change", "refused"]


@dataclass(frozen=True)
class Plan:
    """What an operation does.

    edits: by table, what is changed in it
    corrections: what is written to the log, from the rows that were touched, by table
    specimens: the specimens whose beds it concerns
    notes: what people are told besides
    people: contributor_ids that become others, also that of who decides it
    renamed: specimen_ids and frame_ids that become others, so that a bed is compared with itself
    """

    edits: Mapping[str, Edit]
    corrections: Callable[[Mapping[str, Sequence[Touched]]], list[Correction]]
    specimens: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()
    people: Mapping[str, str] = field(default_factory=dict)
    renamed: Mapping[str, str] = field(default_factory=dict)


Operation = Callable[[Package], Plan]


@dataclass(frozen=True)
class Terms:
    """How to change what was admitted.

    reason: why
    who: who decides it (a contributor_id)
    dry_run: whether to say what would change and write nothing
    confidence: the probability that a verdict needs
    today: the day
    rules: the rules to check by
    wait: how long to wait for another writer, in s
    """

    reason: str
    who: str
    dry_run: bool = False
    confidence: float = CONFIDENCE
    today: datetime.date = field(default_factory=datetime.date.today)
    rules: Sequence[Rule] = RULES
    wait: float = WAIT


@dataclass(frozen=True)
class Amended:
    """What became of an operation.

    status: `changed`, `would-change` on a dry run, or `refused` because there would be more errors
    rows: how many rows it touches, by table
    corrections: what is written to the log
    findings: errors and warnings that a check did not find before
    change: what changes in the derived tables; None if it is refused
    notes: what people are told besides
    """

    status: Status
    rows: Mapping[str, int]
    corrections: tuple[Correction, ...]
    findings: tuple[Finding, ...] = ()
    change: changes.Change | None = None
    notes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The outcome with the keys that programs rely on."""
        return {
            "status": self.status,
            "rows": dict(self.rows),
            "corrections": [one._asdict() for one in self.corrections],
            "findings": [one.to_json() for one in self.findings],
            "change": None if self.change is None else self.change.to_json(),
            "notes": list(self.notes),
        }


def amend(package: Package, operation: Operation, terms: Terms, say: Say | None = None) -> Amended:
    """Do an operation, or, on a dry run, only say what it would do.

    package: the package to change
    operation: plans the edits
    terms: how
    say: is told what is being done

    GapbookError, with nothing written: `no-log` if the package has no table of corrections, `read-only`, `locked`, what the
    operation raises, and if a file cannot be read or written.
    """
    tell = say or (lambda text: None)
    if terms.dry_run:
        _must_be_sound(package, terms)
        with consistent(package, *package.resources), tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
            return _amended(package, operation, terms, Change(package, Path(scratch)), tell)
    must_be_writable(package)
    with changing(package, "gapbook, correcting", terms.wait) as change:
        _must_be_sound(package, terms)
        outcome = _amended(package, operation, terms, change, tell)
        if outcome.status == "changed":
            tell("writing")
            change.swap()
        return outcome


def _must_be_sound(package: Package, terms: Terms) -> None:
    if not is_kept(package, CORRECTIONS):
        fix = "Add the resource corrections and its schema as gapbook start writes them to a new package"
        raise fail("no-log", "the package has no table of corrections, so nothing would be remembered", fix=fix)
    item = package.schema(CORRECTIONS).field("reason")
    if not any(sign.isalpha() for sign in terms.reason) or not terms.reason.isprintable() or cell_problem(item, terms.reason):
        raise fail("reason", "this is no reason", found=repr(terms.reason), expected="why, in words, in one line")
    must_be_known(package, terms.who)


def _amended(package: Package, operation: Operation, terms: Terms, change: Change, say: Say) -> Amended:
    say("reading")
    plan = operation(package)
    touched: dict[str, Sequence[Touched]] = {}
    texts: dict[str, bytes] = {}
    for table, edit in plan.edits.items():
        text, rows = rewritten(package, table, edit)
        if rows:
            texts[table], touched[table] = text, rows
    if not touched:
        raise fail("nothing-to-change", "no row would change")
    corrections = plan.corrections(touched)
    before = compute(package, ["beds"])
    who = plan.people.get(terms.who, terms.who)
    _write(package, change, texts, correction_records(package, corrections, terms.reason, who, terms.today))
    counted = {table: len(rows) for table, rows in touched.items()}
    say("checking")
    worse, findings = _new_findings(package, change.staged(), terms)
    if worse:
        return Amended("refused", counted, tuple(corrections), findings, None, plan.notes)
    say("deriving")
    after = compute(change.staged())
    write_derived(change, after)
    before = {name: _called(data, plan.renamed) for name, data in before.items()}
    made = changes.change(before, after, set(plan.specimens), terms.confidence)
    status: Status = "would-change" if terms.dry_run else "changed"
    return Amended(status, counted, tuple(corrections), findings, made, plan.notes)


def _called(data: pa.Table, renamed: Mapping[str, str]) -> pa.Table:
    """A derived table with ids as they are called after the change."""
    for place, name in enumerate(data.column_names):
        if renamed and name in ("specimen_id", "frame_id"):
            ids = [renamed.get(one, one) for one in data[name].to_pylist()]
            data = data.set_column(place, name, pa.array(ids, pa.string()))
    return data


def _write(package: Package, change: Change, texts: dict[str, bytes], records: Sequence[bytes]) -> None:
    """Make the new versions of the tables, the log of corrections among them, part of the change."""
    if CORRECTIONS not in texts:
        header = written(package.schema(CORRECTIONS).names) + b"\n"
        texts[CORRECTIONS] = package.read(CORRECTIONS) if package.path(CORRECTIONS).exists() else header
    log = texts[CORRECTIONS]
    end = b"\r\n" if b"\r\n" in log else b"\n"
    texts[CORRECTIONS] = b"".join([log, b"" if log.endswith((b"\n", b"\r")) else end, *(one + end for one in records)])
    for table, text in texts.items():
        change.write(table, partial(_fill, text))


def _fill(text: bytes, stream: BinaryIO) -> None:
    stream.write(text)


def _new_findings(package: Package, staged: Package, terms: Terms) -> tuple[bool, tuple[Finding, ...]]:
    """Whether a check finds more errors of any code than before, and the errors and warnings that are new.

    The package is checked before the change only if something is found after it.
    """
    rules = [rule for rule in terms.rules if rule.code != STALE.code]  # what is derived is written after the check
    after = _open(check_layers(staged, None, today=terms.today, rules=rules).report.findings)
    if not after:
        return False, ()
    before = _open(check_layers(package, None, today=terms.today, rules=rules).report.findings)
    known = Counter(one.code for one in before)
    more = {code for code, number in Counter(one.code for one in after).items() if number > known[code]}
    keys = {(one.code, one.row_key, one.column) for one in before}
    new = [one for one in after if one.code in more and (one.code, one.row_key, one.column) not in keys]
    return any(one.severity is Severity.error for one in new), tuple(new)


def _open(findings: Iterable[Finding]) -> list[Finding]:
    return [one for one in findings if one.severity is not Severity.note]
