"""Everything known and derived about one frame, row by row from the tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict

from gapbook.questions.additions import WithAdditions, what_if
from gapbook.questions.answer import PackageName
from gapbook.questions.subjects import unknown
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

Row = dict[str, Any]


class Portrait(BaseModel):
    """One frame: its rows in frames, scores, handling and mechanics, and those of its specimens in specimens and beds.

    `with_additions` is its handling with weight added, where that was asked.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

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
        import pyarrow as pa

        handling = {f"handling_{name}": value for name, value in (self.handling or {}).items() if name != "frame_id"}
        return pa.Table.from_pylist([{**self.frame, **self.scores, **handling}])


def portrait(store: Store, name: str, add: Sequence[str] = ()) -> Portrait:
    """The frame called `name`, or the frame of the specimen called so; with what `add` puts on it ("5 g at 680 mm").

    GapbookError where there is neither, or an addition is not understood.
    """
    specimens = _rows(store, "specimens", "frame_id = ? OR specimen_id = ?", [name, name])
    frame_id = next((row["frame_id"] for row in specimens if row["specimen_id"] == name), name)
    frames = _rows(store, "frames", "frame_id = ?", [frame_id])
    scores = _rows(store, "scores", "frame_id = ?", [frame_id])
    if not frames or not scores:
        raise unknown(store, name)
    handling = _rows(store, "handling", "frame_id = ?", [frame_id])
    return Portrait(
        frame=frames[0],
        scores=scores[0],
        handling=handling[0] if handling else None,
        with_additions=what_if(handling[0] if handling else None, frames[0]["length_mm"], add) if add else None,
        mechanics=_mechanics(store, frame_id),
        specimens=_rows(store, "specimens", "frame_id = ?", [frame_id]),
        beds=_rows(store, "beds", "frame_id = ?", [frame_id]),
        package=PackageName(name=store.package.name, version=store.package.version),
    )


def _mechanics(store: Store, frame_id: str) -> Row | None:
    """The frame's row in mechanics; None where there is none, or the package has no such table (yet)."""
    package = store.package
    if "mechanics" not in package.resources or not package.path("mechanics").is_file():
        return None
    found = _rows(store, "mechanics", "frame_id = ?", [frame_id])
    return found[0] if found else None


def _rows(store: Store, table: str, where: str, values: list[str]) -> list[Row]:
    columns = store.package.schema(table).names
    found = store.rows(f"SELECT * FROM {store.load(table)} WHERE {where} ORDER BY 1", values)
    return [dict(zip(columns, row, strict=True)) for row in found]
