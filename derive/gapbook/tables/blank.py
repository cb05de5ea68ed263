"""A measuring session laid out in advance: every reading to take, in order, as rows that lack only their value."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from gapbook.errors import fail
from gapbook.tables.package import Package

Row = dict[str, str]


@dataclass(frozen=True)
class Tool:
    """An instrument: its row of instruments.csv, and whether the catalogue knows it already."""

    instrument_id: str
    kind: str
    resolution: str
    max_error: str
    unit: str
    known: bool = False


@dataclass(frozen=True)
class Run:
    """One laying of the instrument: a family at one station, and the numbers to be read in order."""

    family: str
    station: str
    repeat: int
    numbers: tuple[int, ...]


@dataclass(frozen=True)
class Session:
    """What is to be read on one copy. `frame_known`, `specimen_known`, `contributor_known`: the catalogue has the row.

    `kind` is gap or mark, `stations` the heights at which mains are read, 0 first; `tool` reads the strings, `rule` the
    head's inner width and length; with `handling` length, mass and balance are read too, by `rule`, `scale` and `board`.
    """

    frame_id: str
    mains: int
    crosses: int
    specimen_id: str
    contributor_id: str
    tool: Tool
    rule: Tool
    kind: str
    stations: tuple[str, ...]
    repeats: int
    taken_on: str
    frame_known: bool
    specimen_known: bool
    contributor_known: bool
    handling: bool
    scale: Tool
    board: Tool

    @property
    def whole_frame(self) -> tuple[tuple[str, Tool], ...]:
        """Whole-frame readings in their order, each with what it is taken with."""
        head = (("head_length", self.rule), ("head_width", self.rule))
        more = (("length", self.rule), ("mass", self.scale), ("balance", self.board))
        return head + (more if self.handling else ())

    @property
    def runs(self) -> tuple[Run, ...]:
        """The layings in their order: mains at each station, then crosses, each as often as it is repeated."""
        lines = [("main", station, self.mains) for station in self.stations] + [("cross", "0", self.crosses)]
        last = 1 if self.kind == "mark" else 0
        return tuple(
            Run(family, station, repeat, tuple(range(strings + last + 1)))
            for family, station, strings in lines
            for repeat in range(1, self.repeats + 1)
        )

    @property
    def by_hand(self) -> tuple[str, ...]:
        """What has to be filled in besides `value`, in words."""
        return () if self.frame_known else ("frames.csv: maker, model and head_area_cm2",)

    @property
    def assumed(self) -> tuple[Tool, ...]:
        """Instruments nobody described: how fine and true they read is assumed."""
        used = [self.tool, *(tool for _, tool in self.whole_frame)]
        return tuple(tool for tool in dict.fromkeys(used) if not tool.known)


def tables(session: Session) -> dict[str, list[Row]]:
    """The rows by table, the session's own only; cells not named stay blank."""
    found: dict[str, list[Row]] = {}
    if not session.frame_known:
        counts = {"mains": str(session.mains), "crosses": str(session.crosses)}
        found["frames"] = [{"frame_id": session.frame_id, "edition": "retail", **counts}]
    if not session.specimen_known:
        found["specimens"] = [{"specimen_id": session.specimen_id, "frame_id": session.frame_id}]
    if not session.contributor_known:
        name = session.contributor_id.replace("-", " ").title()
        found["contributors"] = [{"contributor_id": session.contributor_id, "name": name, "since": session.taken_on}]
    if session.assumed:
        names = ("instrument_id", "kind", "resolution", "max_error", "unit")
        found["instruments"] = [{name: getattr(tool, name) for name in names} for tool in session.assumed]
    return found | {"readings": list(_readings(session)), "spacings": list(_spacings(session))}


def _common(session: Session, tool: Tool, repeat: int) -> Row:
    by = {"specimen_id": session.specimen_id, "contributor_id": session.contributor_id, "taken_on": session.taken_on}
    return {**by, "instrument_id": tool.instrument_id, "unit": tool.unit, "repeat": str(repeat)}


def _readings(session: Session) -> Iterator[Row]:
    for quantity, tool in session.whole_frame:
        yield {**_common(session, tool, 1), "quantity": quantity, "strung": "true"}


def _spacings(session: Session) -> Iterator[Row]:
    for run in session.runs:
        for number in run.numbers:
            place = {"family": run.family, "station_mm": run.station, "kind": session.kind, "no": str(number)}
            yield {**_common(session, session.tool, run.repeat), **place}


def write(session: Session, package: Package, folder: Path) -> list[Path]:
    """Write the tables as CSV into a new folder, headers as the package's schemas have them.

    GapbookError where the folder already holds something: there might be readings in it.
    """
    must_be_free(folder)
    written = []
    try:
        folder.mkdir(exist_ok=True)
        for table, rows in tables(session).items():
            text = io.StringIO()
            out = csv.DictWriter(text, package.schema(table).names, restval="", lineterminator="\n")
            out.writeheader()
            out.writerows(rows)
            path = folder / f"{table}.csv"
            with path.open("x", encoding="utf-8", newline="") as stream:
                stream.write(text.getvalue())
            written.append(path)
    except OSError as error:
        raise fail("unwritable", f"{folder} cannot be written: {error.strerror}") from None
    return written


def must_be_free(folder: Path) -> None:
    """GapbookError unless `folder` is an empty folder or not there yet."""
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        fix = "Name another --out, or take the old folder away"
        raise fail("folder-in-use", f"{folder} is there already and may hold readings; nothing was written", fix=fix)
