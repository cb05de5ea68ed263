"""The other parts of a question: relations to a reference, alternative patterns, and the order of the answer."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from gapbook.errors import fail
from gapbook.questions.traits import TRAITS, Zone, plain

SLUG = re.compile(r"[a-z0-9][a-z0-9-]*")
LIKE_PERCENT = Decimal(3)
"""`like` means within so many percent, where no other figure is given."""
LONGEST_REFERENCE = 300
MOST_FRAMES = 10**9
"""The largest limit that can be asked for."""


def reference_text(text: str) -> str:
    """A reference as it is kept: ids in lower case, folder paths (with a slash or a dot in them) as they are."""
    return text if any(sign in text for sign in "/\\.") else text.lower()


class Relation(BaseModel):
    """How the openness of a frame stands to that of a reference."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: Literal["tighter", "more_open", "like"] = Field(description="tighter, more_open, or like (close to it).")
    zone: Zone = Field(default="centre", description="Where the two are compared.")
    reference: str = Field(description="A frame_id, a specimen_id, or the folder of a contribution.")
    within_percent: Decimal = Field(default=LIKE_PERCENT, description="For like: how far the openness may differ.")

    @field_validator("reference")
    @classmethod
    def _nameable(cls, reference: str) -> str:
        """Text that can be written in a question: not empty, of one line, without both kinds of quotation marks."""
        text = reference.strip()
        unwritable = any(unicodedata.category(sign)[0] == "C" or sign in "\u2028\u2029" for sign in text)
        if not text or len(text) > LONGEST_REFERENCE or unwritable or {'"', "'"} <= set(plain(text)):
            expected = "a frame id, a specimen id or a folder"
            raise fail("bad-reference", "this cannot be a reference", found=repr(reference)[:60], expected=expected)
        return text

    @model_validator(mode="before")
    @classmethod
    def _usual_percent(cls, data: object) -> object:
        """Only `like` has a percentage; elsewhere the usual one stands, so that equal relations are equal."""
        if isinstance(data, dict) and data.get("kind") in ("tighter", "more_open"):
            return {**data, "within_percent": LIKE_PERCENT}
        return data

    @field_validator("within_percent")
    @classmethod
    def _a_share(cls, percent: Decimal) -> Decimal:
        if not Decimal("1e-9") <= percent <= 100 or len(percent.as_tuple().digits) > 12:
            raise fail("bad-percent", "within takes a percentage above 0, at most 100", found=str(percent)[:40])
        return Decimal(f"{percent.normalize():f}")


class Pattern(BaseModel):
    """A string pattern: how many mains and crosses."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    mains: int = Field(ge=1, le=100, description="Number of main strings.")
    crosses: int = Field(ge=1, le=100, description="Number of cross strings.")


class Order(BaseModel):
    """What the answer is sorted by: openness (tightest or most open first), closest, name, or any other trait."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    by: str = Field(description="openness, closest (to the reference), name (the frame_id), or another trait's key.")
    zone: Zone | None = Field(default=None, description="Where on the bed; for openness without one, the zone asked about.")
    descending: bool = Field(default=False, description="From the highest down: most open, heaviest, Z to A.")

    @model_validator(mode="before")
    @classmethod
    def _usual_zone(cls, data: object) -> object:
        """The trait's first zone where none is named, but for openness."""
        by = data.get("by") if isinstance(data, dict) else None
        if isinstance(data, dict) and data.get("zone") is None and by in TRAITS and by != "openness":
            zones = TRAITS[by].zones
            return {**data, "zone": zones[0] if zones else None}
        return data

    @model_validator(mode="after")
    def _sortable(self) -> Order:
        if self.by not in TRAITS and self.by not in ("closest", "name"):
            expected = ", ".join(("closest", "name", *TRAITS))
            raise fail("unknown-trait", "answers cannot be sorted by this", found=self.by, expected=expected)
        zones = TRAITS[self.by].zones if self.by in TRAITS else ()
        if self.zone is not None and self.zone not in zones:
            raise fail("wrong-zone", f"{self.by.replace('_', ' ')} has no such zone", found=self.zone)
        if self.by == "closest" and self.descending:
            raise fail("bad-order", "closest comes first; there is no farthest first")
        return self
