"""Centre stiffness of one copy: a measured specimen, or the bed in a contribution folder."""

from __future__ import annotations

import math
from pathlib import Path

from gapbook.questions.subjects import Subject
from gapbook.science.comparison import Figure
from gapbook.tables.store import Store


def of_copy(store: Store, one: Subject, pulls: tuple[float, float]) -> Figure | None:
    """Stiffness of the copy at pull tensions of mains and crosses [N], of its own readings [N/mm]; None where no crossing
    lies under the load. The net is solved anew.
    """
    from gapbook.tables.contribution import joined, only_one
    from gapbook.tables.mechanics import copies_of

    if one.kind == "specimen":
        struck = copies_of(store.package, [one.name]).centre(pulls)[0]
    else:
        with joined(store.package, Path(one.name)) as (package, own):
            struck = copies_of(package, [only_one(Path(one.name), own)]).centre(pulls)[0]
    return Figure(*struck) if math.isfinite(struck.stiffness) else None
