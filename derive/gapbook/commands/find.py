"""`gapbook find`: the same question by options."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Annotated, Any

import typer

from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence, print_answer
from gapbook.questions.traits import range_options

HELP = """Find frames by options: the same question as ask, in another form.

Ranges are 95..98, 95.., ..98 or 97, with a unit after them if it is not the usual one."""


def _option(name: str, text: str) -> typer.models.OptionInfo:
    return typer.Option(name, help=text)


def _with_an_option_for_each_trait(command: Callable[..., None]) -> Callable[..., None]:
    """The command with an option for each trait in place of `ranges`, so that a new trait has one too."""
    own = inspect.signature(command, eval_str=True)
    others = [one for one in own.parameters.values() if one.kind is not inspect.Parameter.VAR_KEYWORD]
    options = []
    for name, text in range_options().items():
        kind: Any = Annotated[str | None, _option(name, text)]
        made = inspect.Parameter(name[2:].replace("-", "_"), inspect.Parameter.KEYWORD_ONLY, default=None, annotation=kind)
        options.append(made)
    command.__signature__ = own.replace(parameters=[*options, *others])  # type: ignore[attr-defined]
    return command


@_with_an_option_for_each_trait
def find(
    *,
    pattern: Annotated[list[str] | None, _option("--pattern", "Pattern: 16x19. Several are alternatives.")] = None,
    tighter_than: Annotated[list[str] | None, _option("--tighter-than", "Frame, specimen or folder.")] = None,
    more_open_than: Annotated[list[str] | None, _option("--more-open-than", "Frame, specimen or folder.")] = None,
    like: Annotated[list[str] | None, _option("--like", "Within 3 % of this frame, specimen or folder.")] = None,
    where: Annotated[str, _option("--where", "centre, left, right, sides, tip, throat or even.")] = "centre",
    basis: Annotated[str, _option("--basis", "measured, or any (with estimates from counts).")] = "any",
    sort: Annotated[str | None, _option("--sort", "tightest, open, closest, name, head, mass, ... or KEY-desc.")] = None,
    limit: Annotated[int | None, _option("--limit", "At most so many matches.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
    **ranges: str | None,
) -> None:
    """Open, find, print."""
    from gapbook.questions.options import from_options  # late: see shared

    asked = from_options(
        pattern=pattern or (),
        tighter_than=tighter_than or (),
        more_open_than=more_open_than or (),
        like=like or (),
        where=where,
        basis=basis,
        sort=sort,
        limit=limit,
        confidence=checked_confidence(confidence),
        **ranges,
    )
    from gapbook.catalogue import open_catalogue  # late: DuckDB

    print_answer(open_catalogue(package), asked, as_json, units)
