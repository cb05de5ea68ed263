"""Relations of a question: how a frame stands to a reference, in openness or in another trait."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from decimal import Decimal
from typing import Literal, NamedTuple

from pydantic import Field, field_validator, model_validator

from gapbook.errors import GapbookError, fail
from gapbook.questions.ranges import Frozen
from gapbook.questions.traits import Zone, plain

SLUG = re.compile(r"[a-z0-9][a-z0-9-]*")
LIKE_PERCENT = Decimal(3)
"""`like` means within so many percent if no other percentage is given."""
LONGEST_REFERENCE = 300
_PEERS = re.compile(r"most (?=.)(?:([1-9][0-9]?)x([1-9][0-9]?))?(?: ?([1-9][0-9]{1,2}) sq in)?")

Kind = Literal["tighter", "more_open", "like", "not_tighter", "not_more_open"]
KINDS: tuple[Kind, ...] = ("tighter", "more_open", "like", "not_tighter", "not_more_open")
_OPPOSITE = {("tighter", "more_open"), ("tighter", "not_tighter"), ("more_open", "not_more_open")}


def reference_text(text: str) -> str:
    """A reference as it is kept: ids in lower case, folder paths (with a slash or a dot in them) as they are."""
    return text if any(sign in text for sign in "/\\.") else text.lower()


class Peers(NamedTuple):
    """A class of frames as the reference: all of a string pattern, or of a head size [sq in], or of both."""

    mains: int | None
    crosses: int | None
    square_inches: int | None

    @property
    def words(self) -> str:
        """The class in words: `16x19`, `16x19 98 sq in`."""
        pattern = [] if self.mains is None else [f"{self.mains}x{self.crosses}"]
        head = [] if self.square_inches is None else [f"{self.square_inches} sq in"]
        return " ".join(pattern + head)

    @property
    def reference(self) -> str:
        """The class as it is kept as a reference: `most 16x19`."""
        return f"most {self.words}"


def peers_of(reference: str) -> Peers | None:
    """The class that a reference stands for; None if it is a frame, a copy or a folder."""
    match = _PEERS.fullmatch(reference)
    return Peers(*(int(one) if one else None for one in match.groups())) if match else None


def checked_reference(reference: str) -> str:
    """A reference that can be written in a question: one line, not empty, not with both kinds of quotation marks
    [GapbookError bad-reference].
    """
    text = reference.strip()
    unwritable = any(unicodedata.category(sign)[0] == "C" or sign in "\u2028\u2029" for sign in text)
    if not text or len(text) > LONGEST_REFERENCE or unwritable or {'"', "'"} <= set(plain(text)):
        expected = "a frame id, a specimen id or a folder"
        raise fail("bad-reference", "this cannot be a reference", found=repr(reference)[:60], expected=expected)
    return text


class Relation(Frozen):
    """How the openness of a frame stands to that of a reference."""

    kind: Kind = Field(
        description="tighter, more_open, like (close to it), not_tighter or not_more_open (the other is not sure)."
    )
    zone: Zone = Field(default="centre", description="Where the two are compared.")
    reference: str = Field(description="A frame_id, a specimen_id, a contribution's folder, or most 16x19 for a class.")
    within_percent: Decimal = Field(default=LIKE_PERCENT, description="For like: how far the openness may differ.")

    _nameable = field_validator("reference")(checked_reference)

    @model_validator(mode="before")
    @classmethod
    def _usual_percent(cls, data: object) -> object:
        """Only `like` has a percentage. Other kinds keep the usual one, so that equal relations are equal objects."""
        if isinstance(data, dict) and data.get("kind") in KINDS and data.get("kind") != "like":
            return {**data, "within_percent": LIKE_PERCENT}
        return data

    @field_validator("within_percent")
    @classmethod
    def _a_share(cls, percent: Decimal) -> Decimal:
        if not Decimal("1e-9") <= percent <= 100 or len(percent.as_tuple().digits) > 12:
            raise fail("bad-percent", "within takes a percentage above 0, at most 100", found=str(percent)[:40])
        return Decimal(f"{percent.normalize():f}")


class Compared(NamedTuple):
    """A trait in which frames are compared with a reference.

    less: what a frame with less of it is called: `lighter`.
    more: what a frame with more of it is called: `heavier`.
    table: its table; handling means strung frames.
    value: SQL for it, with the table's columns.
    u: SQL for its standard uncertainty; None if the table has none, so that figures are compared as they stand.
    asked: the trait of `traits.TRAITS` that is shown beside; None if there is none.
    """

    less: str
    more: str
    table: str
    value: str
    u: str | None = None
    asked: str | None = None


COMPARED: dict[str, Compared] = {
    "head_area": Compared("smaller head", "bigger head", "scores", "head_area_cm2"),
    "mains": Compared("fewer mains", "more mains", "scores", "mains"),
    "crosses": Compared("fewer crosses", "more crosses", "scores", "crosses"),
    "side_opening": Compared(
        "lower side opening", "higher side opening", "scores", "side_opening", "u_side_opening", "side_opening"
    ),
    "evenness": Compared(
        "less even", "more even", "scores", "-abs(ln(uniformity))", "u_uniformity / uniformity", "uniformity"
    ),
    "drilling": Compared(
        *("drilled closer", "drilled wider", "scores", "ln(drilling_main * drilling_cross) / 2"),
        u="sqrt((u_drilling_main / drilling_main) ** 2 + (u_drilling_cross / drilling_cross) ** 2) / 2",
        asked="drilling_main",
    ),
    "stiffness": Compared(
        *("softer bed", "stiffer bed", "mechanics", "stiffness_centre_n_per_mm", "u_stiffness_centre_n_per_mm")
    ),
    "mass": Compared("lighter", "heavier", "handling", "mass_g", "u_mass_g", "mass"),
    "balance": Compared(
        "more head light", "more head heavy", "handling", "balance_points", "u_balance_points", "balance"
    ),
    "swingweight": Compared(
        *("lower swingweight", "higher swingweight", "handling", "swingweight_kgcm2", "u_swingweight_kgcm2", "swingweight")
    ),
    "length": Compared("shorter", "longer", "frames", "length_mm", asked="length"),
    "beam": Compared("thinner beam", "thicker beam", "frames", "beam_mm", asked="beam"),
    "release_year": Compared("older", "newer", "frames", "release_year", asked="release_year"),
}  # fmt: skip
"""Every trait but openness in which frames are compared, by its key, in the order in which a question in words names them.

