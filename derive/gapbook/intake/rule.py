"""What a rule is, and what it gives back where it does not hold."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from gapbook.intake.study import Study


class Severity(StrEnum):
    """What a finding asks for: `error` must be mended before admission, `warning` a reviewer should look and may accept it
    with a written reason, `note` is information.
    """

    error = "error"
    warning = "warning"
    note = "note"


class Spot(NamedTuple):
    """A place in a file: the table, which of the study's sources, the physical line, the column, the row's key, who took the
    reading where the row says so, and how the file is shown where it is not the table's own.
    """

    table: str
    source: int
    line: int | None
    column: str | None
    row_key: str
    contributor: str | None = None
    file: str | None = None


class Hit(NamedTuple):
    """One thing a rule found.

    It stands at `row` of the study's `table` (or, where no such row could be read, at `spot`). `about` names what the
    finding speaks of (a specimen_id, a frame_id, ...), so that consequences are listed under their cause; `also` are other
    rows of the same table that it rests on. `keyed` is how many columns of the key name it, all if None. `fix` is said
    instead of the rule's.
    """

    table: str
    row: int
    column: str | None
    found: str
    expected: str
    fix: str | None = None
    about: str = ""
    also: tuple[int, ...] = ()
    keyed: int | None = None
    spot: Spot | None = None


@dataclass(frozen=True)
class Rule:
    """One rule: its stable code, what a hit asks for, what is wrong in a few words, why it matters, where that comes from,
    how a hit is mended, and the function that looks. `follows` are rules whose hits may bring this one about: a hit about
    the same thing is then listed under theirs.
    """

    code: str
    severity: Severity
    title: str
    rationale: str
    source: str
    fix: str
    look: Callable[[Study], Iterable[Hit]]
    follows: tuple[str, ...] = ()
