"""Beds side by side: every zone's verdict against the first one named, and why they differ."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING

from gapbook.errors import fail
from gapbook.questions.answer import PackageName, tabulated, typed
from gapbook.questions.portrait import is_derived
from gapbook.questions.ranges import Frozen
from gapbook.questions.shown import Shown
from gapbook.questions.subjects import Subject, all_score_columns, subject
from gapbook.questions.traits import ZONE_WORDS, ZONES, plain, zone_names
from gapbook.science.comparison import CONFIDENCE, Part, Verdict, difference, why
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

TOLD = ("density_centre_per_cm2", "side_opening", "uniformity")
"""Scores that each bed is given besides its openness and drilling."""


HandlingRow = dict[str, float | str | bool | None]


@dataclass(frozen=True)
class Bed(Subject):
    """One bed of a comparison.

    handling: its frame's row of handling.csv, and for a folder what was read on its own copy; None if there is none.
    handling_own: which of mass, balance and swingweight were read on the folder's own copy.
    """

    handling: HandlingRow | None = None
    handling_own: tuple[str, ...] = ()


class Share(Frozen):
    """A part of a difference and its standard uncertainty, in percent (100 times a natural logarithm, so that parts add)."""

    percent: float
    u_percent: float


class Shares(Frozen):
    """The parts of a difference.

    size: the part due to head size.
    count: the part due to the string count.
    drilling: the part due to drilling; None if one of the two beds is only counted.
    zone: the part due to the zone against the centre; None in the centre.
    """

    size: Share
    count: Share
    drilling: Share | None
    zone: Share | None


class Contrast(Frozen):
    """One bed against the first, in one zone.

    name: the bed.
    against: the first bed.
    where: the zone.
    difference_percent: how much more open the bed is [%].
    u_difference_percent: the standard uncertainty of that [%].
    probability_tighter: how probable it is that the bed is the tighter one.
    verdict: what can be said at the confidence asked.
    why: the parts of the difference; None if a head is not known.
    """

    name: str
    against: str
    where: str
    difference_percent: float
    u_difference_percent: float
    probability_tighter: float
    verdict: Verdict
    why: Shares | None


class Comparison(Shown, Frozen):
    """Beds side by side.

    where: the zone asked about.
    confidence: how sure a verdict must be.
    beds: the beds in the order they were named.
    contrasts: each later bed against the first, in every zone that is known of both, the zone asked about first.
    package: the data package it comes from.
    """

    where: str
    confidence: float
    beds: list[Bed]
    contrasts: list[Contrast]
    package: PackageName

    def contrast(self, name: str, where: str) -> Contrast | None:
        """The contrast of one bed with the first in one zone."""
        return next((item for item in self.contrasts if item.name == name and item.where == where), None)

    def __repr__(self) -> str:
        asked = [item for item in self.contrasts if item.where == self.where]
        return f"<Comparison, {self.where}: " + "; ".join(f"{one.name} {one.verdict} ({one.against})" for one in asked) + ">"

    def to_arrow(self) -> pa.Table:
        """One row a contrast; the parts of why, and their standard uncertainties, as columns in percent."""
        parts = ("size", "count", "drilling", "zone")
        columns = typed("name against where", numbers="difference_percent u_difference_percent probability_tighter")
        columns |= typed("verdict", numbers=" ".join(f"why_{part} u_why_{part}" for part in parts))
        rows = []
        for one in self.contrasts:
            row = one.model_dump(exclude={"why"})
            for part in parts:
                share = getattr(one.why, part, None)
                row |= {f"why_{part}": getattr(share, "percent", None), f"u_why_{part}": getattr(share, "u_percent", None)}
            rows.append(row)
        return tabulated(rows, columns)


def compare(store: Store, names: list[str], where: str = "centre", confidence: float = CONFIDENCE) -> Comparison:
    """Compare beds with the first one. GapbookError for fewer than two, an unknown one, or a zone unknown or not measured.

    store: the derived tables.
    names: frames, specimens or contribution folders.
    where: the zone asked about.
    confidence: how sure a verdict must be.
    """
    where = _zone(where)
    columns = list(dict.fromkeys([*all_score_columns(), *(c for name in TOLD for c in (name, "u_" + name))]))
    subjects = _different(store, names, columns)
    first, *others = subjects
    zones = [where, *(zone for zone in ZONES if zone != where)]
    contrasts = [contrast for one in others for zone in zones if (contrast := _contrast(one, first, zone, confidence))]
    for one in others:
        if not any(item.name == one.name and item.where == where for item in contrasts):
            blank = first if first.openness(where) is None else one
            fix = "Compare in the centre, or with a measured frame"
            raise fail("zone-blank", f"the openness of {blank.name} {ZONE_WORDS[where].place} is not known", fix=fix)
    handled = handling_of(store, [one.frame_id for one in subjects])
    beds = [with_handling(store, one, handled.get(one.frame_id)) for one in subjects]
    return Comparison(
        where=where,
        confidence=confidence,
        beds=beds,
        contrasts=contrasts,
        package=PackageName(name=store.package.name, version=store.package.version),
    )


def with_handling(store: Store, one: Subject, row: HandlingRow | None) -> Bed:
    """A bed with its handling: `row`, which is its frame's, or if it is a folder, what was read on the copy in it."""
    own: list[str] = []
    if one.kind == "folder":
        from gapbook.tables.contribution import own_handling  # late: only a folder needs it

        found, own = own_handling(store.package, Path(one.name))
        row = found and {name: value for name, value in found.items() if name != "frame_id"}
    return Bed(**{field.name: getattr(one, field.name) for field in fields(one)}, handling=row, handling_own=tuple(own))


