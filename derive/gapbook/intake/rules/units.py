"""Units: known, of the right dimension, and likely."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from gapbook.intake.rule import Hit, Rule, Severity
from gapbook.intake.study import Study
from gapbook.intake.units import BASES, UNIT_COLUMNS, UnitFit, wanted_bases
from gapbook.science.grouping import BoolArray
from gapbook.science.units import names

SUBJECT = {"spacings": "specimen_id", "readings": "specimen_id", "instruments": "instrument_id", "playtests": "playtest_id"}


def _rows(study: Study, pick: Callable[[UnitFit], BoolArray]) -> Iterator[tuple[str, int]]:
    for table, fit in study.units.items():
        yield from ((table, row) for row in np.flatnonzero(pick(fit)).tolist())


def _expected(study: Study, table: str, row: int) -> str:
    base = int(wanted_bases(study.package, table, study.tables[table].slice(row, 1))[0])
    wanted = names(BASES[base]) if base >= 0 else [name for one in BASES for name in names(one)]
    return "one of " + ", ".join(wanted)


def _unknown(study: Study) -> Iterator[Hit]:
    for table, row in _rows(study, lambda fit: fit.unknown):
        found = repr(study.cell(table, row, UNIT_COLUMNS[table]))
        about = str(study.cell(table, row, SUBJECT[table]))
        yield Hit(table, row, UNIT_COLUMNS[table], found, _expected(study, table, row), about=about)


RULES = (
    Rule(
        "unit-unknown",
        Severity.error,
        "an unknown unit",
        "A value can only be converted from a unit that is on the list.",
        "UCUM codes; factors of NIST SP 811 (2008), Appendix B.8",
        "Write the unit as the list has it",
        _unknown,
    ),
)
