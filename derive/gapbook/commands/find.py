"""`gapbook find`: the same question by options."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.options import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence

HELP = """Find frames by options: the same question as ask, in another form.

Ranges are 95..98, 95.., ..98 or 97, with a unit after them where it is not the usual one."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("find", help=HELP)(find)


def _option(name: str, text: str) -> typer.models.OptionInfo:
    return typer.Option(name, help=text)


def find(
    head: Annotated[str | None, _option("--head", "Head area, sq in: 95..98.")] = None,
    mains: Annotated[str | None, _option("--mains", "Number of mains: 16.")] = None,
    crosses: Annotated[str | None, _option("--crosses", "Number of crosses: 18..20.")] = None,
    pattern: Annotated[list[str] | None, _option("--pattern", "Pattern: 16x19. Several are alternatives.")] = None,
    tighter_than: Annotated[list[str] | None, _option("--tighter-than", "Frame, specimen or folder.")] = None,
    more_open_than: Annotated[list[str] | None, _option("--more-open-than", "Frame, specimen or folder.")] = None,
    like: Annotated[list[str] | None, _option("--like", "Within 3 % of this frame, specimen or folder.")] = None,
    where: Annotated[str, _option("--where", "centre, left, right, sides, tip, throat or even.")] = "centre",
    mass: Annotated[str | None, _option("--mass", "Strung mass, g: ..320.")] = None,
    balance: Annotated[str | None, _option("--balance", "Points, head light negative: -8..-4; or 310..320 mm.")] = None,
    swingweight: Annotated[str | None, _option("--swingweight", "Strung, kg·cm²: 315..330.")] = None,
    length: Annotated[str | None, _option("--length", "In: 27; or 685 mm.")] = None,
    basis: Annotated[str, _option("--basis", "measured, or any (with estimates from counts).")] = "any",
    sort: Annotated[str | None, _option("--sort", "tightest, open, closest, name, head, mass, ... or KEY-desc.")] = None,
    limit: Annotated[int | None, _option("--limit", "At most so many matches.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, find, print."""
    from gapbook.commands.printing import print_answer
    from gapbook.questions.options import from_options
    from gapbook.science.comparison import CONFIDENCE

    asked = from_options(
        head=head,
        mains=mains,
        crosses=crosses,
        pattern=pattern or (),
        tighter_than=tighter_than or (),
        more_open_than=more_open_than or (),
        like=like or (),
        where=where,
        mass=mass,
        balance=balance,
        swingweight=swingweight,
        length=length,
        basis=basis,
        sort=sort,
        limit=limit,
        confidence=CONFIDENCE if confidence is None else checked_confidence(confidence),
    )
    print_answer(asked, package, as_json, units)
