"""What a measuring sheet asks for: every reading of one copy, in order, as CSV rows that lack only their value.

A session is made of a frame, a copy or a bare pattern, and of a few wishes. It is checked against the catalogue.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import MappingProxyType

from gapbook.errors import fail
from gapbook.questions.counted import counts_of
from gapbook.questions.portrait import Row, rows_of
from gapbook.questions.subjects import unknown
from gapbook.science.units import lookup
from gapbook.tables.files import drafting
from gapbook.tables.package import Package
from gapbook.tables.store import Store

Cells = dict[str, str]
"""A row of a CSV as text; columns not named stay blank."""

NOBODY = "me"
"""Who reads if nobody is named. It is good for one's own comparisons; `check` refuses it, because many would be called so."""
KINDS = ("mark", "gap")
UNITS = ("mm", "in")
SERVES = {"calliper": "gap", "rule": "mark", "photo": "mark"}
"""Kinds of instrument that read strings, and the kind of reading that each gives."""
ASSUMED = {
    ("rule", "mm"): ("0.5", "0.3"),
    ("rule", "in"): ("0.03125", "0.015"),
    ("calliper", "mm"): ("0.02", "0.04"),
    ("calliper", "in"): ("0.001", "0.0015"),
    ("scale", "g"): ("1", "2"),
    ("balance_board", "mm"): ("1", "1"),
}
"""Resolution and largest error of an instrument nobody described, by kind and unit. Common practice, no source."""
FURTHEST_MM = 120.0
"""Stations lie no further than this from the middle [mm]: further out, a head has hardly any bed."""
MOST_STATIONS = 3
_STATION = re.compile(r"[+-]?[0-9]{1,3}(?:\.[0-9]{1,2})?")


@dataclass(frozen=True)
class Tool:
    """An instrument, as its row of instruments.csv is written.

    instrument_id: its id.
    kind: the kind of instrument.
    resolution: the smallest step it shows.
    max_error: its largest error.
    unit: the unit of both, and of its readings.
    known: whether the catalogue has it already.
    """

    instrument_id: str
    kind: str
    resolution: str
    max_error: str
    unit: str
    known: bool = False


@dataclass(frozen=True)
class Run:
    """One family of strings read once at one station.

    family: main or cross.
    station: the height at which the instrument lies [mm].
    repeat: 1 for the first time it is read, 2 for the second, and so on.
    numbers: the numbers of the gaps or marks to be read, in order.
    """

    family: str
    station: str
    repeat: int
    numbers: tuple[int, ...]


@dataclass(frozen=True)
class Copy:
    """The copy to be read.

    frame_id: its frame.
    mains: main strings.
    crosses: cross strings.
    specimen_id: its id.
    area_cm2: the head area that its maker declares, or that was named with a pattern [cm²]; None if there is none.
    frame_known: whether the catalogue has the frame.
    specimen_known: whether it has the copy.
    """

    frame_id: str
    mains: int
    crosses: int
    specimen_id: str
    area_cm2: float | None
    frame_known: bool
    specimen_known: bool


