"""What the columns of a list hold, by their names."""

from __future__ import annotations

import re
from typing import NamedTuple

from gapbook.errors import GapbookError
from gapbook.intake.converting.figures import Habits, number_text, plain, unit_name
from gapbook.intake.converting.mapping import Names, key
from gapbook.tables.package import RAW_TABLES, Package
from gapbook.tables.workbooks import Cell

SYNONYMS = {
    "specimen_id": "specimen, copy, copy id, specimen no",
    "frame_id": "frame, racquet, racket, frame name",
    "contributor_id": "contributor, measured by, read by, reader, measurer, by, who",
    "instrument_id": "instrument, tool, measured with, read with",
    "taken_on": "date, day, measured on, read on, date measured, date of measurement",
    "repeat": "repeat, rep, repetition, trial, pass",
    "family": "family, strings, direction, main/cross, mains/crosses, main or cross",
    "station_mm": "station, height, rule at",
    "no": "no, number, nr, no of gap",
    "value": "value, reading, distance, measurement, measured value",
    "unit": "unit, units",
    "quantity": "quantity, what, measured",
    "strung": "strung",
    "head_length": "head length, inner length, length of head",
    "head_width": "head width, inner width, width of head",
    "head_area": "head area, head size, head",
    "length": "length, overall length, total length",
    "mass": "mass, weight",
    "balance": "balance, balance point",
    "swingweight": "swingweight, swing weight",
    "beam_mm": "beam, beam width",
    "maker": "maker, brand, make, manufacturer",
    "model": "model, model name",
    "edition": "edition",
    "release_year": "year, released, model year",
    "mains": "main strings, number of mains, no of mains",
    "crosses": "cross strings, number of crosses, no of crosses",
    "pattern": "pattern, string pattern",
    "string_gauge_mm": "gauge, string gauge, string diameter",
    "note": "notes, comment, comments, remark, remarks",
    "edge": "edge, inner edge, left edge, right edge, tip edge, throat edge, left, right",
}
"""English words for what a column holds, besides its own name. A word of these is a guess, and told."""
QUANTITIES = ("head_length", "head_width", "head_area", "length", "mass", "balance", "swingweight")
NUMBERED = ("gap", "mark", "main gap", "cross gap", "main mark", "cross mark")
FAMILIES = {"main": "main", "mains": "main", "m": "main", "cross": "cross", "crosses": "cross", "x": "cross", "c": "cross"}
_WIDE = re.compile(
    r"(?:(mains?|m|cross(?:es)?|x|c) ?)?(gap|g|mark|string|position|pos)?(?:s|no|nr|n°)? ?"
    r"([0-9]{1,2})(?: ?(?:-|to) ?[0-9]{1,2})?"
)
_STEM = re.compile(r"(.*?) ?(?:no|nr|n°)? ?([0-9]{1,2})")
_UNIT = re.compile(r"[\[(]([^\])]+)[\])]")
_ENDING = re.compile(r" (mm|cm|in|inch|inches|oz|g|kg)$")


class Column(NamedTuple):
    """What a column holds.

    target: a field of a table, a quantity, `gap`, `mark`, `edge`, `pattern`, or `string` (a place, by number); blank if it is
        left out.
    told: its name in the list.
    exact: whether that is gapbook's own name, or the mapping file's.
    family: main or cross, if the name says so.
    no: the number of the gap or mark, if the column holds one.
    unit: the unit in its name.
    """

    target: str
    told: str
    exact: bool
    family: str | None = None
    no: int | None = None
    unit: str | None = None

    @property
    def means(self) -> str:
        """What it is taken for, in words."""
        if not self.target:
            return "left out"
        what = " ".join(filter(None, (self.family, self.target, None if self.no is None else str(self.no))))
        return what + (f" [{self.unit}]" if self.unit else "")


class Vocabulary:
    """The names that are known: gapbook's own, English words for them, and those of a mapping file."""

    def __init__(self, package: Package, names: Names, habits: Habits) -> None:
        self.names, self.habits = names, habits
        self.fields = {name for table in RAW_TABLES if table in package.resources for name in package.schema(table).names}
        self.exact = {key(name): name for name in (*self.fields, *QUANTITIES)}
        self.words = {word: target for target, words in SYNONYMS.items() for word in words.split(", ")}

    def column(self, cell: Cell) -> Column | None:
        """What a column of this name holds; None if nobody knows."""
        told = plain(number_text(cell)) if isinstance(cell, float | int) and not isinstance(cell, bool) else plain(str(cell))
        if cell is None or isinstance(cell, bool) or len(told) > 80 or not told:
            return None
        bare, unit = key(told), self._unit(told)
        return self._mapped(told, bare, unit) or self._own(told, bare, unit) or self._wide(told, bare, unit)

    def _unit(self, told: str) -> str | None:
        """The unit in a name: in brackets, or as its last word."""
        for found in (*_UNIT.findall(told), *_ENDING.findall(told.lower())):
            try:
                return unit_name(found, self.habits)
            except GapbookError:
                continue
        return None

    def _mapped(self, told: str, bare: str, unit: str | None) -> Column | None:
        if (target := self.names.columns.get(bare)) is not None:
            return self._numbered(told, target, None, unit) if target in NUMBERED else Column(target, told, True, unit=unit)
        if (found := _STEM.fullmatch(bare)) and (target := self.names.columns.get(found[1])) in NUMBERED:
            return self._numbered(told, str(target), int(found[2]), unit)
        if (found := _STEM.fullmatch(bare)) and (target := self.names.columns.get(f"{found[1]} n°")) in NUMBERED:
            return self._numbered(told, str(target), int(found[2]), unit)
        return None

    def _numbered(self, told: str, target: str, no: int | None, unit: str | None) -> Column:
        family, _, kind = target.rpartition(" ")
        return Column(kind, told, True, family or None, no, unit)

    def _own(self, told: str, bare: str, unit: str | None) -> Column | None:
        if (target := self.exact.get(bare)) is not None:
            return Column(target, told, True, unit=unit)
        if bare in ("gap", "gap no", "gap number"):
            return Column("gap", told, False, unit=unit)
        if bare in ("mark", "string", "mark no", "string no", "string number"):
            return Column("mark", told, False, unit=unit)
        stem = bare.removesuffix(f" {unit}").removesuffix(" in") if unit else bare
        for name in (bare, stem):
            if (target := self.words.get(name)) is not None:
                return Column(target, told, False, unit=unit)
        return None

    def _wide(self, told: str, bare: str, unit: str | None) -> Column | None:
        bare = bare.removesuffix(f" {unit}").removesuffix(" in") if unit else bare
        if not (found := _WIDE.fullmatch(bare)):
            return None
        family, what, no = found[1], found[2], int(found[3])
        target = {
            "gap": "gap",
            "g": "gap",
            "mark": "mark",
            "string": "mark",
            "position": "mark",
            "pos": "mark",
            None: "string",
        }[what]
        is_own = what in ("gap", "mark") and len(family or "mains") > 1
        return Column(target, told, is_own, FAMILIES.get(family or ""), no, unit)

    def word(self, text: str) -> str:
        """What a word in a cell stands for: that of the mapping file, else the word itself."""
        return self.names.words.get(key(text), text)

    def family(self, text: str) -> str | None:
        """The family that a word names."""
        return FAMILIES.get(key(self.word(text)))

    @property
    def targets(self) -> set[str]:
        """What a mapping file may name."""
        return {*self.fields, *QUANTITIES, *NUMBERED, "edge", "pattern"}


def left_out(cell: Cell) -> Column:
    """A column whose name nobody knows."""
    return Column("", plain(str(cell)), False)
