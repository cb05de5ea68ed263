"""How traits go with an outcome, as a person reads it."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.relating import Association, Associations, figures, percent_of
from gapbook.screens import page, tables
from gapbook.screens.text import plural, signed
from gapbook.signs import safe

_TELLING = 2.0
"""A slope that is flattened by so many percent or more is reported."""


def screen(answer: Associations) -> list[RenderableType]:
    """The verdicts in words, then the figures of each trait, then what they rest on."""
    parts: list[RenderableType] = [Text(safe(item.sentence), page.HEADING) for item in answer.associations]
    parts.append(Text(answer.caution))
    known = [item for item in answer.associations if item.verdict != "no figure"]
    for item in known:
        parts += [Text(), _figures(item, answer, len(known))]
    parts += [Text(), *(Text(line, page.QUIET) for line in _notes(answer, known))]
    return parts


def _figures(item: Association, answer: Associations, tried: int) -> RenderableType:
    made = tables.plain((safe(item.trait), "left"), ("", "left"))
    per = " ".join(word for word in (_unit(answer.outcome_unit), "per", _unit(item.trait_unit) or "unit") if word)
    low, slope, high = figures(item.low or 0.0, item.slope or 0.0, item.high or 0.0)
    made.add_row(Text(f"slope, {per}"), Text(slope))
    made.add_row(Text(f"{percent_of(answer.confidence)} % interval"), Text(f"{low} to {high}"))
    made.add_row(Text("partial correlation"), Text(signed(item.partial_correlation or 0.0, 2)))
    chance = f"{item.p:.2g}" + (f"; Holm's over {tried} traits {item.p_holm:.2g}" if tried > 1 else "")
    made.add_row(Text("p if there is none"), Text(chance))
    if (one := item.leave_one_out) is not None:
        least, _, most = figures(one.low, item.slope or 0.0, one.high)
        words = f"{least} (without {safe(one.low_without)}) to {most} (without {safe(one.high_without)})"
        made.add_row(Text("leaving one frame out"), Text(words))
    rests = f"{plural(item.frames, 'frame')}, {plural(item.testers, 'tester')}, {plural(item.playtests, 'playtest')}"
    made.add_row(Text("rests on"), Text(rests))
    return made


def _unit(code: str) -> str:
    return "" if code == "1" else code


def _notes(answer: Associations, known: list[Association]) -> list[str]:
    notes = []
    if known:
        notes.append("Each tester has a level of their own; the interval counts frames, not playtests (CR3, t).")
    for item in known:
        if item.attenuation_percent is not None and item.attenuation_percent >= _TELLING:
            notes.append(
                f"{safe(item.trait)} is itself uncertain, which draws the slope towards zero by about "
                f"{item.attenuation_percent:.0f} %."
            )
    notes.append(f"Over the playtests of measured beds in {safe(answer.package.name)} {safe(answer.package.version)}.")
    return notes
