"""What became of a contribution, for people."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from rich.console import RenderableType
from rich.text import Text

from gapbook.intake.findings import ORDER
from gapbook.screens import findings, page
from gapbook.screens.text import listed, plural, safe, signed, with_u

if TYPE_CHECKING:
    from gapbook.intake.admission.changes import BedChange, Change, Value, Verdicts
    from gapbook.intake.admit import Admission
    from gapbook.intake.findings import Finding

BEDS, FRAMES = 10, 5
"""Beds and frames shown."""


@dataclass(frozen=True)
class Typed:
    """The command as it was typed: the contribution, the options that stay as they are, and what was to be accepted."""

    path: str
    options: tuple[str, ...] = ()
    accept: tuple[str, ...] = ()
    reason: str | None = None
    who: str | None = None


def offer(found: Admission, typed: Typed) -> str:
    """The command that would accept what is open, one line however long; blank where nothing is."""
    if not found.open:
        return ""
    codes = dict.fromkeys((*typed.accept, *sorted(finding.code for finding in found.open)))
    accepts = [word for code in codes for word in ("--accept", code)]
    given = [typed.path, *typed.options, *accepts]
    words = ["gapbook", "admit", *map(shlex.quote, given), "--reason", _said(typed.reason, "TEXT")]
    return safe(" ".join([*words, "--who", _said(typed.who, "CONTRIBUTOR_ID")]))


def _said(given: str | None, otherwise: str) -> str:
    return otherwise if given is None else shlex.quote(given)


def screen(found: Admission, shown: str) -> list[RenderableType]:
    """An admission; `shown` is the contribution as it was named. What `offer` says belongs under it."""
    parts: list[RenderableType] = [Text(_headline(found, safe(shown)), page.HEADING)]
    if problems := sorted((*found.report.errors, *found.open), key=lambda one: (ORDER[one.severity], one.code)):
        parts += findings.screen(replace(found.report, findings=tuple(problems)), safe(shown))
    if found.accepted:
        parts.append(Text(f"Accepted: {_by_code(found.accepted)}"))
    if found.unused:
        parts.append(Text(f"There was nothing to accept under {listed([safe(code) for code in found.unused])}."))
    if found.rows and not found.report.errors:
        parts += _rows(found)
    if found.change is not None:
        parts += _change(found.change)
    if found.open:
        parts += [Text(), Text("Mend them, or accept what you looked at and find right:")]
    return parts


def _headline(found: Admission, shown: str) -> str:
    if found.status == "refused":
        errors = plural(len(found.report.errors), "error")
        warnings = plural(len(found.open), "warning") + " that nobody accepted"
        why = errors if found.report.errors else warnings
        return f"Not admitted: {shown} has {why}. Nothing was written."
    if found.status == "already-there":
        return f"Nothing to add: the catalogue has every row of {shown} already."
    total = plural(sum(found.rows.values()), "row")
    if found.status == "admissible":
        return f"Would add {total} of {shown}. Nothing was written."
    return f"Added {total} of {shown}."


def _by_code(accepted: Sequence[Finding]) -> str:
    ordered = sorted(accepted, key=lambda finding: finding.code)
    return listed([f"{len(list(group))} {code}" for code, group in groupby(ordered, key=lambda finding: finding.code)])


def _rows(found: Admission) -> Iterator[RenderableType]:
    there = [table for table, count in found.there.items() if count]
    made = page.table(("table", "left"), ("rows", "right"), *([("there already", "right")] if there else []))
    for table in dict.fromkeys((*found.rows, *there)):
        counts = (found.rows.get(table, 0), *([found.there.get(table, 0)] if there else []))
        made.add_row(Text(table), *(Text(f"{count:,}") for count in counts))
    yield Text()
    yield made


def _change(found: Change) -> Iterator[RenderableType]:
    if found.beds:
        yield Text()
        yield Text(f"Openness changes in {plural(len(found.beds), 'bed')}", page.HEADING)
        made = page.table(("specimen", "left"), ("zone", "left"), ("before", "right"), ("after", "right"), ("%", "right"))
        for bed in found.beds[:BEDS]:
            for cells in _bed_rows(bed):
                made.add_row(*(Text(cell) for cell in cells))
        yield made
        if len(found.beds) > BEDS:
            yield Text(f"the {BEDS} that change most; --json gives all", page.QUIET)
    if found.uncertainty_only:
        yield Text(f"In {plural(found.uncertainty_only, 'other bed')} only the uncertainty changes.")
    if found.new_frames:
        yield Text(f"New in the catalogue: {plural(len(found.new_frames), 'frame')}.")
    yield from _verdicts(found.verdicts)


def _bed_rows(bed: BedChange) -> Iterator[tuple[str, str, str, str, str]]:
    """A new bed's centre, or each zone that changes."""
    zones = [zone for zone in bed.zones if zone.zone == "centre"] if bed.new else []
    for number, zone in enumerate(zones or bed.zones):
        percent = "new" if bed.new else "" if zone.percent is None else signed(zone.percent, 2, plus=True)
        name = "" if number else safe(bed.specimen_id)
        yield name, zone.zone, _value(zone.before), _value(zone.after), percent


def _value(value: Value | None) -> str:
    return "" if value is None else with_u(value.openness, value.u)


def _verdicts(found: Verdicts) -> Iterator[RenderableType]:
    sure = f"{100 * found.confidence:g} %"
    if not found.changed:
        yield Text(f"No verdict between frames the catalogue has changes (centre, sure at {sure}).")
        return
    yield Text()
    pairs = f"{plural(found.changed, 'verdict')} of {found.pairs:,} compared"
    yield Text(f"{pairs} {'changes' if found.changed == 1 else 'change'} (centre, sure at {sure})", page.HEADING)
    made = page.table(("frame", "left"), ("verdicts", "right"), ("such as against", "left"))
    for frame in found.frames[:FRAMES]:
        first = frame.against[0]
        such = f"{first.frame_id}: {first.before} → {first.after}"
        made.add_row(Text(safe(frame.frame_id)), Text(f"{frame.changed:,}"), Text(safe(such)))
    yield made
    if len(found.frames) > FRAMES:
        yield Text(f"and verdicts of {plural(len(found.frames) - FRAMES, 'other frame')}; --json names them", page.QUIET)
