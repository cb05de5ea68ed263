"""The specimens whose spacings are not all sound: nothing is to be computed from the rest of them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from gapbook.intake.structure.fault import cell
from gapbook.intake.structure.nearest import Nearest
from gapbook.intake.structure.part import Part
from gapbook.science.grouping import IntArray
from gapbook.tables.reading import texts as distinct_texts
from gapbook.tables.units import codes

COLUMN = "specimen_id"


def tainted(parts: Iterable[Part], known: Nearest) -> frozenset[str]:
    """The specimens of rows that were left out, as written; for an id that is not among the `known`, also the specimen of the
    rows around it, or those whose ids are nearest.
    """
    found: set[str] = set()
    for part in parts:
        bad = _left_out(part)
        if not bad:
            continue
        before, after = _around(part, np.array([record for record, _ in bad], dtype=np.int64))
        ids = [*distinct_texts(part.data[COLUMN]), ""]
        for text, one, other in {(text, one, other) for (_, text), one, other in zip(bad, before, after, strict=True)}:
            found.add(text)
            if text not in known.known:
                found |= {ids[one]} if one == other and ids[one] else set(known.to(text))
        if not part.whole and part.data.num_rows:
            found.add(ids[int(codes(part.data[COLUMN])[-1])])
    return frozenset(found - {""})


def _left_out(part: Part) -> list[tuple[int, str]]:
    """The record and the specimen, as written, of each row that is not among the sound ones."""
    bad = list(part.left_out)
    if part.texts is None or part.sound is None:
        return bad
    schema = part.source.schema
    rows = np.flatnonzero(~part.sound)
    written = part.texts.columns[schema.names.index(COLUMN)].take(rows).to_pylist()
    bad += zip(part.texts.record[rows].tolist(), written, strict=True)
    return bad + [(fault.record, cell(schema, fault.cells, COLUMN)) for fault in part.texts.faults if fault.record is not None]


def _around(part: Part, records: IntArray) -> tuple[list[int], list[int]]:
    """The codes of the specimens of the sound rows before and after each record; -1 where there is none."""
    code = np.concatenate(([-1], codes(part.data[COLUMN]), [-1]))
    place = np.searchsorted(part.record, records)
    return code[place].tolist(), code[place + 1].tolist()
