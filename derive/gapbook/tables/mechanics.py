"""mechanics.csv: stiffness and lowest frequency of each measured frame."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from gapbook.science.mechanics import RESPONSES
from gapbook.science.scores import frame_scores, specimen_spread
from gapbook.tables.catalogue import RawTables
from gapbook.tables.derivation import MECHANICS, Measured, order_of
from gapbook.tables.package import Package
from gapbook.tables.writing import arranged

COLUMNS = tuple("frequency_hz" if name == "frequency" else f"stiffness_{name}_n_per_mm" for name in RESPONSES)
DEFAULT_SPREAD = 0.01
"""Spread of copies, of each logarithm, if there are too few copies to tell: that of a bed's openness.

Common practice, no source.
"""


def mechanics_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """mechanics.csv as an Arrow table: one row for each measured frame, for a copy of it that nobody has read yet."""
    solved, frame = measured.mechanics, catalogue.specimens.frame[measured.specimen]
    default = np.full(len(RESPONSES), DEFAULT_SPREAD)
    spread = specimen_spread(solved.value, solved.variances.independent, frame, default).deviation
    frames = frame_scores(solved.value, solved.variances, frame, spread)
    rows = np.flatnonzero(frames.specimens > 0)
    rows = rows[order_of([catalogue.frames.ids[row] for row in rows])]
    columns = {}
    for number, name in enumerate(COLUMNS):
        columns[name] = np.exp(frames.value[rows, number])
        columns["u_" + name] = columns[name] * frames.u[rows, number]
    return arranged(package, MECHANICS, columns, {"frame_id": [catalogue.frames.ids[row] for row in rows]})