@dataclass(frozen=True)
class Session(Copy):
    """What is to be read on one copy.

    contributor_id: who reads.
    tool: the instrument for the strings.
    rule: the instrument for the head's inner width and length, and the frame's length.
    kind: gap or mark.
    stations: the heights at which mains are read [mm], 0 first.
    repeats: how often every run is read.
    taken_on: the day, as YYYY-MM-DD.
    contributor_known: whether the catalogue has the person.
    handling: whether length, mass and balance are read too.
    scale: the instrument for mass.
    board: the instrument for balance.
    """

    contributor_id: str
    tool: Tool
    rule: Tool
    kind: str
    stations: tuple[str, ...]
    repeats: int
    taken_on: str
    contributor_known: bool
    handling: bool
    scale: Tool
    board: Tool

    @property
    def whole_frame(self) -> tuple[tuple[str, Tool], ...]:
        """Readings of the whole frame, in their order, each with its instrument."""
        head = (("head_length", self.rule), ("head_width", self.rule))
        more = (("length", self.rule), ("mass", self.scale), ("balance", self.board))
        return head + (more if self.handling else ())

    @property
    def runs(self) -> tuple[Run, ...]:
        """The runs in their order: mains at each station, then crosses, each as often as it is repeated."""
        lines = [("main", station, self.mains) for station in self.stations] + [("cross", "0", self.crosses)]
        last = 1 if self.kind == "mark" else 0
        return tuple(
            Run(family, station, repeat, tuple(range(strings + last + 1)))
            for family, station, strings in lines
            for repeat in range(1, self.repeats + 1)
        )

    @property
    def by_hand(self) -> tuple[str, ...]:
        """What people must fill in besides `value`, in words."""
        if self.frame_known:
            return ()
        area = "; head_area_cm2 if one is declared, else it follows from length and width" if self.area_cm2 is None else ""
        return (f"frames.csv: maker and model{area}",)

    @property
    def assumed(self) -> tuple[Tool, ...]:
        """Instruments that nobody described: their resolution and largest error are assumed."""
        used = [self.tool, *(tool for _, tool in self.whole_frame)]
        return tuple(tool for tool in dict.fromkeys(used) if not tool.known)


@dataclass(frozen=True)
class Wishes:
    """What was asked for. None means the default.

    specimen: the copy's id; by default FRAME-CONTRIBUTOR.
    contributor: who reads; by default NOBODY, which `check` refuses.
    instrument: the instrument for the strings; by default rule-CONTRIBUTOR, for gaps calliper-CONTRIBUTOR.
    kind: mark or gap; by default the one that the instrument gives.
    unit: mm or in; by default the instrument's.
    stations: heights at which mains are read [mm], with commas between.
    repeats: how often every run is read.
    taken_on: the day, as YYYY-MM-DD; by default today.
    handling: whether length, mass and balance are read too.
    """

    specimen: str | None = None
    contributor: str | None = None
    instrument: str | None = None
    kind: str | None = None
    unit: str | None = None
    stations: str = "0,80,-80"
    repeats: int = 1
    taken_on: str | None = None
    handling: bool = False


def session(store: Store, name: str, wishes: Wishes) -> Session:
    """The session for `name`: a frame, a copy or a pattern. GapbookError if it is unknown, or if a wish cannot be met."""
    contributor = _slug(store, "contributors", wishes.contributor or NOBODY)
    copy = _copy(store, name, contributor, wishes.specimen)
    tool = _tool(store, contributor, wishes)
    kind = wishes.kind or SERVES.get(tool.kind, "mark")
    rule = tool if tool.kind == "rule" else _usual(store, f"rule-{contributor}", "rule", tool.unit)
    return Session(
        **vars(copy),
        contributor_id=contributor,
        tool=tool,
        rule=rule,
        kind=kind,
        stations=_stations(wishes.stations),
        repeats=wishes.repeats,
        taken_on=_day(wishes.taken_on),
        contributor_known=_row(store, "contributors", contributor) is not None,
        handling=wishes.handling,
        scale=_usual(store, f"scale-{contributor}", "scale", "g"),
        board=_usual(store, f"board-{contributor}", "balance_board", "mm"),
    )


def _copy(store: Store, name: str, contributor: str, wished: str | None) -> Copy:
    specimen = _row(store, "specimens", name)
    frame = _row(store, "frames", specimen["frame_id"] if specimen else name)
    if frame is None:
        return _copy_of_pattern(store, name, contributor, wished)
    specimen_id, known = _specimen(store, frame["frame_id"], contributor, wished or (name if specimen else None))
    area = frame["head_area_cm2"]
    return Copy(frame["frame_id"], int(frame["mains"]), int(frame["crosses"]), specimen_id, area, True, known)


def _copy_of_pattern(store: Store, name: str, contributor: str, wished: str | None) -> Copy:
    counts = counts_of(store, name)
    if counts is None:
        raise unknown(store, name)
    frame_id = _free(store, "frames", f"{counts.mains}x{counts.crosses}-{contributor}")
    specimen_id, known = _specimen(store, frame_id, contributor, wished)
    return Copy(frame_id, counts.mains, counts.crosses, specimen_id, counts.area, False, known)


