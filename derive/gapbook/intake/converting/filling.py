"""What a contribution needs besides its readings: the rows of people, instruments, copies and frames that the catalogue lacks.

What nobody wrote is assumed as the measuring sheet assumes it, and told.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping

from gapbook.errors import Place, Problem
from gapbook.intake.converting.making import Making, Row, slug
from gapbook.questions.measuring_sheet import ASSUMED
from gapbook.tables.cells import quoted
from gapbook.tables.reader import read_table

_USUAL = {
    "gap": "calliper", "mark": "rule", "head_length": "rule", "head_width": "rule", "length": "rule", "mass": "scale",
    "balance": "balance_board",
}  # fmt: skip
"""The kind of instrument that a reading is usually taken with."""
_CALLED = {"balance_board": "board"}
"""How ids of instruments begin, if not with their kind."""
_READS = {
    "calliper": ("gap", "mark", "head_length", "head_width", "length", "balance"),
    "rule": ("gap", "mark", "head_length", "head_width", "length", "balance"),
    "photo": ("gap", "mark", "head_length", "head_width", "head_area"),
    "scale": ("mass",),
    "balance_board": ("balance",),
    "swing_rig": ("swingweight",),
    "planimeter": ("head_area",),
}
"""What each kind of instrument reads."""
_KEYS = {"frames": "frame_id", "specimens": "specimen_id", "contributors": "contributor_id", "instruments": "instrument_id"}


class Filling:
    """Gathers who read what of which copy, and in the end adds the rows that are missing."""

    def __init__(self, making: Making, given: Mapping[str, str]) -> None:
        self.making, self.given = making, given
        self.known = {table: self._rows(table) for table in _KEYS}
        self._names: dict[str, str] = {}
        self._people: dict[str, str] = {}
        self._tools: dict[str, tuple[str, str, Place]] = {}
        self._copies: dict[str, dict[str, str]] = {}
        self._places: dict[str, Place] = {}

    def _rows(self, table: str) -> dict[str, dict[str, object]]:
        """The catalogue's rows by id."""
        return {str(row[_KEYS[table]]): row for row in read_table(self.making.package, table).to_pylist()}

    def called(self, contributor: str, name: str) -> None:
        """Remember how a person was written."""
        self._names.setdefault(contributor, name)

    def complete(self, known: dict[str, str], place: Place, where: str) -> dict[str, str] | None:
        """What rows share, with what follows from it (the copy's id, that a reading is the first); None if more is missing."""
        who, frame = known["contributor_id"], known["frame_id"]
        if not who:
            fix = "Add a column contributor_id, or say --contributor YOUR-ID"
            self._missing("no-contributor", "nothing tells who read it", place, fix)
        if not known["taken_on"]:
            self._missing(
                "no-day", "nothing tells the day of the reading", place, "Add a column taken_on, or say --on YYYY-MM-DD"
            )
        if not known["repeat"]:
            known["repeat"] = "1"
            self.making.guess(f"{where}: each reading is the first of its session, repeat 1, where nothing else is said")
        if not known["specimen_id"] and frame and who:
            known["specimen_id"] = f"{frame}-{who}"
            self.making.guess(f"the copy of {frame} that {who} read is called {known['specimen_id']}")
        if not known["specimen_id"]:
            fix = "Add a column specimen_id or frame_id, or say --specimen ID or --frame ID"
            self._missing("no-specimen", "nothing tells which copy was read", place, fix)
        if not all(known[name] for name in ("contributor_id", "taken_on", "specimen_id")):
            return None
        self._people[who] = min(self._people.get(who, known["taken_on"]), known["taken_on"])
        return known

    def _missing(self, code: str, message: str, place: Place, fix: str) -> None:
        self.making.refuse(Problem(code, message, place, fix=fix))

    def copy(self, known: Mapping[str, str], fields: Mapping[str, str], place: Place) -> None:
        """Remember what a row says of its copy and its frame."""
        name = known["specimen_id"]
        if not name:
            return
        told = self._copies.setdefault(name, {})
        self._places.setdefault(name, place)
        for column, text in {"frame_id": known["frame_id"], **fields}.items():
            if text and told.setdefault(column, text) != text:
                problem = Problem("conflict", f"two rows say otherwise of {name}", place, quoted(text), quoted(told[column]))
                self.making.refuse(problem)

    def instrument(
        self, known: Mapping[str, str], what: str, unit: str, where: str, place: Place, may_differ: bool = True
    ) -> str:
        """The instrument of a reading: the one that is said, or, if it cannot read that, the reader's usual one.

        known: what the row says.
        what: gap, mark or a quantity.
        unit: of the reading.
        where: the list.
        place: of the reading.
        may_differ: whether the instrument of the row may be meant for its other readings.
        """
        said, who = known["instrument_id"], known["contributor_id"]
        kind = self._kind(said)
        if said and (not may_differ or kind is None or what in _READS.get(kind, ())):
            kind = kind or next((one for one in _READS if said.startswith(_CALLED.get(one, one).replace("_", "-"))), None)
            if (
                said in _READS
                or slug(said.replace("-", "_")) in _READS
                or said in ("calliper", "rule", "scale", "ruler", "caliper")
            ):
                plain = {"ruler": "rule", "caliper": "calliper"}.get(said, said.replace("-", "_"))
                name = f"{_CALLED.get(plain, plain)}-{who}".replace("_", "-")
                self.making.guess(f"{where}: the {said} of {who} is called {name}")
                said, kind = name, plain
            self._tools.setdefault(said, (kind or _USUAL.get(what, ""), unit, place))
            return said
        kind = _USUAL.get(what)
        if kind is None:
            fix = "Add a column instrument_id, and its row in a sheet called instruments"
            self._missing("no-instrument", f"nothing tells what {what} was read with", place, fix)
            return ""
        if not who:
            return ""
        name = f"{_CALLED.get(kind, kind)}-{who}"
        self.making.guess(f"{where}: {what} was read with {name}, where nothing else is said")
        self._tools.setdefault(name, (kind, unit, place))
        return name

    def _kind(self, name: str) -> str | None:
        if name in self.known["instruments"]:
            return str(self.known["instruments"][name]["kind"])
        row = next((row for row in self.making.rows.get("instruments", []) if row.cells.get("instrument_id") == name), None)
        return row.cells.get("kind") if row else None

    def finish(self) -> None:
        """Add the rows of frames, copies, people and instruments that neither the catalogue nor the contribution has."""
        self._add_copies()
        has = self._has("contributors")
        for who, day in self._people.items():
            if who not in has:
                name = self._names.get(who, who)
                name = who.replace("-", " ").title() if name == who else name
                self.making.guess(f"{who} is new: the name {quoted(name)}, a contributor since {day}")
                self.making.add("contributors", {"contributor_id": who, "name": name, "since": day}, Place("contributors"))
        has = self._has("instruments")
        for tool, (kind, unit, place) in self._tools.items():
            if tool not in has:
                self._add_tool(tool, kind, unit, place)

    def _has(self, table: str) -> set[str]:
        return {*self.known[table], *(row.cells.get(_KEYS[table], "") for row in self.making.rows.get(table, []))}

    def _add_tool(self, tool: str, kind: str, unit: str, place: Place) -> None:
        base = {"scale": "g", "balance_board": "mm"}.get(kind, unit if unit == "in" else "mm")
        if (kind, base) not in ASSUMED:
            fix = "Describe it in a sheet or file called instruments: instrument_id, kind, resolution, max_error, unit"
            return self._missing("no-instrument", f"nothing is known of the instrument {tool}", place, fix)
        resolution, error = ASSUMED[kind, base]
        what = kind.replace("_", " ")
        told = f"{tool} is new: a {what}, resolution {resolution} {base}, largest error {error} {base}, as is usual"
        self.making.guess(told)
        cells = {"instrument_id": tool, "kind": kind, "resolution": resolution, "max_error": error, "unit": base}
        return self.making.add("instruments", cells, Place("instruments"))

    def _add_copies(self) -> None:
        for name, told in self._copies.items():
            if name not in self._has("specimens"):
                self._add_copy(name, told, self._places[name])
            elif used := sorted(set(told) - {"frame_id"}):
                self.making.guess(f"{name} is known: what the list says of it is left out ({', '.join(used)})")

    def _add_copy(self, name: str, told: Mapping[str, str], place: Place) -> None:
        frame = told.get("frame_id") or self.given.get("frame", "")
        has = self._has("frames")
        if not frame and told.get("model"):
            frame = slug(told["model"])
            self.making.guess(f"{quoted(told['model'])} is called {frame} (frame_id)")
        if not frame:
            near = ", ".join(difflib.get_close_matches(name, self.known["specimens"], 3, 0.6)) or None
            fix = "Add a column frame_id, or say --frame ID" + (f"; or is it {near}?" if near else "")
            problem = Problem(
                "no-frame", f"nobody knows the copy {name}, and nothing tells its frame", place, quoted(name), fix=fix
            )
            return self.making.refuse(problem)
        self.making.add("specimens", self._of("specimens", told) | {"specimen_id": name, "frame_id": frame}, place)
        if frame not in has:
            self._add_frame(frame, told, place)
        return None

    def _add_frame(self, frame: str, told: Mapping[str, str], place: Place) -> None:
        if not {"maker", "model", "mains", "crosses"} <= set(told):
            near = ", ".join(difflib.get_close_matches(frame, self.known["frames"], 3, 0.6))
            fix = "Name one that the catalogue has, or add columns maker, model, mains and crosses"
            fix += f"; is it {near}?" if near else ""
            return self.making.refuse(Problem("unknown-frame", "nobody knows this frame", place, quoted(frame), fix=fix))
        cells = self._of("frames", told) | {"frame_id": frame}
        if "edition" not in cells:
            cells["edition"] = "retail"
            self.making.guess(f"{frame} is new: the edition is retail, where nothing else is said")
        return self.making.add("frames", cells, place)

    def _of(self, table: str, told: Mapping[str, str]) -> dict[str, str]:
        return {name: told[name] for name in self.making.package.schema(table).names if name in told}


def distinct(making: Making) -> None:
    """Take out rows that stand twice; rows of one key that differ are a problem."""
    for table, rows in making.rows.items():
        schema = making.package.schema(table)
        kept: dict[tuple[str, ...], Row] = {}
        twice = 0
        for row in rows:
            key = tuple(row.cells.get(name, "") for name in schema.primary_key)
            first = kept.setdefault(key, row)
            if first is row:
                continue
            twice += 1
            differs = next((name for name in schema.names if row.cells.get(name, "") != first.cells.get(name, "")), None)
            if differs is not None:
                message = f"a row of {table} stands twice, with another {differs} in {first.place}: {'/'.join(key)}"
                found, expected = quoted(row.cells.get(differs, "")), quoted(first.cells.get(differs, ""))
                fix = "Take one out; a second reading of the same gap has repeat 2"
                making.refuse(Problem("conflict", message, row.place, found, expected, fix))
        if twice:
            making.guess(f"{table}: {twice} rows that stand twice are written once")
        making.rows[table] = list(kept.values())
