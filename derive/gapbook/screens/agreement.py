"""Gauge studies and biases as a person reads them."""

from __future__ import annotations

from collections import defaultdict

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from gapbook.intake.agreement import Against, Agreement, Bias, Quantified, Steadiness
from gapbook.science.comparison import CONFIDENCE
from gapbook.screens import page
from gapbook.screens.tables import grid
from gapbook.screens.text import decimals_for, listed, plural, signed
from gapbook.signs import safe

UNKNOWN = "–"
_BESIDE = "beside"
UNITS = {"cm2": "cm²", "kg.cm2": "kg·cm²"}
LEGEND = (
    "repeat: how far single readings by one person scatter, one standard deviation, over days too.",
    "people: how far people differ, their instruments included; from parts that two or more have read.",
    "GRR: both together, in percent of all variation; below 10 is good, above 30 poor (AIAG).",
    "classes: how many classes of parts the readings tell apart; 5 or more is good (AIAG).",
    "gap: between two strings; off a rule or a photo, between two marks. pitch: of mains or crosses in the centre of a bed.",
    f"{UNKNOWN}: too few readings to say.",
)


def screen(agreement: Agreement) -> list[RenderableType]:
    """The table of studies with what its columns mean, and that of biases."""
    if not agreement.studies:
        return [Text("Nothing was read, so there is nothing to say of agreement.", page.HEADING), *_faults(agreement)]
    return [
        Text("How well readings repeat and people agree", page.HEADING),
        _studies(agreement.studies),
        Text(),
        *(Text(line, page.QUIET) for line in LEGEND),
        Text(),
        *_people(agreement),
        *_steadiness(agreement.repeatability),
        *_against(agreement.against),
        *_biases(agreement.biases),
        *_faults(agreement),
    ]


def _people(agreement: Agreement) -> list[RenderableType]:
    """What the ± of beds takes from all this."""
    if not agreement.people:
        return []
    each = [
        f"{one.used:.2g} mm with a {one.instrument_kind.replace('_', ' ')} "
        + ("(assumed)" if one.seen is None else f"(they differ by {one.seen:.2g} mm here)")
        for one in agreement.people
    ]
    said = f"The ± of a bed takes people to differ, in each gap, by {listed(each)}; strings to be out of place by "
    return [Text(f"{said}{agreement.placement:.2g} mm."), Text()]


def _steadiness(people: list[Steadiness]) -> list[RenderableType]:
    """How well each person's readings repeat, where they have read enough twice."""
    told = [one for one in people if one.repeatability is not None]
    if not told:
        return []
    heading = "How well each person's readings repeat (one standard deviation; others: all other people together)"
    pairs = [(safe(one.contributor_id), f"{_name(one.quantity, one.unit)}, {_kind(one)}") for one in told]
    corner, labels = _as_one("person", "quantity, read with", pairs)
    rows = [
        (label, (_figure(one.repeatability), _figure(one.others), f"{one.readings:,}", f"{one.freedom:.0f}"))
        for label, one in zip(labels, told, strict=True)
    ]
    return [Text(heading, page.HEADING), grid(corner, ("repeat", "others", "readings", "freedom"), rows), Text()]


def _against(rows: list[Against]) -> list[RenderableType]:
    """Photographs beside a calliper, a line a quantity."""
    lines = []
    for one in rows:
        shared = f"{plural(one.shared_parts, one.quantity, 'pitches' if one.quantity == 'pitch' else None)} read with both"
        if one.difference is None or one.low is None or one.high is None or one.scatter is None:
            lines.append(f"{one.instrument_kind} against {one.against}: {shared}, too few to say.")
            continue
        places = decimals_for((one.high - one.low) / 2.0)
        mean, low, high = (signed(value, places, plus=True) for value in (one.difference, one.low, one.high))
        lines.append(
            f"{one.instrument_kind} against {one.against}, {one.quantity}: {mean} {one.unit} ({low} to {high}), "
            f"scatter {_figure(one.scatter)} {one.unit}; {shared}."
        )
    return [*(Text(line) for line in lines), Text()] if lines else []


