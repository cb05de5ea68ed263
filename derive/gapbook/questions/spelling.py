"""Slips of the pen: words that are surely meant, though a letter is wrong, missing, doubled or in the wrong place."""

from __future__ import annotations

from collections.abc import Iterable

_SHORT = 5
_LONG = 8


def distance(first: str, second: str, most: int) -> int:
    """How many letters must be changed, added, dropped or exchanged with their neighbour (optimal string alignment; Damerau
    1964, Communications of the ACM 7, 171-176); `most + 1` if more than `most`.
    """
    if abs(len(first) - len(second)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(second) + 1))
    for i, one in enumerate(first, 1):
        older, before, row = before, row, [i]
        for j, two in enumerate(second, 1):
            least = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (one != two))
            if i > 1 and j > 1 and one == second[j - 2] and first[i - 2] == two:
                least = min(least, older[j - 2] + 1)
            row.append(least)
        if min(row) > most:
            return most + 1
    return row[-1]


def nearest_words(word: str, known: Iterable[str]) -> list[str]:
    """The known words that are surely meant by `word`: one slip away, in words of eight letters two; the nearest only, and
    of these the ones with the same letters.

    Words of three and four letters must have the same letters, exchanged or doubled, or begin and end alike.
    """
    most = 2 if len(word) >= _LONG else 1
    found: list[tuple[int, str]] = []
    for one in known:
        if abs(len(one) - len(word)) <= most and len(one) > 2 and one != word:
            apart = distance(word, one, most)
            begins_alike = apart < 2 or one[0] == word[0]  # unmeasured is not measured
            if apart <= most and begins_alike and (len(word) >= _SHORT or _like(word, one)):
                found.append((apart, one))
    least = min((apart for apart, _ in found), default=0)
    near = sorted(one for apart, one in found if apart == least)
    return [one for one in near if sorted(one) == sorted(word)] or near


def _like(word: str, other: str) -> bool:
    """Whether two short words have the same letters, or one a letter more and both ends alike."""
    if len(word) == len(other):
        return sorted(word) == sorted(other)
    return len(word) > 3 and word[0] == other[0] and word[-1] == other[-1]
