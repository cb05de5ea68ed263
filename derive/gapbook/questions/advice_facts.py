"""What advice rests on: the figures of a bed beside those of the bed a player knows, and the conditions rules may name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal, NamedTuple, get_args

from pydantic import Field

from gapbook.questions.portrait import is_derived
from gapbook.questions.question import LIKE_PERCENT
from gapbook.questions.retensioning import stiffness_of_copy
from gapbook.questions.subjects import Subject, subject
from gapbook.science.comparison import Difference, Figure, difference
from gapbook.science.tension import COMMON_N, PULL_N, Pull, within
from gapbook.science.units import UNITS
from gapbook.tables.store import Store

Style = Literal["flat", "mixed", "topspin"]
String = Literal["polyester", "multifilament", "synthetic", "natural", "hybrid"]
Arm = Literal["fine", "sore"]

FEWEST = 8
"""A middle needs at least so many measured frames."""
USUAL_HEAD_CM2 = 97.5 * UNITS["[sin_i]"].factor
"""A head is small if it rounds to less than 98 sq in, the middle of today's range. Common practice, no source."""
STUDY_LOWEST_N = 200.0
"""Lowest tension [N] of the study of Mohandhas et al. 2016, Shoulder & Elbow 8(3), 184-191."""
COLUMNS = ("openness_centre", "openness_sides", "side_opening")
STIFFNESS = "stiffness_centre_n_per_mm"
MIDDLE = "the middle of the measured frames"


class Compared(NamedTuple):
    """A kind of figure that two beds are compared in.

    unit: its unit.
    lower: the word for a bed that is surely lower.
    higher: the word for a bed that is surely higher.
    offset: what is added to both before their ratio is taken.
    """

    unit: str
    lower: str
    higher: str
    offset: float = 0.0


COMPARED: dict[str, Compared] = {
    "centre": Compared("openness", "tighter", "more open"),
    "sides": Compared("openness", "tighter", "more open"),
    "side_opening": Compared("1", "less", "more", offset=1.0),
    "stiffness": Compared("N/mm", "lower", "higher"),
    "middle": Compared("openness", "tighter", "more open"),
    "stiffness_middle": Compared("N/mm", "lower", "higher"),
}
"""The figures that are compared, by name."""
Unsaid = Annotated[Figure | None, Field(exclude=True)]
"""A figure that JSON leaves out."""
TOO_CLOSE = "too close to call"
NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Bed:
    """A bed as advice sees it. A figure is None if it is not known; figures are not part of JSON.

    name: the name it was asked for by.
    kind: frame, specimen, folder or middle.
    basis: measured or counted.
    frames: how many frames it stands for.
    mains: its main strings; None if it is a middle.
    crosses: its cross strings.
    head_area_cm2: its head area [cm²].
    centre: its openness in the centre.
    sides: its openness in the sides.
    side_opening: its side opening.
    stiffness: its stiffness in the centre [N/mm].
    """

    name: str
    kind: str
    basis: str
    frames: int
    mains: int | None
    crosses: int
    head_area_cm2: float
    centre: Unsaid
    sides: Unsaid = None
    side_opening: Unsaid = None
    stiffness: Unsaid = None


@dataclass(frozen=True)
class Player:
    """What a player says; None if nothing was said.

    style: how they hit.
    string: the material of their strings.
    arm: how their arm is.
    tension: the pull tension they name [N].
    """

    style: Style | None = None
    string: String | None = None
    arm: Arm | None = None
    tension: float | None = None


@dataclass(frozen=True)
class Facts:
    """What advice is based on.

    frame: the bed.
    against: the bed it is compared with; None if there is none.
    middle: the middle of the measured frames; None if they are too few.
    player: who asks.
    confidence: how sure a verdict must be.
    """

    frame: Bed
    against: Bed | None
    middle: Bed | None
    player: Player
    confidence: float

    def pair(self, name: str) -> tuple[Figure | None, Figure | None]:
        """A figure of COMPARED of the bed, and the same figure of the bed it is compared with, or of the middle."""
        figure = {"middle": "centre", "stiffness_middle": "stiffness"}.get(name, name)
        other = self.against if figure == name else self.middle
        return getattr(self.frame, figure), getattr(other, figure, None)

    def difference(self, name: str) -> Difference | None:
        """The difference of the two beds in a figure of COMPARED; None if it is not known of both."""
        mine, theirs = self.pair(name)
        if mine is None or theirs is None:
            return None
        offset = COMPARED[name].offset
        if not offset:
            return difference(mine, theirs)
        return difference(Figure(mine.value + offset, mine.u), Figure(theirs.value + offset, theirs.u))

    def verdict(self, name: str) -> str:
        """What can be said of it: its word for lower or higher, TOO_CLOSE or NOT_KNOWN."""
        delta = self.difference(name)
        if delta is None:
            return NOT_KNOWN
        words = {"tighter": COMPARED[name].lower, "more open": COMPARED[name].higher, TOO_CLOSE: TOO_CLOSE}
        return words[delta.verdict(self.confidence)]

    @property
    def more_crosses(self) -> int:
        """Crosses of the bed less those of the other; 0 if there is no other bed."""
        return 0 if self.against is None else self.frame.crosses - self.against.crosses

    @property
    def centre_percent(self) -> float | None:
        """How much wider the mesh is in the centre [%]."""
        delta = self.difference("centre")
        return None if delta is None else delta.percent

    @property
    def tension(self) -> float | None:
        """The pull tension named [N]; None if none was named, or if it is outside the range this model covers."""
        named = self.player.tension
        return named if named is not None and within(Pull(named)) else None