def _faults(agreement: Agreement) -> list[RenderableType]:
    if not agreement.faults:
        return []
    which = "it" if agreement.faults == 1 else "them"
    return [Text(), Text(f"{plural(agreement.faults, 'fault')} kept rows out of this: `gapbook check` names {which}.")]


def _name(quantity: str, unit: str) -> str:
    return f"{quantity.replace('_', ' ')}, {UNITS.get(unit, unit)}"


def _studies(studies: list[Quantified]) -> RenderableType:
    corner, labels = _as_one("quantity", "read with", [(_name(one.quantity, one.unit), _kind(one)) for one in studies])
    headings = ("repeat", "people", "GRR %", "classes", "readings", "parts", "by")
    return grid(corner, headings, [(label, _study_cells(one)) for label, one in zip(labels, studies, strict=True)])


def _kind(one: Quantified | Steadiness) -> str:
    return one.instrument_kind.replace("_", " ")


def _as_one(first: str, second: str, pairs: list[tuple[str, str]]) -> tuple[str, list[str]]:
    """Two columns of words as one (heading and cells), so that both are repeated if a table is cut in pieces."""
    wide = max(len(first), *(len(pair[0]) for pair in pairs))
    return f"{first:<{wide}} {second}", [f"{one:<{wide}} {other}" for one, other in pairs]


def _study_cells(one: Quantified) -> tuple[str, ...]:
    row = one.to_json()
    grr, classes = row["grr_percent"], row["distinct_categories"]
    return (
        _figure(one.repeatability),
        _figure(one.reproducibility),
        UNKNOWN if grr is None else f"{grr:.1f}",
        UNKNOWN if classes is None else f"{classes}",
        f"{one.variation.readings:,}",
        f"{one.variation.parts:,}",
        f"{one.variation.people}",
    )


def _figure(value: float | None) -> str:
    return UNKNOWN if value is None else f"{value:.{decimals_for(value)}f}"


def _biases(biases: list[Bias]) -> list[RenderableType]:
    told = [one for one in biases if one.bias is not None]
    parts: list[RenderableType] = []
    if told:
        heading = f"How each person reads beside the others ({100 * CONFIDENCE:g} % interval; parts read by two or more)"
        corner, labels = _as_one(
            "person", "quantity", [(safe(one.contributor_id), _name(one.quantity, one.unit)) for one in told]
        )
        rows = [(label, _bias_cells(one)) for label, one in zip(labels, told, strict=True)]
        made = grid(corner, ("bias", "interval", "parts", _BESIDE), rows)
        _to_the_left(made, _BESIDE)
        parts += [Text(heading, page.HEADING), made]
    few: dict[str, list[str]] = defaultdict(list)
    for one in biases:
        if one.bias is None:
            few[one.contributor_id].append(one.quantity.replace("_", " "))
    if few:
        parts += [Text(), Text("Too few readings shared with others to say:", page.QUIET)]
        parts += [Text(f"{safe(name)}: {', '.join(sorted(which))}", page.QUIET) for name, which in sorted(few.items())]
    return parts


def _to_the_left(made: RenderableType, heading: str) -> None:
    """Align a column of names in a grid's tables left."""
    tables = [part for part in made.renderables if isinstance(part, Table)] if isinstance(made, Group) else []
    for column in (column for table in tables for column in table.columns if str(column.header) == heading):
        column.justify, column.header = "left", heading


def _bias_cells(one: Bias) -> tuple[str, ...]:
    assert one.bias is not None
    assert one.low is not None
    assert one.high is not None
    places = decimals_for((one.high - one.low) / 2.0)
    low, high = (signed(value, places, plus=True) for value in (one.low, one.high))
    beside = listed([safe(name) for name in one.against]) if len(one.against) <= 3 else f"{len(one.against)} others"
    return signed(one.bias, places, plus=True), f"{low} to {high}", f"{one.shared_parts:,}", beside
