"""What it takes to see an effect, as a person reads it."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.designing import Design
from gapbook.science.trial import TESTERS
from gapbook.screens import page, tables
from gapbook.signs import safe

_SHOWN = 8


def screen(found: Design) -> list[RenderableType]:
    """The answer in a sentence, the layouts, and what they rest on."""
    per = " ".join(word for word in (_unit(found.outcome_unit), "for each", _unit(found.trait_unit) or "unit", "more") if word)
    asked = f"{found.outcome} by {found.effect:g} {per} {found.trait}"
    parts: list[RenderableType] = []
    if found.reason is not None:
        return [Text(safe(f"No trial of {found.outcome} on {found.trait}: {found.reason}."), page.HEADING)]
    if (one := found.chosen) is None:
        most = f"No layout of {found.frames_there} measured frames and up to {max(TESTERS)} testers"
        parts.append(Text(safe(f"{most} shows a change of {asked} in {_percent(found.power_asked)} of trials."), page.HEADING))
    else:
        size = f"{one.frames} frames, {one.testers} testers, {one.playtests_each} playtests each ({one.playtests} together)"
        parts.append(Text(safe(f"{size}: a change of {asked} is seen in {_percent(one.power)} of trials."), page.HEADING))
        parts += [Text(), _plans(found)]
    parts += [Text(), Text(safe(_rests(found)), page.QUIET)]
    parts.append(Text("The schedule assigns frames at random, so that a slope is more than an association.", page.QUIET))
    return parts


def _rests(found: Design) -> str:
    """What was simulated."""
    unit = f" {found.outcome_unit}" if _unit(found.outcome_unit) else ""
    noise, frames, testers, trait = (
        value or 0.0 for value in (found.noise, found.between_frames, found.between_testers, found.trait_deviation)
    )
    return (
        f"Simulated with these standard deviations: one playtest {noise:.2g}{unit}, "
        f"frames for other reasons {frames:.2g}{unit}, slopes between testers {testers:.2g}; {found.trait} over "
        f"{found.frames_there} measured frames {trait:.3g}."
    )


def _plans(found: Design) -> RenderableType:
    made = tables.plain(*((name, "right") for name in ("frames", "testers", "playtests each", "playtests", "power")))
    for one in found.plans[:_SHOWN]:
        made.add_row(
            *(Text(str(value)) for value in (one.frames, one.testers, one.playtests_each, one.playtests)),
            Text(_percent(one.power)),
        )
    return made


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _unit(code: str) -> str:
    return "" if code == "1" else safe(code)
