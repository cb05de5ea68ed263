"""Instruments that cannot be as they are described: without any error, of a step unlike their kind, in a unit nobody reads."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.questions.drilling import DRAWING
from gapbook.science.grouping import distinct
from gapbook.science.steps import off_steps
from gapbook.science.units import lookup
from gapbook.tables.reader import texts
from gapbook.tables.units import codes, renumber

STEPS = {
    "calliper": (0.001, 1.0, "mm"), "rule": (0.1, 5.0, "mm"), "photo": (0.001, 2.0, "mm"), "scale": (0.005, 20.0, "g"),
    "balance_board": (0.1, 10.0, "mm"), "swing_rig": (0.05, 10.0, "kg.cm2"), "planimeter": (0.05, 20.0, "cm2"),
}  # fmt: skip
"""Finest and coarsest step that an instrument of each kind is read to, in computing units. Common practice, no source."""
ROOM = 3.0
"""The largest error is at most so many times the coarsest step. Common practice, no source."""
LEAST = 5
"""How many readings tell which unit an instrument is read in."""


@cached
def implausible(context: CheckContext) -> list[Finding]:
    """One finding for each instrument that cannot be as it is described, at the first column that is wrong."""
    used, findings = _units_used(context), []
    tools = context.tables["instruments"].to_pylist()
    for row, tool in enumerate(tools):
        unit = lookup(str(tool["unit"]))
        low, high, base = STEPS[tool["kind"]]
        if unit is None or unit.base != base or tool["instrument_id"] == DRAWING:
            continue  # other rules say so
        for column, found, expected, fix in (
            *_of_size(tool, low / unit.factor, high / unit.factor),
            *_of_unit(context, tool, unit.factor, used.get(row, {})),
        ):
            findings.append(Finding("instruments", column, found, expected, fix, str(tool["instrument_id"]), (row,)))
            break
    return findings


def _of_size(tool: dict[str, object], low: float, high: float) -> Iterator[tuple[str, str, str, str]]:
    """What is wrong with the step and the error of an instrument: column, found, expected, fix. Limits in its unit."""
    step, error, unit = float(str(tool["resolution"])), float(str(tool["max_error"])), tool["unit"]
    kind = str(tool["kind"]).replace("_", " ")
    if not low * (1 - 1e-9) <= step <= high * (1 + 1e-9):
        fix = "Write the smallest step that it was read to, in the unit beside it"
        yield "resolution", f"{step:g} {unit} for a {kind}", f"{low:.3g} to {high:.3g} {unit}", fix
    if not 0.0 < error <= ROOM * high:
        fix = "Write the largest error that its maker or its last check allows; if nobody knows, at least one step"
        yield "max_error", f"{error:g} {unit} for a {kind}", f"above 0, and no more than {ROOM * high:.3g} {unit}", fix


def _of_unit(
    context: CheckContext, tool: dict[str, object], factor: float, used: dict[str, int]
) -> Iterator[tuple[str, str, str, str]]:
    """What is wrong with the unit of an instrument, if none of its readings is in it, nor was converted from it."""
    total, known = sum(used.values()), [lookup(text) for text in used]
    if total < LEAST or any(one is None or one.factor == factor for one in known) or not _off(context, tool, factor):
        return
    theirs, step = " or ".join(sorted(used)), f"{float(str(tool['resolution'])):g}"
    yield (
        "unit",
        f"{tool['unit']}, and its {total:,} readings are in {theirs}",
        f"the unit it is read in: is its step {step} {tool['unit']}, or {step} {theirs}?",
        "Write step and largest error in the unit of the readings; if they were converted, give them as they were read",
    )


def _off(context: CheckContext, tool: dict[str, object], factor: float) -> bool:
    """Whether some of an instrument's readings are no whole steps of it."""
    for table in ("spacings", "readings"):
        data = context.tables[table]
        mine = np.flatnonzero(renumber(data["instrument_id"], [str(tool["instrument_id"])]) >= 0)
        value, known = np.asarray(data["value"], dtype=float)[mine], context.units[table].factor[mine]
        if off_steps(value, float(str(tool["resolution"])) * factor / known).any():
            return True
    return False


def _units_used(context: CheckContext) -> dict[int, dict[str, int]]:
    """By row of the instruments, how many readings are in each unit."""
    ids = [str(one) for one in context.column("instruments", "instrument_id")]
    used: dict[int, dict[str, int]] = {}
    for table in ("spacings", "readings"):
        data = context.tables[table]
        if not data.num_rows:
            continue
        tool, unit, written = renumber(data["instrument_id"], ids), codes(data["unit"]), texts(data["unit"])
        each = distinct(tool + 1, unit)
        for first, count in zip(each.first.tolist(), np.bincount(each.number).tolist(), strict=True):
            of_tool = used.setdefault(int(tool[first]), {})
            of_tool[written[unit[first]]] = of_tool.get(written[unit[first]], 0) + count
    return used


RULE = Rule(
    "instrument-plausible",
    Severity.warning,
    "an instrument that cannot be as it is described",
    "Step and largest error go into the ± of everything read with it: no instrument is without error, a step of another size "
    f"than its kind has is mostly one in another unit, and so is a unit that none of {LEAST} or "
    "more readings is in, unless they were converted from it.",
    "JCGM 100:2008, 4.3.7 and F.2.2.1; sizes of steps: common practice, no source",
    "Describe the instrument as it is",
    implausible,
    follows=("unit-dimension",),
)
