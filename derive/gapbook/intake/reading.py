"""All layers read into typed tables, and what is wrong with the rows that cannot be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import cache

import numpy as np
import pyarrow as pa

from gapbook.intake.findings import Finding
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION, Layer, Read
from gapbook.intake.structure.conflicts import check_conflicts
from gapbook.intake.structure.fault import Source, finding_of
from gapbook.intake.structure.files import strangers
from gapbook.intake.structure.judging import Judge
from gapbook.intake.structure.nearest import Nearest
from gapbook.intake.structure.part import Part, read_part
from gapbook.intake.structure.references import check_references
from gapbook.intake.structure.taint import tainted
from gapbook.intake.structure.usable import check_schemas
from gapbook.tables.package import Package


def read_layers(package: Package, layers: Sequence[Layer]) -> Read:
    """Read every file of every layer. Nothing raises for what a file holds: it becomes a finding.

    GapbookError where the package's schemas cannot be used.
    """
    check_schemas(package)
    judge = cache(Judge)
    parts = {
        name: [
            read_part(Source(name, number, layer.files[name], layer.shown[name], package.schema(name)), judge)
            for number, layer in enumerate(layers)
            if name in layer.files
        ]
        for name in layers[CATALOGUE].files
    }
    for listed in parts.values():
        if len(listed) > CONTRIBUTION:
            check_conflicts(listed[CONTRIBUTION], listed[CATALOGUE], judge)
    check_references(parts)
    findings: dict[tuple[int, str], list[Finding]] = defaultdict(list)
    for number, layer in enumerate(layers):
        if layer.folder is not None:
            for code, finding in strangers(layer.folder, list(parts)):
                findings[number, code].append(finding)
    for part in (part for listed in parts.values() for part in listed):
        for fault in part.faults:
            if fault.told:
                findings[part.source.layer, fault.code].append(finding_of(part.source, fault))
    return _read(layers, parts, dict(findings))


def _read(layers: Sequence[Layer], parts: dict[str, list[Part]], findings: dict[tuple[int, str], list[Finding]]) -> Read:
    flat = [part for listed in parts.values() for part in listed]
    known = Nearest(set().union(*(part.ids("specimen_id") for part in parts["specimens"])))
    return Read(
        layers=tuple(layers),
        tables={name: pa.concat_tables([part.data for part in listed]).unify_dictionaries() for name, listed in parts.items()},
        layer={
            name: np.concatenate([np.full(part.data.num_rows, part.source.layer) for part in listed])
            for name, listed in parts.items()
        },
        record={name: np.concatenate([part.record for part in listed]) for name, listed in parts.items()},
        findings=findings,
        doubtful_specimens=tainted(parts["spacings"], known),
        rows=tuple(sum(part.total for part in flat if part.source.layer == number) for number in range(len(layers))),
        lines={(part.source.table, part.source.layer): part.lines for part in flat if part.lines is not None},
    )
