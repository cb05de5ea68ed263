"""All layers read into typed tables of sound rows, with findings for everything else."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import pyarrow as pa

from gapbook.intake.conflicts import check_conflicts
from gapbook.intake.findings import Finding
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION, Layer, Read
from gapbook.intake.references import Nearest, TableFiles, check_references
from gapbook.intake.schemas import check_schemas
from gapbook.intake.table_files import Source, TableFile, cell_of, read_table_file, strangers
from gapbook.tables.package import Package
from gapbook.tables.reader import texts
from gapbook.tables.units import codes

_SPECIMEN = "specimen_id"


def read_layers(package: Package, layers: Sequence[Layer]) -> Read:
    """Read every file of every layer. Nothing raises for what a file holds: it becomes a finding.

    GapbookError if the package's schemas cannot be used.
    """
    check_schemas(package)
    tables = {
        name: [
            read_table_file(Source(package, name, number, layer.files[name], layer.shown[name]))
            for number, layer in enumerate(layers)
            if name in layer.files
        ]
        for name in layers[CATALOGUE].files
    }
    for listed in tables.values():
        if len(listed) > CONTRIBUTION:
            check_conflicts(listed[CONTRIBUTION], listed[CATALOGUE])
    check_references(tables)
    findings: dict[tuple[int, str], list[Finding]] = defaultdict(list)
    for number, layer in enumerate(layers):
        if layer.folder is not None:
            for code, finding in strangers(layer.folder, list(tables)):
                findings[number, code].append(finding)
    for file in (file for listed in tables.values() for file in listed):
        for finding in file.findings:
            findings[file.source.layer, finding.code].append(finding)
    return _read(layers, tables, dict(findings))


def _read(layers: Sequence[Layer], tables: TableFiles, findings: Mapping[tuple[int, str], list[Finding]]) -> Read:
    every = [file for listed in tables.values() for file in listed]
    known = Nearest(set().union(*(file.ids(_SPECIMEN) for file in tables["specimens"])))
    return Read(
        layers=tuple(layers),
        tables={name: pa.concat_tables([file.data for file in listed]).unify_dictionaries() for name, listed in tables.items()},
        layer={
            name: np.concatenate([np.full(len(file.rows), file.source.layer) for file in listed])
            for name, listed in tables.items()
        },
        record={name: np.concatenate([file.record for file in listed]) for name, listed in tables.items()},
        findings=dict(findings),
        doubtful_specimens=_doubtful_specimens(tables["spacings"], known),
        rows=tuple(sum(len(file.text.lines) for file in every if file.source.layer == one) for one in range(len(layers))),
        lines={(file.source.table, file.source.layer): file.text.lines for file in every},
    )


def _doubtful_specimens(files: Iterable[TableFile], known: Nearest) -> frozenset[str]:
    """The specimens of rows of spacings that were left out, as written; nothing is to be computed from the rest of them.

    For an id that is not `known`, also the specimen of the rows around it, or those whose ids are nearest.
    """
    doubtful: set[str] = set()
    for file in files:
        ids, code = [*texts(file.data[_SPECIMEN]), ""], np.concatenate(([-1], codes(file.data[_SPECIMEN]), [-1]))
        left_out = _left_out(file)
        place = np.searchsorted(file.record, np.array([record for record, _ in left_out], dtype=np.int64))
        around = zip((text for _, text in left_out), code[place].tolist(), code[place + 1].tolist(), strict=True)
        for text, before, after in set(around):
            doubtful.add(text)
            if text not in known.known:
                doubtful |= {ids[before]} if before == after and ids[before] else set(known.to(text))
        if left_out and not file.text.is_whole and file.data.num_rows:
            doubtful.add(ids[int(code[-2])])
    return frozenset(doubtful - {""})


def _left_out(file: TableFile) -> list[tuple[int, str]]:
    """The record and the specimen, as written, of each row that is not among the sound ones."""
    column, rows = file.column(_SPECIMEN), np.flatnonzero(file.in_doubt)
    written = [column.texts[code] for code in column.codes[rows].tolist()]
    bad = [(bad.record, cell_of(file.source.schema, bad.cells, _SPECIMEN)) for bad in file.text.bad if bad.record is not None]
    return [*zip(file.text.record[rows].tolist(), written, strict=True), *bad]
