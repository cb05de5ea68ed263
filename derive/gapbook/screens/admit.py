"""What became of a contribution, for people."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from rich.console import RenderableType
from rich.text import Text

from gapbook.intake.admit import Admission
from gapbook.intake.changes import BedChange, Change, Value, Verdicts
from gapbook.intake.findings import ORDER, Finding
from gapbook.screens import findings, page, tables
from gapbook.screens.text import listed, plural, signed, with_u
from gapbook.signs import safe

BEDS, FRAMES = 10, 5
"""Beds and frames that are shown."""
OFFERED = 8
"""Warnings that the command offered names one by one."""


@dataclass(frozen=True)
class Asked:
    """What the options accept.

    accept: what stands after --accept
    all_of: codes after --all-of
    reason: --reason
    who: --who
    """

    accept: tuple[str, ...]
    all_of: tuple[str, ...]
    reason: str | None
    who: str | None


@dataclass(frozen=True)
class Typed:
    """The command as it was typed.

    path: the contribution
    package: --package
    dry_run: --dry-run
    confidence: --confidence
    asked: what it accepts
    """

    path: Path
    package: Path | None
    dry_run: bool
    confidence: float | None
    asked: Asked

    @property
    def options(self) -> list[str]:
        """The options that the next command keeps."""
        package = [] if self.package is None else ["--package", str(self.package)]
        confidence = [] if self.confidence is None else ["--confidence", repr(self.confidence)]
        return [*package, *(["--dry-run"] if self.dry_run else []), *confidence]


def offer(admission: Admission, typed: Typed) -> str:
    """The command that would accept the open warnings, in one line however long; empty if there are none. If they are many, it
    asks for each.
    """
    if not admission.open:
        return ""
    asked = typed.asked
    given = [str(typed.path), *typed.options, *(word for code in asked.all_of for word in ("--all-of", code))]
    ones = dict.fromkeys((*asked.accept, *(f"{finding.code}@{finding.row_key}" for finding in admission.open)))
    if len(ones) > OFFERED:
        words = ["gapbook", "admit", *map(shlex.quote, given), "--one-by-one"]
    else:
        accepts = [word for one in ones for word in ("--accept", one)]
        words = ["gapbook", "admit", *map(shlex.quote, (*given, *accepts)), "--reason", _said(asked.reason, "TEXT")]
    return safe(" ".join([*words, "--who", _said(asked.who, "CONTRIBUTOR_ID")]))


def _said(given: str | None, otherwise: str) -> str:
    return otherwise if given is None else shlex.quote(given)


def screen(admission: Admission, shown: str) -> list[RenderableType]:
    """An admission; `shown` is the contribution as it was named. If warnings are open, `offer` is to be printed below it."""
    parts: list[RenderableType] = [Text(headline(admission, safe(shown)), page.HEADING)]
    if problems := sorted((*admission.report.errors, *admission.open), key=lambda one: (ORDER[one.severity], one.code)):
        parts += findings.screen(replace(admission.report, findings=tuple(problems)), safe(shown))
    if admission.accepted:
        parts.append(Text(f"Accepted: {_by_code(admission.accepted)}"))
    if admission.own:
        whose = listed(sorted({safe(str(finding.contributor)) for finding in admission.own}))
        parts.append(
            Text(f"{whose} accepted {plural(len(admission.own), 'finding')} on readings of their own; check will say so.")
        )
    if admission.unused:
        parts.append(Text(f"There was nothing to accept under {listed([safe(code) for code in admission.unused])}."))
    if admission.rows and not admission.report.errors:
        parts += _rows(admission)
    if admission.change is not None:
        parts += change_parts(admission.change)
    if admission.open:
        parts += [Text(), Text("Mend them, or accept what you looked at and find right:")]
    return parts


def headline(admission: Admission, shown: str) -> str:
    """What became of the contribution, in one line."""
    if admission.status == "refused":
        errors = plural(len(admission.report.errors), "error")
        warnings = plural(len(admission.open), "warning") + " that nobody accepted"
        why = errors if admission.report.errors else warnings
        return f"Not admitted: {shown} has {why}. Nothing was written."
    if admission.status == "already-there":
        return f"Nothing to add: the catalogue has every row of {shown} already."
    total = plural(sum(admission.rows.values()), "row")
    if admission.status == "admissible":
        return f"Would add {total} of {shown}. Nothing was written."
    return f"Added {total} of {shown}."


def _by_code(accepted: Sequence[Finding]) -> str:
    ordered = sorted(accepted, key=lambda finding: finding.code)
    return listed([f"{len(list(group))} {code}" for code, group in groupby(ordered, key=lambda finding: finding.code)])


def _rows(admission: Admission) -> Iterator[RenderableType]:
    there = [table for table, count in admission.there.items() if count]
    made = tables.plain(("table", "left"), ("rows", "right"), *([("there already", "right")] if there else []))
    for table in dict.fromkeys((*admission.rows, *there)):
        counts = (admission.rows.get(table, 0), *([admission.there.get(table, 0)] if there else []))
        made.add_row(Text(table), *(Text(f"{count:,}") for count in counts))
    yield Text()
    yield made


def change_parts(change: Change) -> Iterator[RenderableType]:
    """What changes in beds and verdicts."""
    if change.beds:
        yield Text()
        yield Text(f"Openness changes in {plural(len(change.beds), 'bed')}", page.HEADING)
        made = tables.plain(("specimen", "left"), ("zone", "left"), ("before", "right"), ("after", "right"), ("%", "right"))
        for bed in change.beds[:BEDS]:
            for cells in _bed_rows(bed):
                made.add_row(*(Text(cell) for cell in cells))
        yield made
        if len(change.beds) > BEDS:
            yield Text(f"the {BEDS} that change most; --json gives all", page.QUIET)
    if change.uncertainty_only:
        yield Text(f"In {plural(change.uncertainty_only, 'other bed')} only the uncertainty changes.")
    if change.new_frames:
        yield Text(f"New in the catalogue: {plural(len(change.new_frames), 'frame')}.")
    yield from _verdicts(change.verdicts)


def _bed_rows(bed: BedChange) -> Iterator[tuple[str, str, str, str, str]]:
    """Cells of a bed: its centre if it is new, else each zone that changes."""
    zones = [zone for zone in bed.zones if zone.zone == "centre"] if bed.new else []
    for number, zone in enumerate(zones or bed.zones):
        percent = "new" if bed.new else "" if zone.percent is None else signed(zone.percent, 2, plus=True)
        name = "" if number else safe(bed.specimen_id)
        yield name, zone.zone, _value(zone.before), _value(zone.after), percent


def _value(value: Value | None) -> str:
    return "" if value is None else with_u(value.openness, value.u)


def _verdicts(verdicts: Verdicts) -> Iterator[RenderableType]:
    sure = f"{100 * verdicts.confidence:g} %"
    if not verdicts.changed:
        yield Text(f"No verdict between frames the catalogue has changes (centre, sure at {sure}).")
        return
    yield Text()
    pairs = f"{plural(verdicts.changed, 'verdict')} of {verdicts.pairs:,} compared"
    yield Text(f"{pairs} {'changes' if verdicts.changed == 1 else 'change'} (centre, sure at {sure})", page.HEADING)
    made = tables.plain(("frame", "left"), ("verdicts", "right"), ("such as against", "left"))
    for frame in verdicts.frames[:FRAMES]:
        first = frame.against[0]
        such = f"{first.frame_id}: {first.before} → {first.after}"
        made.add_row(Text(safe(frame.frame_id)), Text(f"{frame.changed:,}"), Text(safe(such)))
    yield made
    if len(verdicts.frames) > FRAMES:
        yield Text(f"and verdicts of {plural(len(verdicts.frames) - FRAMES, 'other frame')}; --json names them", page.QUIET)
