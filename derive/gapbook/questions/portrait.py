"""Everything known and derived about one frame, row by row from the tables; or about an own copy, or a bare pattern."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gapbook.questions.additions import WithAdditions, what_if
from gapbook.questions.answer import PackageName
from gapbook.questions.budget import Budget, budget
from gapbook.questions.counted import AssumedHead, Counts, counted_bed, counts_of, own_bed
from gapbook.questions.ranges import Frozen
from gapbook.questions.shown import Shown
from gapbook.questions.subjects import is_path, spellings, unknown
from gapbook.tables.package import Package
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

Row = dict[str, Any]


class Portrait(Shown, Frozen):
    """One frame, row by row. For a folder or a pattern: the rows that these tables would have for it.

    name: the frame's id, the folder, or the words for a pattern.
    kind: frame, folder (a contribution's own copy) or pattern (a bed that is named by its counts alone).
    frame: its row of frames.csv; of a pattern, only counts and head area are known.
    scores: its row of scores.csv; of a folder, the scores of its own copy.
    handling: its row of handling.csv; None if there is none.
    with_additions: its handling with weight added; None if none was.
    mechanics: its row of mechanics.csv; None if there is none.
    specimens: the rows of its copies in specimens.csv.
    beds: the rows of its measured copies in beds.csv.
    budgets: what the uncertainty of each of these is made of.
    handling_own: which of mass, balance and swingweight were read on the folder's own copy.
    assumed_head: how the head area of a pattern was assumed; None if it was declared or named.
    package: the data package it comes from.
    """

    name: str
    kind: Literal["frame", "folder", "pattern"]
    frame: Row
    scores: Row
    handling: Row | None
    with_additions: WithAdditions | None
    mechanics: Row | None
    specimens: list[Row]
    beds: list[Row]
    budgets: list[Budget]
    handling_own: list[str]
    assumed_head: AssumedHead | None
    package: PackageName

    def __repr__(self) -> str:
        basis = f"{self.scores['specimens']} measured" if self.scores["basis"] == "measured" else "counted"
        return f"<Portrait: {self.name}, {self.frame['mains']}×{self.frame['crosses']}, {basis}>"

    def to_arrow(self) -> pa.Table:
        """One row: the frame as declared, its scores, and its handling under names that begin with handling_."""
        import pyarrow as pa  # late: no other use of a portrait needs it

        handling = {f"handling_{name}": value for name, value in (self.handling or {}).items() if name != "frame_id"}
        return pa.Table.from_pylist([{**self.frame, **self.scores, **handling}])


def portrait(store: Store, name: str, add: Sequence[str] = ()) -> Portrait:
    """The frame called `name` (or of the specimen of that name), the own copy in a folder, or a pattern, with the weights in
    `add` ("5 g at 680 mm") on it. GapbookError if there is none of these, or if a weight is not understood.
    """
    frame_id = None if is_path(name) else frame_named(store, name)
    if frame_id is not None:
        return frame_portrait(store, frame_id, add)
    if not Path(name).is_dir() and (counts := counts_of(store, name)) is not None:
        return _of_pattern(store, counts, add)
    if not is_path(name) and not Path(name).is_dir():
        raise unknown(store, name)
    return _of_folder(store, name, add)


def frame_portrait(store: Store, frame_id: str, add: Sequence[str] = ()) -> Portrait:
    """The frame of this id. GapbookError if it has no scores, or if a weight is not understood."""
    frames = rows_of(store, "frames", "frame_id = ?", [frame_id])
    scores = rows_of(store, "scores", "frame_id = ?", [frame_id])
    if not frames or not scores:
        raise unknown(store, frame_id)
    frame = frames[0]
    handling = derived_row(store, "handling", frame_id)
    beds = rows_of(store, "beds", "frame_id = ?", [frame_id])
    return Portrait(
        name=frame_id,
        kind="frame",
        frame=frame,
        scores=scores[0],
        handling=handling,
        with_additions=what_if(handling, frame["length_mm"], add) if add else None,
        mechanics=derived_row(store, "mechanics", frame_id),
        specimens=rows_of(store, "specimens", "frame_id = ?", [frame_id]),
        beds=beds,
        budgets=_budgets(beds),
        handling_own=[],
        assumed_head=None,
        package=_package(store),
    )


def _of_pattern(store: Store, counts: Counts, add: Sequence[str]) -> Portrait:
    bed = counted_bed(store, counts)
    identity = {"mains": counts.mains, "crosses": counts.crosses, "head_area_cm2": bed.area}
    frame = dict.fromkeys(store.package.schema("frames").names) | identity
    scores = {"frame_id": None, "basis": "counted", "specimens": 0} | identity
    return Portrait(
        name=counts.name,
        kind="pattern",
        frame=frame,
        scores=scores | {name: bed.scores.get(name) for name in store.package.schema("scores").names if name not in scores},
        handling=None,
        with_additions=what_if(None, None, add) if add else None,
        mechanics=None,
        specimens=[],
        beds=[],
        budgets=[],
        handling_own=[],
        assumed_head=bed.assumed,
        package=_package(store),
    )


def _of_folder(store: Store, name: str, add: Sequence[str]) -> Portrait:
    """The copy in a contribution folder; or if nothing is measured there, the frame of which it counts the strings."""
    from gapbook.tables.contribution import joined, own_copy, own_handling  # late: only a folder needs it

    copy = own_copy(store.package, Path(name))
    handled = own_handling(store.package, Path(name))
    with joined(store.package, Path(name), measured=False) as (merged, _):
        both = Store(merged)
        (frame,) = rows_of(both, "frames", "frame_id = ?", [copy.frame_id])
        specimens = rows_of(both, "specimens", "specimen_id = ?", [copy.specimen_id]) if copy.specimen_id else []
        mechanics = _mechanics(merged, copy.specimen_id) if copy.specimen_id else None
    bed = own_bed(store, copy)
    identity = {"basis": copy.basis, "specimens": len(specimens), "head_area_cm2": bed.area}
    known = {**frame, **bed.scores, **identity}
    return Portrait(
        name=name,
        kind="folder",
        frame=frame,
        scores={column: known.get(column) for column in store.package.schema("scores").names},
        handling=handled.row,
        with_additions=what_if(handled.row, frame["length_mm"], add) if add else None,
        mechanics=mechanics,
        specimens=specimens,
        beds=[dict(copy.scores)] if specimens else [],
        budgets=_budgets([copy.scores] if specimens else []),
        handling_own=handled.own,
        assumed_head=bed.assumed,
        package=_package(store),
    )


def _budgets(beds: Iterable[Mapping[str, Any]]) -> list[Budget]:
    return [found for bed in beds if (found := budget(bed)) is not None]


def _mechanics(package: Package, specimen_id: str) -> Row | None:
    """The row that mechanics.csv would have for one copy; None if the package has no such table."""
    if "mechanics" not in package.resources:
        return None
    from gapbook.tables.copies import copies_of  # late: it solves the bed

    (row,) = copies_of(package, [specimen_id]).mechanics()
    return {"frame_id": None, **row}


def _package(store: Store) -> PackageName:
    return PackageName(name=store.package.name, version=store.package.version)


def is_derived(package: Package, table: str) -> bool:
    """Whether the package has this derived table, and it has been written."""
    return table in package.resources and package.path(table).is_file()


def frame_named(store: Store, name: str) -> str | None:
    """The id, as the catalogue spells it, of the frame called `name`, or of the frame of the specimen `name`; else None."""
    for spelling in spellings(name):
        for table, key in (("frames", "frame_id"), ("specimens", "specimen_id")):
            if rows := rows_of(store, table, f"{key} = ?", [spelling]):
                return str(rows[0]["frame_id"])
    return None


def derived_row(store: Store, table: str, frame_id: str) -> Row | None:
    """The frame's row in a derived table; None if there is none, or the package has no such table (yet)."""
    if not is_derived(store.package, table):
        return None
    rows = rows_of(store, table, "frame_id = ?", [frame_id])
    return rows[0] if rows else None


def rows_of(store: Store, table: str, where: str, values: list[str]) -> list[Row]:
    """Rows of a table, in the order of their keys.

    store: the package's tables.
    table: its name.
    where: the SQL condition that rows meet.
    values: what the condition's question marks stand for.
    """
    columns = store.package.schema(table).names
    rows = store.rows(f"SELECT * FROM {store.load(table)} WHERE {where} ORDER BY 1", values)
    return [dict(zip(columns, row, strict=True)) for row in rows]