Evenness is how near uniformity is to 1; drilling that of both families, below 1 if the centre is closer than even.
"""
_COMPARED_ORDER = {key: place for place, key in enumerate(COMPARED)}
TraitKind = Literal["less", "more", "not_less", "not_more"]
_TRAIT_KINDS: tuple[TraitKind, ...] = ("less", "more", "not_less", "not_more")
_TRAIT_OPPOSITE = {("less", "more"), ("less", "not_less"), ("more", "not_more")}


class TraitRelation(Frozen):
    """How a trait of a frame stands to that of a reference: lighter than it, with more crosses than it."""

    trait: str = Field(description="The key of the trait: mass, swingweight, head_area, evenness, drilling, stiffness, ...")
    kind: TraitKind = Field(description="less or more of it than the reference; not_less, not_more: the other is not sure.")
    reference: str = Field(description="A frame_id or a specimen_id; the trait is that of its frame.")

    _nameable = field_validator("reference")(checked_reference)

    @field_validator("trait")
    @classmethod
    def _known(cls, trait: str) -> str:
        if trait not in COMPARED:
            raise fail("unknown-trait", "frames cannot be compared in this", found=trait, expected=", ".join(COMPARED))
        return trait

    @property
    def about(self) -> Compared:
        """The trait."""
        return COMPARED[self.trait]


def settle_relations(relations: Iterable[Relation]) -> tuple[Relation, ...]:
    """Relations without doubles, in their order; of two `like`, the closer one stays [GapbookError contradiction]."""
    settled: dict[tuple[str, str, str], Relation] = {}
    for one in relations:
        key = (one.zone, one.kind, one.reference)
        if key not in settled or settled[key].within_percent > one.within_percent:
            settled[key] = one
    for zone, kind, reference in settled:
        for first, second in _OPPOSITE:
            if kind == first and (zone, second, reference) in settled:
                raise contradiction(f"nothing is both {_said(first)} and {_said(second)} than {reference} in the same place")
    return tuple(settled.values())


def _said(kind: str) -> str:
    return kind.replace("_", " ")


def settle_trait_relations(relations: Iterable[TraitRelation]) -> tuple[TraitRelation, ...]:
    """Relations of traits without doubles, in the order of COMPARED [GapbookError contradiction]."""
    settled = set(relations)
    for one in settled:
        for first, second in _TRAIT_OPPOSITE:
            if one.kind == first and one.model_copy(update={"kind": second}) in settled:
                raise contradiction(f"nothing is both {one.about.less} and {one.about.more} than {one.reference}")
    key = sorted(settled, key=lambda one: (_COMPARED_ORDER[one.trait], _TRAIT_KINDS.index(one.kind), one.reference))
    return tuple(key)


def contradiction(message: str) -> GapbookError:
    """The error of clauses that cannot all hold."""
    return fail("contradiction", message, fix="Leave one out, or join alternatives by “or”: 16x19 or 16x20")
