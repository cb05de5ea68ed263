"""The known ids nearest to one that is not known, in a time that does not grow with their square."""

from __future__ import annotations

import difflib
import re
from collections import defaultdict
from collections.abc import Iterable

_LIKE = 0.75
"""How alike two ids must be to be taken for one, as difflib measures it. Common practice, no source."""
_MOST = 200
"""Unknown ids for which nearest ones are looked for; people are not helped by more."""
_NO_SLUG = re.compile(r"[^a-z0-9]+")
_ENDS = 3


def slug(text: str) -> str:
    """A text as it would be written as an id."""
    return _NO_SLUG.sub("-", text.lower()).strip("-")


def alike(one: str, other: str) -> float:
    """How alike two texts are as ids, 0 to 1; 0 where too little to be taken for one."""
    a, b = slug(one), slug(other)
    if not a or not b or len(a) > 4 * len(b) or len(b) > 4 * len(a):
        return float(a == b and bool(a))
    ratio = difflib.SequenceMatcher(None, a[:80], b[:80]).ratio()
    return ratio if ratio >= _LIKE else 0.0


class Nearest:
    """Known ids, to be asked for those that a text may have meant."""

    def __init__(self, known: Iterable[str]) -> None:
        self.known = set(known)
        self._by_end: dict[str, list[str]] = defaultdict(list)
        self._found: dict[str, list[str]] = {}

    def to(self, text: str) -> list[str]:
        """Up to three known ids near `text`, the nearest first."""
        if text not in self._found:
            self._found[text] = self._look(slug(text)) if len(self._found) < _MOST else []
        return self._found[text]

    def _look(self, wanted: str) -> list[str]:
        if wanted in self.known:
            return [wanted]
        if not self._by_end:
            for one in sorted(self.known):
                for end in {one[:_ENDS], one[-_ENDS:]}:
                    self._by_end[end].append(one)
        near = {one for end in (wanted[:_ENDS], wanted[-_ENDS:]) for one in self._by_end.get(end, ())}
        likely = [one for one in sorted(near) if abs(len(one) - len(wanted)) <= _ENDS]
        return difflib.get_close_matches(wanted[:80], likely, 3, _LIKE)
