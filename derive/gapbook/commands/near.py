"""`gapbook near REF`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence, print_found

HELP = """Find the frames nearest to a bed you know, in all zones and in handling at once.

REF is a frame, a specimen, the folder of your own readings, or a pattern such as "16x19 98 sq in". Frames are ranked by how
probable it is that each is within every tolerance: mesh in centre, sides, tip and throat (--bed), mass, balance and
swingweight, strung; length and head if you name them. A tolerance you do not name is the usual one, and said; `any` leaves one
out. Frames of which something asked is not known come in a list of their own, judged by the rest. --at is your pull: the first
ten are told the pull at which their centre is as stiff (as retension gives it).

JSON: {"reference", "within", "left_out", "at_n", "searched", "itself", "matches", "partly_known", "counts", "package"}.
reference has "name", "frame_id", "kind", "basis", "mains", "crosses", "head_area_cm2", "figures" (by column, each with its u_),
"handling_own", "assumed_head". within has "name", "value", "unit" (a UCUM code, % or points), "named"; left_out names what is
not known of the bed itself. itself (another copy of the bed's own frame, or null) and the entries of matches and partly_known
have "frame_id", "maker", "model", "basis", "mains", "crosses", "head_area_cm2", "probability", "probability_bed", "parts",
"unknown", "pull", "changes", "codes" (rules of advise). A part has "name", "unit", "difference", "u_difference",
"probability"; pull is null, or {"tension_n", "u_tension_n", "outside"} as of retension. counts says how many there are of
each list, whatever --limit."""


def near(
    name: Annotated[str, typer.Argument(metavar="REF", help="The bed you know.")],
    bed: Annotated[str | None, typer.Option("--bed", help="Mesh in each zone, %: 3%.")] = None,
    mass: Annotated[str | None, typer.Option("--mass", help="Strung mass: 5 g, 0.2 oz.")] = None,
    balance: Annotated[str | None, typer.Option("--balance", help="1 (point), or 3 mm, 0.1 in.")] = None,
    swingweight: Annotated[str | None, typer.Option("--swingweight", help="Strung, kg·cm²: 5.")] = None,
    length: Annotated[str | None, typer.Option("--length", help="Declared length: 3 mm; not asked unless named.")] = None,
    head: Annotated[str | None, typer.Option("--head", help="Declared head area, sq in: 2; not asked unless named.")] = None,
    at: Annotated[str | None, typer.Option("--at", help="Your pull tension: 24kg, 53lb or 235N; default 245N.")] = None,
    limit: Annotated[int, typer.Option("--limit", min=1, max=1000, help="Frames told of each list.")] = 5,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, search, print."""
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.screens.near import screen

    sure = checked_confidence(confidence)
    named = {"bed": bed, "mass": mass, "balance": balance, "swingweight": swingweight, "length": length, "head": head}
    found = open_catalogue(package).near(name, named, at=at, limit=limit, confidence=sure)
    print_found(found, screen, as_json, units)
