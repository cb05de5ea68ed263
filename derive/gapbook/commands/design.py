"""`gapbook design TRAIT OUTCOME --effect E`."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import (
    ConfidenceOption,
    JsonOption,
    PackageOption,
    checked_confidence,
    print_json,
    print_written,
)
from gapbook.screens import page
from gapbook.signs import safe

HELP = """How many frames, testers and playtests it takes to see an effect, and a schedule that assigns frames at random.

TRAIT is a trait of measured frames, OUTCOME a column of playtests. --effect is the slope to be seen, in OUTCOME for each unit
of TRAIT. Power is simulated: how often the interval of `relate` leaves out zero, with the spreads that the package's own
playtests show, or those named. --out writes the schedule of the layout with the fewest playtests, or of the one named by
--frames, --testers and --each: frames that lie far apart in the trait, each played about equally often, nobody twice with
one copy, in random order. The same seed gives the same schedule.

JSON: {"trait", "trait_unit", "outcome", "outcome_unit", "effect", "power_asked", "confidence", "noise", "between_frames",
"between_testers", "trait_deviation", "frames_there", "plans" [{"frames", "testers", "playtests_each", "playtests", "power"}],
"chosen", "reason", "schedule" [{"round", "played_on", "tester_id", "specimen_id", "frame_id"}], "seed", "package"}."""


def design(
    trait: Annotated[str, typer.Argument(help="A trait of frames, e.g. openness_centre.")],
    outcome: Annotated[str, typer.Argument(help="What is played for, e.g. launch_angle_deg.")],
    effect: Annotated[float, typer.Option("--effect", help="The slope to be seen.")],
    power: Annotated[float, typer.Option("--power", help="How often it is to be seen.")] = 0.8,
    frames: Annotated[int | None, typer.Option("--frames", min=8, help="Only layouts with so many frames.")] = None,
    testers: Annotated[int | None, typer.Option("--testers", min=3, help="Only layouts with so many testers.")] = None,
    each: Annotated[int | None, typer.Option("--each", min=2, help="Only so many playtests of each tester.")] = None,
    noise: Annotated[float | None, typer.Option("--noise", help="Standard deviation of one playtest.")] = None,
    between_frames: Annotated[
        float | None, typer.Option("--between-frames", help="Between frames, for other reasons than the trait.")
    ] = None,
    between_testers: Annotated[
        float | None, typer.Option("--between-testers", help="Standard deviation of slopes between testers.")
    ] = None,
    first: Annotated[
        datetime.datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], metavar="DAY", help="Day of the first round.")
    ] = None,
    days: Annotated[int, typer.Option("--days", min=1, max=366, help="Days from round to round, with --from.")] = 7,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Of simulation and schedule.")] = 1,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Schedule to write, as CSV.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, plan, print and write."""
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.screens.designs import screen
    from gapbook.tables.files import replacing

    found = open_catalogue(package).design(
        trait,
        outcome,
        effect,
        power=power,
        confidence=checked_confidence(confidence),
        frames=frames,
        testers=testers,
        each=each,
        noise=noise,
        between_frames=between_frames,
        between_testers=between_testers,
        first_day=None if first is None else first.date(),
        days_between=days,
        seed=seed,
    )
    written = [] if out is None or found.chosen is None else [out]
    if out is not None and not written:
        sys.stderr.write(f"gapbook: no schedule, so {safe(str(out))} was not written\n")
    for path in written:
        with replacing(path) as stream:
            stream.write(found.to_csv().encode("utf-8"))
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    page.show(*screen(found))
    if written:
        print_written(written, {}, as_json)