def _specimen(store: Store, frame_id: str, contributor: str, wished: str | None) -> tuple[str, bool]:
    """The id of the copy, and whether the catalogue has it. GapbookError if it is a copy of another frame."""
    if wished is None:
        own = "a" if frame_id.endswith(f"-{contributor}") else contributor
        return _free(store, "specimens", f"{frame_id}-{own}"), False
    known = _row(store, "specimens", _slug(store, "specimens", wished))
    if known is not None and known["frame_id"] != frame_id:
        fix = "Name the copy itself instead of a frame, or another --specimen"
        raise fail("other-frame", f"{wished} is a copy of another frame", found=known["frame_id"], expected=frame_id, fix=fix)
    return wished, known is not None


def _tool(store: Store, contributor: str, wishes: Wishes) -> Tool:
    if wishes.kind not in (None, *KINDS):
        raise fail("bad-kind", "--kind does not take this", found=wishes.kind, expected=" or ".join(KINDS))
    if wishes.unit not in (None, *UNITS):
        raise fail("bad-unit", "--unit does not take this", found=wishes.unit, expected=" or ".join(UNITS))
    kind = "calliper" if wishes.kind == "gap" else "rule"
    name = _slug(store, "instruments", wishes.instrument or f"{kind}-{contributor}")
    tool = _usual(store, name, kind, wishes.unit or "mm")
    unit = lookup(tool.unit)
    if unit is None or unit.base != "mm" or tool.kind not in SERVES:
        raise fail("instrument-dimension", f"{name} does not read strings", found=tool.kind, expected=", ".join(SERVES))
    return replace(tool, unit=wishes.unit) if wishes.unit else tool


def _usual(store: Store, name: str, kind: str, unit: str) -> Tool:
    """The instrument of this name in the catalogue; if there is none, one of this kind as ASSUMED has it."""
    known = _row(store, "instruments", name)
    if known is not None:
        return Tool(name, known["kind"], f"{known['resolution']:g}", f"{known['max_error']:g}", known["unit"], known=True)
    code = lookup(unit)
    written = "in" if code is not None and code.code == "[in_i]" else unit
    return Tool(name, kind, *ASSUMED[kind, written], written)


def _stations(text: str) -> tuple[str, ...]:
    """The heights, 0 first. GapbookError if 0 is missing, one comes twice, one is outside the bed, or there are too many."""
    expected = f"0 and up to {MOST_STATIONS - 1} more, each from -{FURTHEST_MM:g} to {FURTHEST_MM:g}, such as 0,80,-80"
    parts = [part.strip() for part in text.split(",")]
    if not all(_STATION.fullmatch(part) for part in parts):
        raise fail("bad-stations", "--stations takes heights in mm", found=text, expected=expected)
    values = [float(part) for part in parts]
    if 0.0 not in values or len(set(values)) < len(values) or len(values) > MOST_STATIONS:
        raise fail("bad-stations", "these stations cannot be read", found=text, expected=expected)
    if max(map(abs, values)) > FURTHEST_MM:
        raise fail("bad-stations", "a station lies outside the bed", found=text, expected=expected)
    return ("0", *(f"{value:g}" for value in values if value))


def _day(text: str | None) -> str:
    if text is None:
        return date.today().isoformat()
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise fail("bad-day", "--on takes a day", found=text, expected="YYYY-MM-DD") from None


def _slug(store: Store, table: str, name: str) -> str:
    """`name`. GapbookError if it cannot be an id of the table."""
    field = store.package.schema(table).fields[0]
    if not re.fullmatch(field.pattern or ".+", name) or len(name) > (field.max_length or len(name)):
        expected = "small letters, digits and hyphens, at most 64, such as rule-ada-moss"
        raise fail("bad-id", f"this cannot be a {field.name}", found=name, expected=expected)
    return name


