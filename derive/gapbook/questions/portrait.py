"""Everything known and derived about one frame, row by row from the tables."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict

from gapbook.questions.answer import PackageName
from gapbook.questions.subjects import unknown
from gapbook.tables.store import Store

Row = dict[str, Any]


class Portrait(BaseModel):
    """One frame: its rows in frames, scores and handling, and those of its specimens in specimens and beds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    frame: Row
    scores: Row
    handling: Row | None
    specimens: list[Row]
    beds: list[Row]
    package: PackageName


def portrait(store: Store, name: str) -> Portrait:
    """The frame called `name`, or the frame of the specimen called so. GapbookError where there is neither."""
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
        specimens=_rows(store, "specimens", "frame_id = ?", [frame_id]),
        beds=_rows(store, "beds", "frame_id = ?", [frame_id]),
        package=PackageName(name=store.package.name, version=store.package.version),
    )


def _rows(store: Store, table: str, where: str, values: list[str]) -> list[Row]:
    columns = store.package.schema(table).names
    found = store.rows(f"SELECT * FROM {store.load(table)} WHERE {where} ORDER BY 1", values)
    return [dict(zip(columns, row, strict=True)) for row in found]
