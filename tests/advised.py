"""Facts of two beds and a player put together by hand, for tests of advice."""

from __future__ import annotations

from dataclasses import replace

from gapbook.questions.advice import Advice, said_of
from gapbook.questions.advice_facts import MIDDLE, Bed, Facts, Player
from gapbook.questions.answer import PackageName
from gapbook.science.comparison import Figure

SQ_IN = 6.4516  # cm² [NIST SP 811]


def bed(name: str = "new", centre: float | None = 110.0, head: float = 100.0, crosses: int = 19, **more: object) -> Bed:
    """A measured bed with 1 % standard uncertainty of openness; head area in sq in; `more` as in Bed."""
    figures: dict[str, object] = {
        "sides": Figure(125.0, 1.25),
        "side_opening": Figure(0.136, 0.005),
        "stiffness": Figure(48.0, 0.4),
    }
    openness = None if centre is None else Figure(centre, centre / 100)
    return replace(Bed(name, "frame", "measured", 1, 16, crosses, head * SQ_IN, openness, **figures), **more)


def counted(name: str = "new", centre: float = 110.0, **more: object) -> Bed:
    """A bed nobody measured, estimated from its counts."""
    return bed(name, centre=centre, sides=None, side_opening=None, stiffness=None, basis="counted", **more)


def middle(**more: object) -> Bed:
    """A middle of the measured frames, exact by definition."""
    figures = {"sides": Figure(125.0, 0.0), "side_opening": Figure(0.136, 0.0), "stiffness": Figure(48.0, 0.0)}
    return replace(Bed(MIDDLE, "middle", "measured", 56, None, 19, 98 * SQ_IN, Figure(110.0, 0.0), **figures), **more)


def facts(new: Bed, known: Bed | None, player: Player | None = None, among: Bed | None = None) -> Facts:
    """Facts at 95 %; `among` is the middle, one that says nothing of the bed unless given."""
    return Facts(new, known, among or replace(middle(), centre=None, stiffness=None), player or Player(), 0.95)


def advice(new: Bed, known: Bed | None, player: Player | None = None, among: Bed | None = None) -> Advice:
    """What is said of these facts."""
    return said_of(facts(new, known, player, among), PackageName(name="made", version="1"))
