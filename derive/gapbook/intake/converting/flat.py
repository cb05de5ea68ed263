"""Rows of readings and spacings, whatever their layout: one reading a row, or one column a gap, a mark or a quantity."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from gapbook.errors import Problem
from gapbook.intake.converting.columns import QUANTITIES, Column
from gapbook.intake.converting.figures import unit_name
from gapbook.intake.converting.filling import Filling
from gapbook.intake.converting.lists import List, Said
from gapbook.intake.converting.making import Making, Reader
from gapbook.science.units import lookup, names
from gapbook.tables.cells import quoted
from gapbook.tables.schemas import Field
from gapbook.tables.workbooks import Cell

DECLARED = {
    "head_area": "head_area_cm2", "length": "length_mm", "mass": "mass_g", "balance": "balance_mm",
    "swingweight": "swingweight_kgcm2",
}  # fmt: skip
"""What a word for a quantity means in a list of frames: the declared figure."""
_GIVEN = {
    "contributor_id": "contributor", "instrument_id": "instrument", "specimen_id": "specimen", "frame_id": "frame",
    "kind": "kind", "family": "family", "unit": "unit", "taken_on": "on", "station_mm": "station", "strung": "strung",
}  # fmt: skip
"""Fields that an option or a mapping file may give for all rows, and what it is called there."""


def named(column: Column) -> str | None:
    """The unit that stands in gapbook's own name of a column; the field's own, which needs no conversion."""
    return _OWN.get(column.target) if column.exact else None


_OWN = {
    "head_area_cm2": "cm2", "length_mm": "mm", "beam_mm": "mm", "mass_g": "g", "balance_mm": "mm",
    "swingweight_kgcm2": "kg.cm2", "string_gauge_mm": "mm", "station_mm": "mm",
}  # fmt: skip


def pattern(making: Making, reader: Reader, cell: Cell, place: tuple[int, int]) -> dict[str, str]:
    """Mains and crosses of a string pattern such as 16x19.

    making: gathers what is made.
    reader: reads the grid.
    cell: the pattern.
    place: its row and column.
    """
    text = reader.text(cell)
    mains, _, crosses = text.lower().replace("×", "x").replace("/", "x").replace(" ", "").partition("x")
    if not (mains.isdecimal() and crosses.isdecimal()):
        where = reader.grid.place(*place, "pattern")
        making.refuse(
            Problem("not-a-number", "the cell holds no pattern", where, quoted(text), "mains x crosses, such as 16x19")
        )
        return {}
    making.guess(f"{quoted(text)} means {mains} mains and {crosses} crosses")
    return {"mains": mains, "crosses": crosses}


@dataclass
class Flat:
    """Reads rows of readings and spacings: one reading a row, or one column a gap, a mark, a family or a quantity.

    making: gathers what is made.
    reader: reads the list's grid.
    one: the list.
    filling: gathers who read what of which copy.
    given: what holds for all rows.
    """

    making: Making
    reader: Reader
    one: List
    filling: Filling
    given: Mapping[str, str]

    def __post_init__(self) -> None:
        columns = self.one.columns
        self.by = {
            column.target: place for place, column in columns.items() if column.no is None and column.target not in ("", "edge")
        }
        self.wide = [(place, column) for place, column in columns.items() if column.no is not None or column.target == "edge"]
        self.is_long = bool({"no", "gap", "mark"} & set(self.by))
        self.families: dict[str, int] = {}
        if self.is_long and "value" not in self.by:
            self.families = {
                name: self.by[target] for target, name in (("mains", "main"), ("crosses", "cross")) if target in self.by
            }
        self._memo: dict[tuple[int, int, str], str] = {}
        self.spacings = self.making.package.schema("spacings")
        self.readings = self.making.package.schema("readings")
        self.blank = self.spacings.field("value").missing
        self.shared = {item.name: item for item in (*self.readings.fields, *self.spacings.fields)}
        self.shared["frame_id"] = self.making.package.schema("specimens").field("frame_id")
        self.described = list(self._described())

    def read(self, row: int) -> None:
        """Add the rows that a row of the list makes."""
        cells = self._wide_spacings(row) + self._long_spacings(row)
        wide = self._wide_readings(row)
        long = self._long_reading(row)
        if cells or wide or long:
            known = self._known(row)
            if known is None:
                return
            for family, kind, no, place in cells:
                self._spacing(row, place, known, family, kind, no)
            for quantity, place in [*wide, *long]:
                self._reading(row, place, known, quantity, bool(cells), is_wide=(quantity, place) in wide)
            self.filling.copy(known, self._fields(row), self.one.grid.place(row))
        elif fields := self._fields(row):
            if (known := self._known(row)) is not None:
                self.filling.copy(known, fields, self.one.grid.place(row))
        else:
            first = next(cell for cell in self.one.grid.rows[row] if cell is not None)
            where = f"{self.one.grid.name}, row {self._row(row)}"
            self.making.guess(f"{where}: left out, because no figure stands in it ({quoted(str(first))})")

    def _cell(self, row: int, place: int) -> Cell:
        """A cell; None if it is blank, or says that nothing was read."""
        cell = self.one.cell(row, place)
        return None if isinstance(cell, str) and cell.strip() in self.blank else cell

    def _row(self, row: int) -> int:
        return self.one.grid.lines[row] if self.one.grid.sheet is None else row + 1

    def _said(self, row: int, name: str) -> Said | None:
        """What is said of a field: in the row, else above the list."""
        place = self.by.get(name)
        if place is not None and (cell := self._cell(row, place)) is not None:
            return Said(cell, row, place)
        return self.one.context.get(name)

    def _common(self, row: int, name: str) -> str:
        """A field that rows of spacings and readings share; blank if nobody says it."""
        if (said := self._said(row, name)) is not None:
            column = self.one.columns.get(said.column) if said.row == row else None
            unit = None if column is None else column.unit or named(column)
            known = (said.row, said.column, name)
            if known not in self._memo:
                self._memo[known] = self.reader.cell(said.cell, (said.row, said.column), self.shared[name], unit)
            return self._memo[known]
        return self.given.get(_GIVEN.get(name, ""), "")

    def _known(self, row: int) -> dict[str, str] | None:
        """What all rows made of this row share; None if some of it cannot be read or is missing."""
        names = ("specimen_id", "frame_id", "contributor_id", "instrument_id", "taken_on", "repeat")
        known = {name: self._common(row, name) for name in names}
        if any((said := self._said(row, name)) is not None and not known[name] for name in names):
            return None
        said = self._said(row, "contributor_id")
        if said is not None:
            self.filling.called(known["contributor_id"], self.reader.text(said.cell))
        return self.filling.complete(known, self.one.grid.place(row), self.one.grid.name)

    def _fields(self, row: int) -> dict[str, str]:
        """What a row says of its frame and its copy."""
        out: dict[str, str] = {}
        for item, place in self.described:
            column, cell = self.one.columns[place], self._cell(row, place)
            if cell is not None:
                out[item.name] = self.reader.cell(cell, (row, place), item, column.unit or named(column))
        if "pattern" in self.by and (cell := self._cell(row, self.by["pattern"])) is not None:
            out |= pattern(self.making, self.reader, cell, (row, self.by["pattern"]))
        return out

    def _described(self) -> Iterator[tuple[Field, int]]:
        """The fields of frames and specimens that columns hold, each with its column."""
        for table in ("frames", "specimens"):
            for item in self.making.package.schema(table).fields[1:]:
                place = self.by.get(item.name)
                if item.name == "head_area_cm2" and place is None and self._is_new():
                    place = self.by.get("head_area")
                if place is not None and item.name not in ("frame_id", "strung") and place not in self.families.values():
                    yield item, place

    def _is_new(self) -> bool:
        """Whether rows describe their frames, so that a head size in them is the declared one."""
        return bool({"maker", "model"} & set(self.by))

    def _wide_spacings(self, row: int) -> list[tuple[str | None, str | None, int, int]]:
        """Family, kind, number and column of each filled cell whose column is a gap, a mark or an edge."""
        numbers = [column.no for _, column in self.wide if column.no is not None]
        if not numbers:
            return []
        kinds = [column.target for _, column in self.wide if column.target in ("gap", "mark")]
        out = []
        for place, column in self.wide:
            if self._cell(row, place) is None:
                continue
            no, kind = column.no, column.target
            if kind == "edge":
                after = any(one.no is not None and where < place for where, one in self.wide)
                no, kind = (max(numbers) + 1 if after else 0), (kinds[0] if kinds else "string")
            out.append((column.family, None if kind == "string" else kind, int(no or 0), place))
        return out

    def _long_spacings(self, row: int) -> list[tuple[str | None, str | None, int, int]]:
        """The same for a row that tells the number, with one value or one a family."""
        name = next((name for name in ("no", "gap", "mark") if name in self.by), None)
        if name is None or (said := self._said(row, name)) is None:
            return []
        places = [(family, place) for family, place in self.families.items() if self._cell(row, place) is not None]
        if not self.families:
            if "value" not in self.by:
                return []
            places = [("", self.by["value"])]
        number = self.reader.cell(said.cell, (said.row, said.column), self.spacings.field("no"))
        if not number.isdecimal():
            if number:
                where = self.one.grid.place(said.row, said.column, "no")
                self.making.refuse(Problem("not-a-number", "the cell holds no number of a gap or mark", where, quoted(number)))
            return []
        return [(family or None, None if name == "no" else name, int(number), place) for family, place in places]

    def _wide_readings(self, row: int) -> list[tuple[str, int]]:
        """Quantity and column of each filled cell whose column is a quantity."""
        out = [(name, self.by[name]) for name in QUANTITIES if name in self.by and self._cell(row, self.by[name]) is not None]
        return [(name, place) for name, place in out if not (name == "head_area" and self._is_new())]

    def _long_reading(self, row: int) -> list[tuple[str, int]]:
        said = self._said(row, "quantity")
        if said is None or "value" not in self.by:
            return []
        return [(self.reader.word(said.cell, (said.row, said.column), self.readings.field("quantity")), self.by["value"])]

    def _value(self, row: int, place: int, base: str | None) -> tuple[str, str]:
        """The figure in a cell and its unit: the one beside it, in the column's name, in the column `unit`, or given."""
        cell = self._cell(row, place)
        where = self.one.grid.place(row, place, self.one.columns[place].told)
        if cell is None:
            self.making.refuse(
                Problem("required", "the figure is missing", where, "''", "a number", "Fill it in, or take the row out")
            )
            return "", ""
        is_plain = isinstance(cell, str) and cell.replace(".", "", 1).isdecimal() and self.making.habits.decimal is None
        found = None if is_plain else self.reader.figure(cell, (row, place), self.one.columns[place].told)
        if found is None and not is_plain:
            return "", ""
        text, unit = (str(cell), None) if found is None else (found.text, found.unit)
        unit = unit or self.one.columns[place].unit or self._unit(row, base)
        if unit is None:
            expected = "a unit in the column's name, in a column `unit`, or beside the figure"
            usual = ", ".join(names(base or "mm")[:3])
            fix = f"Say --unit, with one of {usual}, or name the column with its unit"
            self.making.refuse(Problem("no-unit", "nothing tells the unit", where, quoted(str(cell)), expected, fix))
        elif (known := lookup(unit)) is not None and base is not None and known.base != base:
            expected = "one of " + ", ".join(names(base))
            self.making.refuse(
                Problem("unit-dimension", "the unit measures something else", where, quoted(str(cell)), expected)
            )
        return text, unit or ""

    def _unit(self, row: int, base: str | None) -> str | None:
        """The unit that the row, what stands above or an option tells; one of another dimension only if the row itself does."""
        if (said := self._said(row, "unit")) is not None:
            text = self.reader.text(said.cell)
            unit = (
                text
                if lookup(text) is not None
                else self.reader._try(lambda: unit_name(text, self.making.habits), (said.row, said.column), "unit")
            )
            known = lookup(str(unit))
            if known is not None and (known.base == base or (said.row == row and len(self.by) and "value" in self.by)):
                return str(unit)
        given = self.given.get("unit")
        known = lookup(given) if given else None
        return given if known is not None and known.base == base else None

    def _spacing(self, row: int, place: int, known: Mapping[str, str], family: str | None, kind: str | None, no: int) -> None:
        where = self.one.grid.place(row, place)
        told = self._common(row, "kind")
        if kind is not None and told and told != kind:
            problem = Problem(
                "kind", "the column is of another kind than the row", where, quoted(self.one.columns[place].told), told
            )
            return self.making.refuse(problem)
        kind = kind or told
        if not kind:
            fix = "Say --kind gap or --kind mark, or call the columns gap 1, gap 2, ... or mark 0, mark 1, ..."
            return self.making.refuse(Problem("no-kind", "gaps or marks?", where, fix=fix))
        family = family or self._common(row, "family")
        if not family:
            fix = "Add a column family (main or cross), call the columns main gap 1, ..., or say --family main"
            return self.making.refuse(Problem("no-family", "mains or crosses?", where, fix=fix))
        value, unit = self._value(row, place, "mm")
        station = self._station(row, family, place)
        tool = self.filling.instrument(known, kind, unit, self.one.grid.name, where)
        cells = {**known, "family": family, "kind": kind, "no": str(no), "value": value, "unit": unit, "station_mm": station}
        if value and unit and tool:
            self.making.add("spacings", {**cells, "instrument_id": tool}, where)
        return None

    def _station(self, row: int, family: str, place: int) -> str:
        if family == "cross" and "station_mm" not in self.by:
            return "0"
        text = self._common(row, "station_mm")
        if not text:
            self.making.guess(f"{self.one.grid.name}: the rule lay across the middle, station_mm 0, where nothing else is said")
        return text or "0"

    def _reading(
        self, row: int, place: int, known: Mapping[str, str], quantity: str, with_strings: bool, is_wide: bool
    ) -> None:
        where = self.one.grid.place(row, place)
        base = self.readings.field("quantity").units.get(quantity)
        if base is None:
            expected = self.readings.field("quantity").says()
            return self.making.refuse(
                Problem("enum", "nobody reads this", replace(where, column="quantity"), quoted(quantity), expected)
            )
        value, unit = self._value(row, place, base)
        strung = self._common(row, "strung")
        if not strung and with_strings:
            strung = "true"
            self.making.guess(f"{self.one.grid.name}: the frame was strung where its strings were read")
        if not strung:
            fix = "Add a column strung, or say --strung true or --strung false"
            return self.making.refuse(Problem("no-strung", "was the frame strung?", where, fix=fix))
        tool = self.filling.instrument(known, quantity, unit, self.one.grid.name, where, may_differ=is_wide)
        if value and unit and tool:
            cells = {**known, "instrument_id": tool, "quantity": quantity, "strung": strung, "value": value, "unit": unit}
            self.making.add("readings", cells, where)
        return None
