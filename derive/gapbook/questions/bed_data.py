"""What a picture of a bed shows: one measured copy, its strings and hoop, its figures, and its stiffness if asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.questions.comparing import Contrast, compare
from gapbook.questions.counted import counts_of
from gapbook.questions.portrait import Portrait, Row, derived_row, frame_named, frame_portrait, rows_of
from gapbook.questions.subjects import Subject, spellings, unknown
from gapbook.science.bed_geometry import BedStrings, GapUncertainty, Hoop
from gapbook.science.zones import MIDDLES
from gapbook.tables.copies import BedLines, bed_lines, read_bed
from gapbook.tables.package import Package
from gapbook.tables.store import Store

USUAL_GAUGE_MM = 1.25
"""Diameter a string is drawn with if nobody stated it. Common practice, no source."""
STEP_MM = 4.0
"""Distance between the points of a stiffness map [mm]."""


class StiffnessMap(NamedTuple):
    """Stiffness of one copy.

    across: the x at which it is struck [mm from the head's centre].
    along: the y at which it is struck [mm from the head's centre].
    values: its stiffness there [N/mm], [along][across]; NaN if it is not known.
    zones: its stiffness in the middle of each zone [N/mm].
    frame: the frame's row of mechanics.csv; None if there is none.
    """

    across: list[float]
    along: list[float]
    values: list[list[float]]
    zones: dict[str, float]
    frame: Row | None


@dataclass(frozen=True)
class DrawnBed:
    """One copy to draw.

    name: the name it was asked for by.
    specimen_id: the copy.
    frame: its frame's row of frames.csv.
    bed: its row of beds.csv.
    scores: its frame's row of scores.csv; None if the copy itself was named, or the folder of its contribution.
    gauge_mm: the diameter its strings are drawn with [mm].
    strings: where they run.
    u_gap: how well single gaps of it are known.
    hoop: the head's outline.
    stiffness: its stiffness map; None if none was asked for.
    contributed: whether it comes from a folder and is not in the catalogue.
    is_drawing: whether nobody read it, because it was only drawn; then `u_` columns are None.
    """

    name: str
    specimen_id: str
    frame: Row
    bed: Row
    scores: Row | None
    gauge_mm: float
    strings: BedStrings
    u_gap: GapUncertainty
    hoop: Hoop
    stiffness: StiffnessMap | None
    contributed: bool
    is_drawing: bool = False

    @property
    def copy(self) -> str:
        """What its readings are called: the specimen, told apart if they come from a folder."""
        return f"{self.specimen_id} (folder)" if self.contributed else self.specimen_id


def two_beds(store: Store, name: str, other: str) -> tuple[DrawnBed, DrawnBed]:
    """Two copies to lay over each other. GapbookError like `drawn_bed`, or if both are one copy."""
    first, second = drawn_bed(store, name), drawn_bed(store, other)
    if first.copy == second.copy:
        found, fix = f"{name} and {other}: {first.specimen_id}", "Name another frame or copy after --with"
        raise fail("two-beds", "two different copies are laid over each other, and these are one", found=found, fix=fix)
    return first, second


def centre_verdict(store: Store, name: str, other: str) -> Contrast | None:
    """Two beds compared in the centre, as `compare` does it; None if the centre of one is not known."""
    try:
        return compare(store, [other, name]).contrasts[0]
    except GapbookError as error:
        if error.problems[0].code == "zone-blank":
            return None
        raise


def drawn_beds(package: Package, beds: Sequence[Subject]) -> list[DrawnBed | None]:
    """The copy to draw of each bed; None for one that nobody measured."""
    store = Store(package)
    return [drawn_bed(store, bed.name) if bed.basis == "measured" else None for bed in beds]


def drawn_bed(store: Store, name: str, struck: bool = False) -> DrawnBed:
    """The copy to draw, with its stiffness map if `struck`. `name` is a copy, a frame (its first measured copy is drawn), or a
    contribution's folder (the copy in it is drawn).

    GapbookError for an unknown name, for a frame or copy whose bed nobody measured, and as `contribution.joined` raises it.
    """
    frame_id = frame_named(store, name)
    if frame_id is None and Path(name).is_dir():
        return _of_folder(store.package, name, struck)
    if frame_id is None:
        raise unknown(store, name) if counts_of(store, name) is None else _not_measured(name)
    known = frame_portrait(store, frame_id)
    bed = _bed_of(store, known, name)
    specimen = next(row for row in known.specimens if row["specimen_id"] == bed["specimen_id"])
    named = known.frame["frame_id"] in spellings(name)
    return _drawn(store.package, name, (known.frame, specimen, bed, known.scores if named else None), struck)


def lines_of(store: Store, name: str) -> BedLines:
    """The lines of the strings of a measured specimen, or of the copy in a contribution's folder. GapbookError if it was not
    measured.
    """
    if not Path(name).is_dir() or rows_of(store, "specimens", "specimen_id = ?", [name]):
        return bed_lines(store.package, name)
    from gapbook.tables.contribution import joined, only_one  # late: only a folder needs it

    with joined(store.package, Path(name)) as (merged, own):
        return bed_lines(merged, only_one(Path(name), own))


def _of_folder(package: Package, name: str, struck: bool) -> DrawnBed:
    # Late: to derive takes numpy and pyarrow, which a copy of the catalogue does not need.
    from gapbook.tables.contribution import joined, only_one
    from gapbook.tables.derived import compute
    from gapbook.tables.reader import read_table

    with joined(package, Path(name)) as (merged, own):
        beds = compute(merged, ["beds"])["beds"].to_pylist()
        bed = next(row for row in beds if row["specimen_id"] == only_one(Path(name), own))
        frame = next(row for row in read_table(merged, "frames").to_pylist() if row["frame_id"] == bed["frame_id"])
        specimens = read_table(merged, "specimens").to_pylist()
        specimen = next(row for row in specimens if row["specimen_id"] == bed["specimen_id"])
        return _drawn(merged, name, (frame, specimen, bed, None), struck, True)


def _drawn(
    package: Package, name: str, rows: tuple[Row, Row, Row, Row | None], struck: bool, contributed: bool = False
) -> DrawnBed:
    frame, specimen, bed, scores = rows
    hoop = Hoop(bed["head_width_mm"], bed["head_length_mm"], bed["head_exponent"])
    read = read_bed(package, bed["specimen_id"])
    return DrawnBed(
        name=name,
        specimen_id=bed["specimen_id"],
        frame=frame,
        bed=bed,
        scores=scores,
        gauge_mm=specimen["string_gauge_mm"] or USUAL_GAUGE_MM,
        strings=BedStrings(*read.lines),
        u_gap=GapUncertainty(read.u_main_gap, read.u_cross_gap),
        hoop=hoop,
        stiffness=_struck(package, bed, hoop, scores) if struck else None,
        contributed=contributed,
    )


def _struck(package: Package, bed: Row, hoop: Hoop, scores: Row | None) -> StiffnessMap:
    """The map of one copy. The five zones lie at the crossings of three lines each way."""
    from gapbook.tables.copies import copy_map  # late: numpy and pyarrow, for a stiffness map only

    specimen = bed["specimen_id"]
    across, along = _steps(hoop.width / 2.0), _steps(hoop.length / 2.0)
    xs, ys = sorted({x for x, _ in MIDDLES.values()}), sorted({y for _, y in MIDDLES.values()})
    at = copy_map(package, specimen, xs, ys).tolist()
    zones = {zone: at[ys.index(y)][xs.index(x)] for zone, (x, y) in MIDDLES.items()}
    values = copy_map(package, specimen, across, along).tolist()
    frame = derived_row(Store(package), "mechanics", bed["frame_id"]) if scores else None
    return StiffnessMap(across, along, values, zones, frame)


def _steps(half: float) -> list[float]:
    most = int(half / STEP_MM)
    return [STEP_MM * step for step in range(-most, most + 1)]


def _bed_of(store: Store, known: Portrait, name: str) -> Row:
    if known.frame["frame_id"] not in spellings(name):
        for row in known.beds:
            if row["specimen_id"] in spellings(name):
                return row
        raise unknown(store, name)
    if not known.beds:
        raise _not_measured(name)
    return known.beds[0]


def _not_measured(name: str) -> GapbookError:
    message = f"nobody measured a bed of {name}: it is only counted, so there are no string positions to draw"
    fix = "Draw a measured frame (gapbook find --basis measured), or measure this one: gapbook sheet"
    return fail("not-measured", message, fix=fix)
