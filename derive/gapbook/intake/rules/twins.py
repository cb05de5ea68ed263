"""One thing under two ids: frames of the same maker, model, edition and year, and people who are probably one."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule

LEAST_LETTERS = 4
"""Words of an id that differ by one letter are a slip only if they have so many: initials and suffixes differ by one letter on
purpose. Common practice, no source."""

Row = dict[str, Any]
_SIGNS = re.compile(r"[\W_]+")


def plain(text: object) -> str:
    """A text without case, accents, blanks and punctuation."""
    said = str(text)
    split = said if said.isascii() else unicodedata.normalize("NFKD", said)
    return _SIGNS.sub("", split.casefold())


def one_apart(one: str, other: str) -> bool:
    """Whether two texts differ by one letter left out, put in or mistaken, or by two neighbours exchanged (Damerau's slips)."""
    if len(one) > len(other):
        one, other = other, one
    if one == other or len(other) - len(one) > 1:
        return False
    at = next((place for place, letter in enumerate(one) if letter != other[place]), len(one))
    rest, other_rest = one[at:], other[at:]
    if len(one) < len(other):
        return rest == other_rest[1:]
    return rest[1:] == other_rest[1:] or (rest[:2] == other_rest[1::-1] and rest[2:] == other_rest[2:])


def slip_apart(one: str, other: str) -> bool:
    """Whether two ids differ by a slip: by one letter (or hyphen) of a word of LEAST_LETTERS or more, never by a digit."""
    if not one_apart(one, other) or re.sub(r"\D", "", one) != re.sub(r"\D", "", other):
        return False
    words = one.split("-"), other.split("-")
    if len(words[0]) != len(words[1]):
        return plain(one) == plain(other)
    return all(min(len(a), len(b)) >= LEAST_LETTERS for a, b in zip(*words, strict=True) if a != b)


def near_pairs(ids: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Every pair of places, the smaller first, whose ids differ by a slip. Ids are gathered by what is left of them if a letter
    is taken out, so that the time is linear in their number.
    """
    shared: defaultdict[str, list[int]] = defaultdict(list)
    for place, text in enumerate(ids):
        shared[text].append(place)
        for at, sign in enumerate(text):
            if not sign.isdigit() and (not at or sign != text[at - 1]):
                shared[text[:at] + text[at + 1 :]].append(place)
    told: set[tuple[int, int]] = set()
    for places in shared.values():
        if len(places) == 1:
            continue
        for number, one in enumerate(places[1:], 1):
            told.update((other, one) for other in places[:number] if slip_apart(ids[other], ids[one]))
    yield from sorted(told)


def _same_key(rows: Sequence[Row], key: Callable[[Row], Any]) -> Iterator[tuple[int, int]]:
    """Each row whose key an earlier one has, with the first that has it."""
    first: dict[Any, int] = {}
    for place, row in enumerate(rows):
        if (made := key(row)) is not None and (before := first.setdefault(made, place)) != place:
            yield before, place


def _rows(context: CheckContext, table: str, *names: str) -> list[Row]:
    data = context.tables[table]
    there = [name for name in names if name in data.column_names]
    rows: list[Row] = data.select(there).to_pylist()
    return rows


def look_frames(context: CheckContext) -> Iterator[Finding]:
    """A finding for each frame that an earlier one is the twin of."""
    names = ("frame_id", "maker", "model", "edition", "release_year", "mains", "crosses")
    rows = _rows(context, "frames", *names)

    def sold_as(row: Row) -> tuple[object, ...]:
        return (plain(row["maker"]), plain(row["model"]), *(row[name] for name in names[3:]))

    pairs = dict.fromkeys(_same_key(rows, sold_as), "same maker, model, edition, year and pattern")
    for one, other in near_pairs([str(row["frame_id"]) for row in rows]):
        first, second = rows[one], rows[other]
        alike = all(_near(plain(first[name]), plain(second[name])) for name in ("maker", "model"))
        if alike and first["edition"] == second["edition"]:
            pairs.setdefault((one, other), "id one letter apart, and the maker and model alike")
    yield from (_twin("frames", "frame_id", rows, pair, why) for pair, why in pairs.items())


def _near(one: str, other: str) -> bool:
    return one == other or one_apart(one, other)


def look_people(context: CheckContext) -> Iterator[Finding]:
    """A finding for each contributor or tester who is probably an earlier one."""
    rows = _rows(context, "contributors", "contributor_id", "name", "orcid")
    pairs = dict.fromkeys(_same_key(rows, lambda row: plain(row["name"]) if row["name"] else None), "same name")
    pairs |= dict.fromkeys(_same_key(rows, lambda row: row.get("orcid") or None), "same ORCID iD")
    near = near_pairs([str(row["contributor_id"]) for row in rows])
    pairs |= {pair: "id one letter apart" for pair in near if pair not in pairs}
    yield from (_twin("contributors", "contributor_id", rows, pair, why) for pair, why in pairs.items())
    if "testers" in context.tables:
        testers = _rows(context, "testers", "tester_id")
        for pair in near_pairs([str(row["tester_id"]) for row in testers]):
            yield _twin("testers", "tester_id", testers, pair, "id one letter apart")


def _twin(table: str, column: str, rows: Sequence[Row], pair: tuple[int, int], why: str) -> Finding:
    first, second = (str(rows[place][column]) for place in pair)
    kind = "another frame" if column == "frame_id" else "another person"
    expected = f"{kind} than {first}, or the same id"
    return Finding(table, column, f"{second} beside {first}: {why}", expected, about=second, rows=(pair[1], pair[0]))


RULES = (
    Rule(
        "twin-frame",
        Severity.warning,
        "one frame under two ids",
        "Copies of one frame that hang on two ids are never averaged, and the frame answers every question twice. Said of the "
        "same maker, model, edition, year and pattern, and of ids that differ by one letter where maker and model are alike.",
        "the kinds of slip: Damerau 1964, Communications of the ACM 7, 171-176; else common practice, no source",
        "Keep one id: write it in every table (gapbook merge does, once both are admitted). If they are two frames, say in "
        "`model` what tells them apart",
        look_frames,
    ),
    Rule(
        "twin-person",
        Severity.warning,
        "one person under two ids",
        "Who reads under two ids counts as two people who agree, which makes a bed seem surer than it is. Said of the same "
        "name, the same ORCID iD, and ids that differ by one letter of a word of four or more.",
        "the kinds of slip: Damerau 1964, Communications of the ACM 7, 171-176; else common practice, no source",
        "Keep one id: write it in every table (gapbook merge does, once both are admitted). If they are two people, accept "
        "this with a reason that says so",
        look_people,
    ),
)
