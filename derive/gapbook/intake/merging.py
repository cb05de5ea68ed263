"""Readings that two merged things have in common: repeat numbers that would meet are moved apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from gapbook.tables.package import Package
from gapbook.tables.rewriting import Row

_Key = tuple[str, ...]


class Repeats:
    """What becomes of the repeat numbers of a table of readings.

    Readings of one session of what stays and of what goes, with a repeat number in common, are kept both: those of what goes
    get the next numbers. If all of them are the very same figures, they were filed twice, and those of what goes are dropped.
    """

    def __init__(self, package: Package, table: str, read: Callable[[], tuple[list[Row], list[tuple[Row, Row]]]]) -> None:
        """`read` gives the rows of what stays, and those of what goes, before and after they are renamed."""
        names = package.schema(table).primary_key
        self._key = tuple(name for name in names if name not in ("repeat", "no"))
        self._read = read
        self._shift: dict[_Key, int] | None = None

    def apart(self, before: Row, after: Row) -> Row | None:
        """The row of what goes after the merge; None if the very same figures are there already."""
        if self._shift is None:
            self._shift = self._shifts()
        shift = self._shift.get(self._of(before), 0)
        if shift < 0:
            return None
        return {**after, "repeat": str(int(after["repeat"]) + shift)} if shift else after

    def _of(self, row: Row) -> _Key:
        return tuple(row[name] for name in self._key)

    def _shifts(self) -> dict[_Key, int]:
        """For each session of what goes by how much its repeats rise; -1 if it is dropped."""
        kept, going = self._read()
        there: dict[_Key, dict[_Key, Row]] = defaultdict(dict)
        for row in kept:
            there[self._of(row)][row["repeat"], row.get("no", "")] = row
        sessions: dict[_Key, list[tuple[Row, Row]]] = defaultdict(list)
        for pair in going:
            sessions[self._of(pair[0])].append(pair)
        shifts = {}
        for session, pairs in sessions.items():
            known = there.get(self._of(pairs[0][1]), {})
            met = [known.get((after["repeat"], after.get("no", ""))) for _, after in pairs]
            if not any(met):
                continue
            same = all(one is not None and one == after for one, (_, after) in zip(met, pairs, strict=True))
            shifts[session] = -1 if same else max(int(row["repeat"]) for row in known.values())
        return shifts
