"""The frames nearest to a bed, as an answer holds them."""

from __future__ import annotations

from collections.abc import Mapping

from gapbook.questions.answer import PackageName
from gapbook.questions.counted import AssumedHead
from gapbook.questions.ranges import Frozen
from gapbook.questions.shown import Shown
from gapbook.questions.tolerances import Tolerance

BED_ZONES = ("centre", "sides", "tip", "throat")
"""Zones in which beds are near or not; the sides are left and right together."""


def zones_known(figures: Mapping[str, float | None]) -> list[str]:
    """Those of BED_ZONES in which the openness of a bed is known."""
    return [zone for zone in BED_ZONES if figures.get(f"openness_{zone}") is not None]


class Part(Frozen):
    """One figure of a frame against that of the bed.

    name: a zone of the bed (centre, sides, tip, throat), or the name of a tolerance.
    unit: the code of the unit of both differences: that of the tolerance.
    difference: how much more the frame has.
    u_difference: the standard uncertainty of that.
    probability: how probable it is that the frame is within the tolerance in this figure.
    """

    name: str
    unit: str
    difference: float
    u_difference: float
    probability: float


class TargetPull(Frozen):
    """The pull at which a frame has the centre stiffness of the bed, as `retension` gives it.

    tension_n: the pull [N]; None if it lies outside the range that the model covers.
    u_tension_n: its standard uncertainty [N].
    outside: why no pull is given, as of Retension; None if one is.
    """

    tension_n: float | None
    u_tension_n: float | None
    outside: str | None


class Near(Frozen):
    """A frame beside the bed.

    frame_id: the frame.
    maker: who makes it.
    model: its name.
    basis: measured or counted.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its head area [cm²].
    probability: how probable it is that it is within every tolerance of which it is known.
    probability_bed: the same of the bed alone, in all zones that are known; None if bed is left out or no zone is known.
    parts: figure by figure.
    unknown: the zones and measures that are asked for, known of the bed, and not known of the frame.
    pull: the pull for the bed's centre stiffness; None if the stiffness of one of the two is not known, and below the first
        MOST_PULLS matches.
    changes: what the bed may change for a player, in one line, from the rules of advice.
    codes: the rules that say so.
    """

    frame_id: str
    maker: str
    model: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float
    probability: float
    probability_bed: float | None
    parts: list[Part]
    unknown: list[str]
    pull: TargetPull | None
    changes: str
    codes: list[str]


class Known(Frozen):
    """The bed that frames are held against.

    name: the name it was asked for by.
    frame_id: the frame it is, or is a copy of.
    kind: frame, specimen, folder or pattern.
    basis: measured or counted.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its head area [cm²].
    figures: its figures by column, each followed by its u_; None if not known.
    handling_own: of a folder, which of mass, balance and swingweight were read on the copy.
    assumed_head: how its head area was assumed; None if it was declared or named.
    """

    name: str
    frame_id: str
    kind: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float
    figures: dict[str, float | None]
    handling_own: list[str]
    assumed_head: AssumedHead | None


class Neighbours(Shown, Frozen):
    """The frames nearest to a bed.

    reference: the bed.
    within: the tolerances that count.
    left_out: what was asked for, or is usual, but is not known of the bed itself: measures, and zones of the bed.
    at_n: the pull of the bed from which the frames' pulls follow [N].
    searched: how many frames were held against it.
    itself: another copy of the bed's own frame, which shows how probable nearness can be; None for a pattern.
    matches: frames of which everything asked is known, the most probable first.
    partly_known: frames of which something is not known, judged by the rest, the most probable first.
    counts: how many there are of each, whatever the limit.
    package: the data package it comes from.
    """

    reference: Known
    within: list[Tolerance]
    left_out: list[str]
    at_n: float
    searched: int
    itself: Near | None
    matches: list[Near]
    partly_known: list[Near]
    counts: dict[str, int]
    package: PackageName

    def __repr__(self) -> str:
        told = ", ".join(f"{one.frame_id} {100 * one.probability:.0f} %" for one in self.matches[:3])
        return f"<Neighbours of {self.reference.name}: {told or 'none'}>"