def _verdicts() -> dict[str, Callable[[Facts], bool]]:
    """`centre tighter`, `stiffness not known` and so on, for every figure of COMPARED."""
    return {
        f"{name.replace('_', ' ')} {word}": lambda facts, name=name, word=word: facts.verdict(name) == word  # type: ignore[misc]
        for name, kind in COMPARED.items()
        for word in (kind.lower, kind.higher, TOO_CLOSE, NOT_KNOWN)
    }


def _said() -> dict[str, Callable[[Facts], bool]]:
    """`style flat`, `string polyester`, `arm sore` and so on."""
    return {
        f"{what} {word}": lambda facts, what=what, word=word: getattr(facts.player, what) == word  # type: ignore[misc]
        for what, words in (("style", get_args(Style)), ("string", get_args(String)), ("arm", get_args(Arm)))
        for word in words
    }


CONDITIONS: dict[str, Callable[[Facts], bool]] = {
    **_verdicts(),
    **_said(),
    "centre within 3 %": lambda facts: facts.centre_percent is not None and abs(facts.centre_percent) <= float(LIKE_PERCENT),
    "bed tight": lambda facts: facts.verdict("middle") == "tighter",
    "bed open": lambda facts: facts.verdict("middle") == "more open",
    "bed stiff": lambda facts: facts.verdict("stiffness_middle") == "higher",
    "crosses fewer": lambda facts: facts.more_crosses < 0,
    "crosses more": lambda facts: facts.more_crosses > 0,
    "mesh and crosses disagree": lambda facts: (
        (facts.verdict("centre") == "tighter" and facts.more_crosses < 0)
        or (facts.verdict("centre") == "more open" and facts.more_crosses > 0)
    ),
    "head small": lambda facts: facts.frame.head_area_cm2 < USUAL_HEAD_CM2,
    "string stated": lambda facts: facts.player.string is not None,
    "tension stated": lambda facts: facts.player.tension is not None,
    "tension outside the model": lambda facts: facts.player.tension is not None and facts.tension is None,
    "tension below common use": lambda facts: facts.tension is not None and facts.tension < COMMON_N[0],
    "tension above common use": lambda facts: facts.tension is not None and facts.tension > COMMON_N[1],
    "tension above the study's lowest": lambda facts: (facts.player.tension or 0.0) > STUDY_LOWEST_N,
    "frame counted": lambda facts: facts.frame.basis == "counted",
    "against counted": lambda facts: facts.against is not None and facts.against.basis == "counted",
    "no reference": lambda facts: facts.against is None,
}
"""Every condition a rule may name, with the function that says whether it holds."""


def facts_of(store: Store, name: str, against: str | None, player: Player, confidence: float) -> Facts:
    """The figures that advice is based on. GapbookError for a name nobody knows.

    Stiffness is known of frames if it was derived, and of single copies.

    store: the derived tables.
    name: the bed: a frame, specimen or folder.
    against: the bed it is compared with; if None, the middle of the measured frames.
    player: who asks.
    confidence: how sure a verdict must be.
    """
    stiffness = stiffness_of_frames(store)
    middle = _middle(store, stiffness)
    frame = _bed(store, name, stiffness)
    other = middle if against is None else _bed(store, against, stiffness)
    return Facts(frame, other, middle, player, confidence)


def stiffness_of_frames(store: Store) -> dict[str, Figure]:
    """Centre stiffness of every frame for which it was derived [N/mm]; empty if the package has none."""
    if not is_derived(store.package, "mechanics"):
        return {}
    columns = ["frame_id", STIFFNESS, "u_" + STIFFNESS]
    rows = store.rows(f"SELECT {', '.join(columns)} FROM {store.load('mechanics', columns)}")
    return {name: Figure(value, u) for name, value, u in rows if value is not None and u is not None}


def stiffness_of(store: Store, known: Subject, of_frames: Mapping[str, Figure]) -> Figure | None:
    """Centre stiffness of a bed [N/mm]: of a frame as it was derived, of a measured copy computed; None if it is not known."""
    if known.basis == "counted":
        return None
    return of_frames.get(known.frame_id) if known.kind == "frame" else stiffness_of_copy(store, known, (PULL_N, PULL_N))


def advised(known: Subject, stiffness: Figure | None) -> Bed:
    """A bed as advice sees it, with its stiffness in the centre [N/mm]."""
    counts = known.mains, known.crosses, known.head_area_cm2
    figures = known.openness("centre"), known.openness("sides"), known.figure("side_opening")
    return Bed(known.name, known.kind, known.basis, 1, *counts, *figures, stiffness)


def _bed(store: Store, name: str, of_frames: Mapping[str, Figure]) -> Bed:
    known = subject(store, name, ["shared", *(column for score in COLUMNS for column in (score, "u_" + score))])
    return advised(known, stiffness_of(store, known, of_frames))


def _middle(store: Store, stiffness: Mapping[str, Figure]) -> Bed | None:
    """The median of each figure over the measured frames, taken as exact; None if there are fewer than FEWEST."""
    wanted = ["basis", "crosses", "head_area_cm2", *COLUMNS]
    medians = ", ".join(f"median({column})" for column in ("head_area_cm2", *COLUMNS))
    table = store.load("scores", wanted)
    sql = f"SELECT count(*), quantile_disc(crosses, 0.5), {medians} FROM {table} WHERE basis = 'measured'"
    count, crosses, head, *values = store.rows(sql)[0]
    if count < FEWEST:
        return None
    centre, sides, opening = (None if value is None else Figure(value, 0.0) for value in values)
    stiff = sorted(figure.value for figure in stiffness.values())
    middle = Figure((stiff[(len(stiff) - 1) // 2] + stiff[len(stiff) // 2]) / 2.0, 0.0) if len(stiff) >= FEWEST else None
    return Bed(MIDDLE, "middle", "measured", count, None, crosses, head, centre, sides, opening, middle)
