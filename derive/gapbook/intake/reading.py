"""All layers read into typed tables, and what is wrong with the rows that cannot be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa

from gapbook.intake.layers import Layer, Read
from gapbook.tables.package import Package
from gapbook.tables.reading import read_file


def read_layers(package: Package, layers: Sequence[Layer]) -> Read:
    """Read every file of every layer. Nothing raises for what a file holds: it becomes a hit."""
    tables, layer, record = {}, {}, {}
    for name in layers[0].files:
        parts = [(number, read_file(one.files[name], one.shown[name], package.schema(name)))
                 for number, one in enumerate(layers) if name in one.files]  # fmt: skip
        tables[name] = pa.concat_tables([part for _, part in parts]).unify_dictionaries()
        layer[name] = np.concatenate([np.full(part.num_rows, number) for number, part in parts])
        record[name] = np.concatenate([np.arange(part.num_rows) for _, part in parts])
    rows = [sum(int((layer[name] == number).sum()) for name in tables) for number in range(len(layers))]
    return Read(tuple(layers), tables, layer, record, rows=tuple(rows))
