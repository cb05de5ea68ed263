"""How traits go with outcomes, as a person reads it."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.relating_words import figures, percent_of
from gapbook.questions.relations_found import Association, Associations, LeaveOneOut, NotUsed
from gapbook.screens import page, tables
from gapbook.screens.text import plural, signed
from gapbook.signs import safe

_TELLING = 2.0
"""A slope that is flattened by so many percent or more is reported."""
_CURVED = 0.05


def screen(answer: Associations) -> list[RenderableType]:
    """The verdicts in words, then the figures of each association, then what they rest on."""
    parts: list[RenderableType] = [Text(safe(item.sentence), page.HEADING) for item in answer.associations]
    parts.append(Text(answer.caution))
    known = [item for item in answer.associations if item.verdict != "no figure"]
    several = len({item.outcome for item in answer.associations}) > 1
    for item in known:
        parts += [Text(), _figures(item, answer, len(known), several)]
    unused = [item for item in answer.associations if item.verdict == "no figure" and _reasons(item.not_used)]
    parts += [Text(f"{safe(item.trait)}: not used are {_reasons(item.not_used)}.", page.QUIET) for item in unused[:1]]
    parts += [Text(), *(Text(line, page.QUIET) for line in _notes(answer, known))]
    return parts


def _figures(item: Association, answer: Associations, tried: int, several: bool) -> RenderableType:
    made = tables.plain((safe(f"{item.outcome} on {item.trait}" if several else item.trait), "left"), ("", "left"))
    per = " ".join(word for word in (_unit(item.outcome_unit), "per", _unit(item.trait_unit) or "unit") if word)
    for label, cell in (
        (f"slope, {per}", figures(item.low or 0.0, item.slope or 0.0, item.high or 0.0)[1]),
        (f"{percent_of(answer.confidence)} % interval", _span(item.low, item.slope, item.high)),
        *_other_slopes(item),
        ("partial correlation", signed(item.partial_correlation or 0.0, 2)),
        ("p-value", f"{item.p:.2g}" + (f"; Holm's over {tried} slopes {item.p_holm:.2g}" if tried > 1 else "")),
        *_differences(item),
        ("rests on", _rests(item)),
        *((("not used", _reasons(item.not_used)),) if _reasons(item.not_used) else ()),
    ):
        made.add_row(Text(label), Text(cell))
    return made


def _span(low: float | None, slope: float | None, high: float | None) -> str:
    least, _, most = figures(low or 0.0, slope or 0.0, high or 0.0)
    return f"{least} to {most}"


def _other_slopes(item: Association) -> list[tuple[str, str]]:
    """Intervals of other claims and models, beside the one that the verdict rests on."""
    made = []
    if (one := item.these_testers) is not None:
        made.append(("for these testers alone", _span(one.low, one.slope, one.high)))
    if (one := item.corrected) is not None:
        middle = figures(one.low, one.slope, one.high)[1]
        made.append(("corrected for its own u", f"{middle} ({_span(one.low, one.slope, one.high)})"))
    if (odds := item.odds) is not None:
        made.append(("odds of a higher mark", f"× {odds.ratio:.3g} per unit ({odds.low:.3g} to {odds.high:.3g})"))
    return made


def _differences(item: Association) -> list[tuple[str, str]]:
    """What the slope depends on: testers, single frames and testers, and whether the line is straight."""
    made = []
    if (between := item.between_testers) is not None:
        made.append(("spread between testers", f"{between.deviation:.2g} (p-value of no difference {between.p:.2g})"))
    made += [("leaving one frame out", _left_out(item.slope, item.leave_one_out))]
    made += [("leaving one tester out", _left_out(item.slope, item.leave_one_tester_out))]
    if item.curvature_p is not None:
        made.append(("straight, not curved", f"p-value {item.curvature_p:.2g}"))
    return made


def _left_out(slope: float | None, one: LeaveOneOut | None) -> str:
    if one is None:
        return ""
    least, _, most = figures(one.low, slope or 0.0, one.high)
    return f"{least} (without {safe(one.low_without)}) to {most} (without {safe(one.high_without)})"


def _rests(item: Association) -> str:
    unused = sum(item.not_used.model_dump().values())
    whole = f" of {item.playtests + unused:,}" if unused else ""
    tests = plural(item.playtests, "playtest") + whole
    return f"{plural(item.frames, 'frame')}, {plural(item.testers, 'tester')}, {tests}"


def _reasons(unused: NotUsed) -> str:
    told = {
        "copy not measured": unused.no_bed,
        "forbidden by the schema (gapbook check)": unused.not_allowed,
        "blank": unused.blank,
    }
    return ", ".join(f"{number:,} {reason}" for reason, number in told.items() if number)


def _unit(code: str) -> str:
    return "" if code == "1" else code


def _notes(answer: Associations, known: list[Association]) -> list[str]:
    notes = []
    if known:
        notes.append(
            "Each tester has their own baseline. The interval is for frames and players like these: it counts frames and "
            "testers, not playtests."
        )
        notes.append("Unless frames were assigned at random, as gapbook design does, other causes are possible.")
    for trait, percent in {item.trait: item.attenuation_percent for item in known}.items():
        if percent is not None and percent >= _TELLING:
            notes.append(f"{safe(trait)} is itself uncertain, which flattens the slope by about {percent:.0f} %.")
    for item in known:
        if item.corrected is None and item.attenuation_percent is not None:
            notes.append(f"{safe(item.trait)} is too uncertain for a corrected slope.")
    for item in known:
        if item.curvature_p is not None and item.curvature_p < _CURVED:
            notes.append(f"{safe(item.outcome)} on {safe(item.trait)} looks curved: plot it before you use the slope.")
    notes.append(f"Over the playtests of measured beds in {safe(answer.package.name)} {safe(answer.package.version)}.")
    return notes