def _zone(where: str) -> str:
    """The zone that these words mean in the question language."""
    zone = zone_names().get(plain(where).strip())
    if zone is None:
        raise fail("wrong-zone", "no such zone", found=where, expected="one of " + ", ".join(ZONES))
    return zone


def _different(store: Store, names: list[str], columns: list[str]) -> list[Subject]:
    """The beds called `names`. GapbookError if there are fewer than two, or if two spellings or paths name one bed."""
    subjects = [subject(store, name, columns) for name in names] if len(set(names)) > 1 else []
    beds = {str(Path(one.name).resolve()) if one.kind == "folder" else one.name for one in subjects}
    if len(beds) < 2 or len(beds) < len(names):
        raise fail("two-beds", "a comparison needs two different beds", found=", ".join(names) or "none")
    return subjects


def handling_of(store: Store, frames: list[str] | None) -> dict[str, HandlingRow]:
    """The rows of handling.csv of these frames (of all if None) by id, if it has been derived."""
    if not is_derived(store.package, "handling"):
        return {}
    columns = store.package.schema("handling").names
    rows = store.rows(
        f"SELECT {', '.join(columns)} FROM {store.load('handling')} WHERE ? OR list_contains(?, frame_id)",
        [frames is None, frames or []],
    )
    return {row[0]: dict(zip(columns[1:], row[1:], strict=True)) for row in rows}


def _contrast(one: Subject, first: Subject, zone: str, confidence: float) -> Contrast | None:
    mine, theirs = one.openness(zone), first.openness(zone)
    if mine is None or theirs is None:
        return None
    delta = difference(mine, theirs)
    builds = one.build(zone), first.build(zone)
    parts = why(*builds) if builds[0] is not None and builds[1] is not None else None  # type: ignore[arg-type]
    return Contrast(
        name=one.name,
        against=first.name,
        where=zone,
        difference_percent=delta.percent,
        u_difference_percent=delta.u_percent,
        probability_tighter=delta.tighter,
        verdict=delta.verdict(confidence),
        why=None
        if parts is None
        else Shares(
            size=_share(parts.size),
            count=_share(parts.strings),
            drilling=_share(parts.drilling) if parts.drilling else None,
            zone=_share(parts.zone) if parts.zone else None,
        ),
    )


def _share(part: Part) -> Share:
    return Share(percent=part.percent, u_percent=part.u)
