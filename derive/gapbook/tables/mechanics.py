"""mechanics.csv: stiffness and lowest frequency of each measured frame; and the same of single copies, on demand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.errors import fail
from gapbook.science.bed_mechanics import Pulls, bed_mechanics, lines_of, strings_of
from gapbook.science.beds import Heads
from gapbook.science.cable_net import Strings
from gapbook.science.grouping import FloatArray
from gapbook.science.mechanics import RESPONSES, stiffness_map
from gapbook.science.outline import Outlines
from gapbook.science.scores import frame_scores, specimen_spread
from gapbook.tables.bedlines import BedLines
from gapbook.tables.catalogue import RawTables, read_catalogue
from gapbook.tables.derivation import MECHANICS, Measured, gather, heads_of, lay_out, must_be_whole, order_of
from gapbook.tables.package import Package
from gapbook.tables.reader import check_references, read_table
from gapbook.tables.spacings import BedRuns
from gapbook.tables.writing import arranged

COLUMNS = tuple("frequency_hz" if name == "frequency" else f"stiffness_{name}_n_per_mm" for name in RESPONSES)
DEFAULT_SPREAD = 0.01
"""Spread of copies, of each log, where too few copies tell: that of a bed's openness. Common practice, no source."""


def mechanics_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """mechanics.csv as an Arrow table, one row a measured frame, as the copy a buyer gets."""
    found, frame = measured.mechanics, catalogue.specimens.frame[measured.specimen]
    default = np.full(len(RESPONSES), DEFAULT_SPREAD)
    spread = specimen_spread(found.value, found.variances.independent, frame, default).deviation
    frames = frame_scores(found.value, found.variances, frame, spread)
    rows = np.flatnonzero(frames.specimens > 0)
    rows = rows[order_of([catalogue.frames.ids[row] for row in rows])]
    columns = {}
    for number, name in enumerate(COLUMNS):
        columns[name] = np.exp(frames.value[rows, number])
        columns["u_" + name] = columns[name] * frames.u[rows, number]
    return arranged(package, MECHANICS, columns, {"frame_id": [catalogue.frames.ids[row] for row in rows]})


class Struck(NamedTuple):
    """Stiffness of one copy in the centre [N/mm] and its standard uncertainty, of its readings alone."""

    stiffness: float
    u: float


class Copies(NamedTuple):
    """Some measured copies, laid out to be struck: their ids, runs, heads and the instruments' uncertainties."""

    ids: list[str]
    laid: BedRuns
    heads: Heads
    u_instrument: FloatArray

    def centre(self, pulls: Pulls) -> list[Struck]:
        """Each copy's centre at pull tensions of mains and crosses [N]; NaN where no crossing lies under the load."""
        found = bed_mechanics(self.laid.mains, self.laid.crosses, self.heads, self.u_instrument, pulls)
        value = np.exp(found.value[:, 0])
        u = value * np.sqrt(found.variances.independent[:, 0] + found.variances.shared[:, 0])
        return [Struck(*pair) for pair in zip(value.tolist(), u.tolist(), strict=True)]


def copies_of(package: Package, specimens: Sequence[str], pooled: bool = True) -> Copies:
    """Read the beds of `specimens`, with the repeatability pooled over the package, or quicker without.

    GapbookError where one of them was not measured.
    """
    catalogue = read_catalogue(package)
    data = read_table(package, "spacings")
    check_references(package, "spacings", data, catalogue.tables)
    own = data.filter(pc.is_in(data["specimen_id"].cast("string"), value_set=pa.array(list(specimens))))
    there = set(pc.unique(own["specimen_id"].cast("string")).to_pylist())
    if missing := [name for name in specimens if name not in there]:
        raise fail("not-measured", f"no bed was measured of {missing[0]}", fix="Name a measured specimen")
    gathered = gather(package, catalogue, own, own.num_rows)
    must_be_whole(catalogue, gathered)
    deviation = gather(package, catalogue, data).deviation if pooled else gathered.deviation
    laid = lay_out(catalogue.instruments, gathered.blocks[0], deviation)
    ids = [catalogue.specimens.ids[number] for number in laid.specimen]
    return Copies(ids, laid, heads_of(catalogue, laid.specimen), catalogue.instruments.u_error)


def copy_map(package: Package, specimen: str, across: Sequence[float], along: Sequence[float]) -> FloatArray:
    """Stiffness [along, across] in N/mm of a measured copy struck at every x of `across` and y of `along`, in mm from the
    head's centre; NaN outside the hoop and where no crossing lies under the load. GapbookError where it was not measured.
    """
    found = copies_of(package, [specimen], pooled=False)
    return _mapped(strings_of(lines_of(found.laid.mains, found.laid.crosses, found.heads)), across, along)


def map_of(lines: BedLines, head: tuple[float, float, float], across: Sequence[float], along: Sequence[float]) -> FloatArray:
    """The same of lines already read. head: inner width and length [mm] and the outline's exponent."""
    main_at_0, main_slope, cross_y = lines
    outlines = Outlines(*(np.array([value]) for value in head))
    return _mapped(Strings(main_at_0[None], main_slope[None], cross_y[None], outlines), across, along)


def _mapped(strings: Strings, across: Sequence[float], along: Sequence[float]) -> FloatArray:
    found = stiffness_map(strings, np.asarray(across, dtype=float), np.asarray(along, dtype=float))
    return np.asarray(found[0])
