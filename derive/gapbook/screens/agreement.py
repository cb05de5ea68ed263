"""Gauge studies and biases as a person reads them."""

from __future__ import annotations

from collections import defaultdict

from rich.console import RenderableType
from rich.text import Text

from gapbook.intake.agreement import CONFIDENCE, Agreement, Bias, Quantified
from gapbook.screens import page
from gapbook.screens.text import decimals_for, listed, plural, safe, signed

UNKNOWN = "–"
UNITS = {"cm2": "cm²", "kg.cm2": "kg·cm²"}
LEGEND = (
    "repeat: how far single readings by one person scatter, one standard deviation, over days too.",
    "people: how far people differ, their instruments included; from parts that two or more have read.",
    "GRR: both together, in percent of all variation; below 10 is good, above 30 poor (AIAG).",
    "classes: how many classes of parts the readings tell apart; 5 or more is good (AIAG).",
    "gap: between two strings; off a rule or a photo, between two marks. pitch: of mains or crosses in the centre of a bed.",
    f"{UNKNOWN}: too few readings to say.",
)


def screen(found: Agreement) -> list[RenderableType]:
    """Both tables with what their columns mean."""
    if not found.studies:
        return [Text("Nothing was read, so there is nothing to say of agreement.", page.HEADING), *_faults(found)]
    return [
        Text("How well readings repeat and people agree", page.HEADING),
        _studies(found.studies),
        Text(),
        *(Text(line, page.QUIET) for line in LEGEND),
        Text(),
        *_biases(found.biases),
        *_faults(found),
    ]


def _faults(found: Agreement) -> list[RenderableType]:
    if not found.faults:
        return []
    text = (
        f"{plural(found.faults, 'fault')} kept rows out of this: `gapbook check` names {'it' if found.faults == 1 else 'them'}."
    )
    return [Text(), Text(text)]


def _name(quantity: str, unit: str) -> str:
    return f"{quantity.replace('_', ' ')}, {UNITS.get(unit, unit)}"


def _studies(studies: list[Quantified]) -> RenderableType:
    made = page.table(
        ("quantity", "left"), ("read with", "left"), ("repeat", "right"), ("people", "right"), ("GRR %", "right"),
        ("classes", "right"), ("readings", "right"), ("parts", "right"), ("by", "right"),
    )  # fmt: skip
    for one in studies:
        row = one.to_json()
        grr, classes = row["grr_percent"], row["distinct_categories"]
        made.add_row(
            Text(_name(one.quantity, one.unit)),
            Text(one.instrument_kind.replace("_", " ")),
            Text(_figure(one.repeatability)),
            Text(_figure(one.reproducibility)),
            Text(UNKNOWN if grr is None else f"{grr:.1f}"),
            Text(UNKNOWN if classes is None else f"{classes}"),
            Text(f"{one.variation.readings:,}"),
            Text(f"{one.variation.parts:,}"),
            Text(f"{one.variation.people}"),
        )
    return made


def _figure(value: float | None) -> str:
    return UNKNOWN if value is None else f"{value:.{decimals_for(value)}f}"


def _biases(biases: list[Bias]) -> list[RenderableType]:
    told = [one for one in biases if one.bias is not None]
    parts: list[RenderableType] = []
    if told:
        heading = f"How each person reads beside the others ({100 * CONFIDENCE:g} % interval; parts read by two or more)"
        made = page.table(("person", "left"), ("quantity", "left"), ("bias", "right"), ("interval", "right"),
                          ("parts", "right"), ("beside", "left"))  # fmt: skip
        for one in told:
            made.add_row(*(Text(cell) for cell in _bias_cells(one)))
        parts += [Text(heading, page.HEADING), made]
    few: dict[str, list[str]] = defaultdict(list)
    for one in biases:
        if one.bias is None:
            few[one.contributor_id].append(one.quantity.replace("_", " "))
    if few:
        parts += [Text(), Text("Too few readings shared with others to say:", page.QUIET)]
        parts += [Text(f"{safe(name)}: {', '.join(sorted(which))}", page.QUIET) for name, which in sorted(few.items())]
    return parts


def _bias_cells(one: Bias) -> tuple[str, ...]:
    assert one.bias is not None
    assert one.low is not None
    assert one.high is not None
    places = decimals_for((one.high - one.low) / 2.0)
    low, high = (signed(value, places, plus=True) for value in (one.low, one.high))
    beside = listed([safe(name) for name in one.against]) if len(one.against) <= 3 else f"{len(one.against)} others"
    name = _name(one.quantity, one.unit)
    return (
        safe(one.contributor_id),
        name,
        signed(one.bias, places, plus=True),
        f"{low} to {high}",
        f"{one.shared_parts:,}",
        beside,
    )
