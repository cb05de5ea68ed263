"""The measuring sheet as a spreadsheet: one block a family to fill in, with units and the schemas' limits on its cells."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, Literal

from gapbook.errors import fail
from gapbook.questions.measuring_sheet import Cells, Session, tables
from gapbook.science.units import lookup
from gapbook.tables.files import replacing
from gapbook.tables.package import Package
from gapbook.tables.schemas import Field

BED = "bed"
"""The sheet with the blocks of strings; every other is called like its table."""
TITLES = {"main": "Mains", "cross": "Crosses"}
_BLANK = "FFF2CC"
_SHARED = ("specimen_id", "contributor_id", "instrument_id", "taken_on", "unit")


def path_of(out: Path) -> Path:
    """Where the spreadsheet of a page goes. GapbookError if it is there already, because there may be readings in it."""
    path = out.with_suffix(".xlsx")
    if path.exists() or path.is_symlink():
        fix = "Name another --out, or take the old file away"
        raise fail("file-in-use", f"{path} is there already and may hold readings; nothing was written", fix=fix)
    return path


def write(session: Session, package: Package, path: Path) -> None:
    """Write the session as a spreadsheet. GapbookError `no-writer` without the extra, or if it cannot be written."""
    try:
        from openpyxl import Workbook  # here: an extra, and only needed here
    except ImportError:
        fix = "pip install 'gapbook[spreadsheets]', or leave --xlsx out"
        raise fail("no-writer", "spreadsheets are written with openpyxl", fix=fix) from None
    book = Workbook()
    rows = tables(session)
    _bed(book.active, session, package)
    for table, listed in rows.items():
        if table != "spacings":
            _table(book.create_sheet(table), table, listed, package)
    out = io.BytesIO()
    book.save(out)
    with replacing(path) as stream:
        stream.write(out.getvalue())


def _bed(sheet: Any, session: Session, package: Package) -> None:
    """What all rows share, and below it a block of runs for each family: a row a run, a column a gap or mark."""
    sheet.title = BED
    schema = package.schema("spacings")
    said = {**vars(session), "instrument_id": session.tool.instrument_id, "unit": session.tool.unit}
    for name in _SHARED:
        sheet.append([name, _cell(schema.field(name), str(said[name]))])
    limits = _limits(sheet, schema.field("value"), session.tool.unit)
    for family, group in groupby(session.runs, lambda run: run.family):
        runs = list(group)
        sheet.append([])
        sheet.append([TITLES[family]])
        sheet.append(["station_mm", "repeat", *(f"{session.kind} {number}" for number in runs[0].numbers)])
        for run in runs:
            sheet.append([float(run.station), run.repeat])
            for column in range(3, len(run.numbers) + 3):
                _blank(sheet.cell(sheet.max_row, column), limits)
    sheet.column_dimensions["A"].width = 18
    sheet.column_dimensions["B"].width = 24


def _table(sheet: Any, table: str, rows: Sequence[Cells], package: Package) -> None:
    """The rows of one table; what is blank and must not be is to be filled in."""
    schema = package.schema(table)
    sheet.append(schema.names)
    validations: dict[tuple[str, str], Any] = {}
    for row in rows:
        sheet.append([_cell(item, row.get(item.name, "")) for item in schema.fields])
        for column, item in enumerate(schema.fields, 1):
            if not row.get(item.name) and item.required:
                unit = row.get("unit", item.unit or "")
                if (item.name, unit) not in validations:
                    validations[item.name, unit] = _limits(sheet, item, unit)
                _blank(sheet.cell(sheet.max_row, column), validations[item.name, unit])
    for column in range(1, len(schema.names) + 1):
        sheet.column_dimensions[sheet.cell(1, column).column_letter].width = 18


def _cell(item: Field, text: str) -> object:
    """A cell of a spreadsheet: a day as a date, a figure as a number, None if it is blank."""
    if not text:
        return None
    if item.type == "date":
        return datetime.date.fromisoformat(text)
    return float(text) if item.type == "number" else int(text) if item.type == "integer" else text


def _blank(cell: Any, limits: Any) -> None:
    """Mark a cell that is to be filled in, and hold it to its limits."""
    from openpyxl.styles import PatternFill

    cell.fill = PatternFill("solid", fgColor=_BLANK)
    if limits is not None:
        limits.add(cell)


def _limits(sheet: Any, item: Field, unit: str) -> Any:
    """What a spreadsheet lets into a cell of a field, added to the sheet; None if anything may stand there."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if item.enum:
        rule = DataValidation(type="list", formula1=f'"{",".join(item.enum)}"', allow_blank=True)
    elif item.type in ("number", "integer") and item.minimum is not None and item.maximum is not None:
        kind: Literal["decimal", "whole"] = "decimal" if item.type == "number" else "whole"
        rule = DataValidation(type=kind, operator="between", formula1=item.minimum, formula2=item.maximum, allow_blank=True)
    else:
        return None
    told = f"{item.says()}, in {unit}" if unit and lookup(unit) is not None and item.name == "value" else item.says()
    rule.promptTitle, rule.prompt = item.title, told[:255]
    rule.errorTitle, rule.error = item.title, f"Expected {told}"[:255]
    rule.showInputMessage = rule.showErrorMessage = True
    sheet.add_data_validation(rule)
    return rule
