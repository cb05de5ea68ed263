"""Everything known and derived about one frame, row by row from the tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gapbook.errors import GapbookError, fail
from gapbook.questions.additions import WithAdditions, what_if
from gapbook.questions.answer import PackageName
from gapbook.questions.ranges import Frozen
from gapbook.questions.subjects import spellings, unknown
from gapbook.tables.package import Package
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

Row = dict[str, Any]


class Portrait(Frozen):
    """One frame, row by row.

    frame: its row of frames.csv.
    scores: its row of scores.csv.
    handling: its row of handling.csv; None if there is none.
    with_additions: its handling with weight added; None if none was.
    mechanics: its row of mechanics.csv; None if there is none.
    specimens: the rows of its copies in specimens.csv.
    beds: the rows of its measured copies in beds.csv.
    package: the data package it comes from.
    """

    frame: Row
    scores: Row
    handling: Row | None
    with_additions: WithAdditions | None
    mechanics: Row | None
    specimens: list[Row]
    beds: list[Row]
    package: PackageName

    def __repr__(self) -> str:
        basis = f"{self.scores['specimens']} measured" if self.scores["basis"] == "measured" else "counted"
        return f"<Portrait: {self.frame['frame_id']}, {self.frame['mains']}×{self.frame['crosses']}, {basis}>"

    def __str__(self) -> str:
        return repr(self)

    def to_arrow(self) -> pa.Table:
        """One row: the frame as declared, its scores, and its handling under names that begin with handling_."""
        import pyarrow as pa  # late: no other use of a portrait needs it

        handling = {f"handling_{name}": value for name, value in (self.handling or {}).items() if name != "frame_id"}
        return pa.Table.from_pylist([{**self.frame, **self.scores, **handling}])


def portrait(store: Store, name: str, add: Sequence[str] = ()) -> Portrait:
    """The frame called `name`, or the frame of the specimen `name`, with the weights in `add` ("5 g at 680 mm") on it.

    GapbookError if there is neither, for a folder, or if a weight is not understood.
    """
    frame_id = _frame_id(store, name)
    frames = rows_of(store, "frames", "frame_id = ?", [frame_id])
    scores = rows_of(store, "scores", "frame_id = ?", [frame_id])
    if not frames or not scores:
        raise _nobody(store, name)
    handling = derived_row(store, "handling", frame_id)
    return Portrait(
        frame=frames[0],
        scores=scores[0],
        handling=handling,
        with_additions=what_if(handling, frames[0]["length_mm"], add) if add else None,
        mechanics=derived_row(store, "mechanics", frame_id),
        specimens=rows_of(store, "specimens", "frame_id = ?", [frame_id]),
        beds=rows_of(store, "beds", "frame_id = ?", [frame_id]),
        package=PackageName(name=store.package.name, version=store.package.version),
    )


def is_derived(package: Package, table: str) -> bool:
    """Whether the package has this derived table, and it has been written."""
    return table in package.resources and package.path(table).is_file()


def _frame_id(store: Store, name: str) -> str:
    """The id, as the catalogue spells it, of the frame called `name`, or of the frame of the specimen `name`."""
    for spelling in spellings(name):
        for table, key in (("frames", "frame_id"), ("specimens", "specimen_id")):
            if rows := rows_of(store, table, f"{key} = ?", [spelling]):
                return str(rows[0]["frame_id"])
    raise _nobody(store, name)


def _nobody(store: Store, name: str) -> GapbookError:
    """The error for a name of no frame and no specimen."""
    if not Path(name).is_dir():
        return unknown(store, name)
    fix = f"Compare what was measured there with a frame: gapbook compare {name} FRAME"
    return fail("not-a-frame", "show takes a frame or a copy, and this is a folder", found=name, fix=fix)


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
