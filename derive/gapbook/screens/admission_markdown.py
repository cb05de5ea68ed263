"""What would become of a contribution, as Markdown for a pull request's comment."""

from __future__ import annotations

from gapbook.intake.admit import Admission
from gapbook.intake.changes import BedChange, Change, Value
from gapbook.screens.admit import headline
from gapbook.screens.findings import markdown_table, report_markdown
from gapbook.screens.text import plural, signed, with_u
from gapbook.signs import markdown, safe

BEDS, FRAMES = 30, 20
"""Beds and frames that are listed."""


def admission_markdown(admission: Admission, shown: str) -> str:
    """An admission: what is found, what is added, which beds and verdicts change, before and after."""
    lines = [f"## {markdown(headline(admission, safe(shown)))}", ""]
    if admission.rows:
        lines += [
            *markdown_table(("table", "rows"), [(markdown(name), f"{n:,}") for name, n in admission.rows.items()]),
            "",
        ]
    if admission.change is not None:
        lines += _change(admission.change)
    if admission.report.findings or admission.report.broken:
        lines += [report_markdown(admission.report, safe(shown)).replace("## ", "### ", 1).rstrip(), ""]
    else:
        lines += ["Nothing was found to mend.", ""]
    return "\n".join(lines).rstrip() + "\n"


def _change(change: Change) -> list[str]:
    lines = [f"### Openness changes in {plural(len(change.beds), 'bed')}", ""]
    if change.beds:
        rows = [row for bed in change.beds[:BEDS] for row in _bed(bed)]
        lines += [*markdown_table(("specimen", "zone", "before", "after", "%"), rows), ""]
    if len(change.beds) > BEDS:
        lines += [f"and {len(change.beds) - BEDS} more", ""]
    if change.uncertainty_only:
        lines += [f"In {plural(change.uncertainty_only, 'other bed')} only the uncertainty changes.", ""]
    verdicts = change.verdicts
    lines += [f"### {plural(verdicts.changed, 'verdict')} of {verdicts.pairs:,} compared would differ", ""]
    if verdicts.changed:
        rows = [
            (markdown(frame.frame_id), markdown(one.frame_id), one.before, one.after)
            for frame in verdicts.frames[:FRAMES]
            for one in frame.against
        ]
        lines += [*markdown_table(("frame", "against", "before", "after"), rows), ""]
        if len(verdicts.frames) > FRAMES:
            lines += [f"and verdicts of {plural(len(verdicts.frames) - FRAMES, 'other frame')}", ""]
    return lines


def _bed(bed: BedChange) -> list[tuple[str, ...]]:
    zones = [zone for zone in bed.zones if zone.zone == "centre"] if bed.new else []
    return [
        (
            markdown(bed.specimen_id),
            zone.zone,
            _value(zone.before),
            _value(zone.after),
            "new" if bed.new else "" if zone.percent is None else signed(zone.percent, 2, plus=True),
        )
        for zone in zones or bed.zones
    ]


def _value(value: Value | None) -> str:
    return "" if value is None else with_u(value.openness, value.u)
