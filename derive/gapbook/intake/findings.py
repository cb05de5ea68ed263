"""What a check gives back: findings, each at its row and line, with what follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Severity(StrEnum):
    """What a finding asks for.

    error: must be mended before admission
    warning: a reviewer should look, and may accept it with a written reason
    note: information
    """

    error = "error"
    warning = "warning"
    note = "note"


ORDER = {Severity.error: 0, Severity.warning: 1, Severity.note: 2}


@dataclass(frozen=True)
class Finding:
    """One thing that a rule found.

    It is filled in three steps. A rule's `look` states the fields down to `keyed`. The `Rule` adds its code, its severity and
    its fix, if the finding has no fix of its own. The check adds the place in the file, because only the check knows which
    rows belong to the layer it reports on. A finding about a file itself states its place from the start.

    table: the table it is about; empty if it is about a folder
    column: the column; None if it is about whole rows or a file
    found: what the file says
    expected: what it may say
    fix: how to mend it
    about: the id of what it is about (a specimen, a frame, ...): consequences are listed under causes about the same thing
    rows: the rows of the table that it rests on, first the one it is reported at; empty if it rests on no sound row
    keyed: how many columns of the primary key `row_key` shows: 1 names a whole specimen; None: all
    code: the rule's code
    severity: what it asks for
    file: the file as people are shown it
    line: the physical line in it, the header being line 1; None if it is about the whole file
    row_key: the row's primary key, joined by slashes
    contributor: who took the reading; None if nobody did
    causes: findings that follow from this one
    """

    table: str
    column: str | None
    found: str
    expected: str
    fix: str = ""
    about: str = ""
    rows: tuple[int, ...] = ()
    keyed: int | None = None
    code: str = ""
    severity: Severity = Severity.error
    file: str = ""
    line: int | None = None
    row_key: str = ""
    contributor: str | None = None
    causes: tuple[Finding, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The finding with the keys that programs rely on."""
        return {
            "code": self.code,
            "severity": str(self.severity),
            "table": self.table,
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "row_key": self.row_key,
            "found": self.found,
            "expected": self.expected,
            "fix": self.fix,
            "causes": [cause.to_json() for cause in self.causes],
        }