def _free(store: Store, table: str, name: str) -> str:
    """`name`, or with a number after it if the catalogue has it already."""
    tried, number = name, 1
    while _row(store, table, tried) is not None:
        number += 1
        tried = f"{name}-{number}"
    return _slug(store, table, tried)


def _row(store: Store, table: str, key: str) -> Row | None:
    rows = rows_of(store, table, f"{store.package.schema(table).names[0]} = ?", [key])
    return rows[0] if rows else None


def tables(session: Session) -> dict[str, list[Cells]]:
    """The session's own rows by table; cells not named stay blank."""
    rows: dict[str, list[Cells]] = {}
    if not session.frame_known:
        counts = {"mains": str(session.mains), "crosses": str(session.crosses)}
        area = {} if session.area_cm2 is None else {"head_area_cm2": f"{session.area_cm2:.1f}"}
        rows["frames"] = [{"frame_id": session.frame_id, "edition": "retail", **counts, **area}]
    if not session.specimen_known:
        rows["specimens"] = [{"specimen_id": session.specimen_id, "frame_id": session.frame_id}]
    if not session.contributor_known:
        name = session.contributor_id.replace("-", " ").title()
        rows["contributors"] = [{"contributor_id": session.contributor_id, "name": name, "since": session.taken_on}]
    if session.assumed:
        names = ("instrument_id", "kind", "resolution", "max_error", "unit")
        rows["instruments"] = [{name: getattr(tool, name) for name in names} for tool in session.assumed]
    rows["readings"] = [
        {**_common(session, tool, 1), "quantity": quantity, "strung": "true"} for quantity, tool in session.whole_frame
    ]
    rows["spacings"] = [
        _common(session, session.tool, run.repeat)
        | {"family": run.family, "station_mm": run.station, "kind": session.kind, "no": str(number)}
        for run in session.runs
        for number in run.numbers
    ]
    return rows


def _common(session: Session, tool: Tool, repeat: int) -> Cells:
    by = {"specimen_id": session.specimen_id, "contributor_id": session.contributor_id, "taken_on": session.taken_on}
    return {**by, "instrument_id": tool.instrument_id, "unit": tool.unit, "repeat": str(repeat)}


@contextmanager
def writing(
    tables: Mapping[str, list[Cells]], package: Package, folder: Path, others: Mapping[str, bytes] = MappingProxyType({})
) -> Iterator[list[Path]]:
    """Write tables as CSV into a new folder, with the headers of the package's schemas; gives the files' paths.

    tables: rows by table
    package: whose schemas they have
    folder: put in its place at the end of the context if all went well there, as when a picture beside it was drawn
    others: further files of the folder, by name

    GapbookError if the folder already holds something, because there may be readings in it.
    """
    must_be_free(folder)
    with drafting(folder) as draft:
        for table, rows in tables.items():
            text = io.StringIO()
            out = csv.DictWriter(text, package.schema(table).names, restval="", lineterminator="\n")
            out.writeheader()
            out.writerows(rows)
            (draft / f"{table}.csv").write_bytes(text.getvalue().encode())
        for name, data in others.items():
            (draft / name).write_bytes(data)
        yield [folder / name for name in (*(f"{table}.csv" for table in tables), *others)]
        must_be_free(folder)
        if folder.exists():
            folder.rmdir()
        os.rename(draft, folder)


def write_tables(
    tables: Mapping[str, list[Cells]], package: Package, folder: Path, others: Mapping[str, bytes] = MappingProxyType({})
) -> list[Path]:
    """The same with nothing else to be done: the files' paths.

    tables: rows by table
    package: whose schemas they have
    folder: new, or empty
    others: further files of the folder, by name
    """
    with writing(tables, package, folder, others) as written:
        return written


def must_be_free(folder: Path) -> None:
    """GapbookError unless `folder` is an empty folder or not there yet."""
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        fix = "Name another --out, or take the old folder away"
        raise fail("folder-in-use", f"{folder} is there already and may hold readings; nothing was written", fix=fix)
