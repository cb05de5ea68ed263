"""What several rules look at, worked out once a study."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar
from weakref import WeakKeyDictionary

from gapbook.intake.study import Study

T = TypeVar("T")


def once(function: Callable[[Study], T]) -> Callable[[Study], T]:
    """The function, worked out at most once for each study and forgotten with it."""
    known: WeakKeyDictionary[Study, T] = WeakKeyDictionary()

    @wraps(function)
    def looked_up(study: Study) -> T:
        if study not in known:
            known[study] = function(study)
        return known[study]

    return looked_up
