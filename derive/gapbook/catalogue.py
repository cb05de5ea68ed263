"""The Python door to a data package: open it, ask, find, compare, or take its tables."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from gapbook.tables.package import Package, open_package
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

    from gapbook.questions.answer import Answer
    from gapbook.questions.comparing import Comparison
    from gapbook.questions.portrait import Portrait
    from gapbook.questions.question import Question
    from gapbook.tables.bedlines import BedLines


class Catalogue:
    """An opened data package. Tables are read when first needed and kept for the life of the object."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self._store = Store(package)

    def __repr__(self) -> str:
        return f"<Catalogue: {self.package.name} {self.package.version}>"

    def ask(self, text: str) -> Answer:
        """Answer a typed question. GapbookError for a clause that is not understood or a frame nobody knows."""
        from gapbook.questions.language import parse

        return self.find(parse(text))

    def find(self, question: Question, first: int | None = None) -> Answer:
        """Answer a Question; with `first`, only so many entries of each list are made out, which is quicker."""
        from gapbook.questions.answering import answer

        return answer(self._store, question, first)

    def compare(self, *names: str, where: str = "centre", confidence: float | None = None) -> Comparison:
        """Compare frames, specimens or contribution folders with the first one named."""
        from gapbook.questions.comparing import compare
        from gapbook.questions.question import CONFIDENCE

        return compare(self._store, list(names), where, CONFIDENCE if confidence is None else confidence)

    def show(self, name: str) -> Portrait:
        """Everything known and derived about one frame (or the frame of a specimen)."""
        from gapbook.questions.portrait import portrait

        return portrait(self._store, name)

    def strings(self, specimen_id: str) -> BedLines:
        """Where the strings of a measured specimen run."""
        from gapbook.tables.bedlines import bed_lines

        return bed_lines(self.package, specimen_id)

    def table(self, name: str) -> pa.Table:
        """A table of the package as Arrow, typed by its schema, raw or derived."""
        from gapbook.tables.reading import read_table

        return read_table(self.package, name)

    def sql(self, text: str) -> pa.Table:
        """The result of one read-only SELECT over the documented views, as Arrow."""
        from gapbook.tables.views import query

        return query(self.package, text)


def open_catalogue(path: str | os.PathLike[str] | None = None) -> Catalogue:
    """Open the data package at `path`; without one that of the environment variable GAPBOOK_PACKAGE, of the checkout
    worked in, or the copy that came with the installation.
    """
    return Catalogue(open_package(path))
