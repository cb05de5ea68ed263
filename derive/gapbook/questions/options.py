"""The options of `find`: each is turned into a clause of the question language, which reads it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

from gapbook.errors import GapbookError, Problem
from gapbook.questions.language import part_of, unknown_unit
from gapbook.questions.question import Draft, Part, Pattern, Question, Relation, Setting, reference_text
from gapbook.questions.ranges import Range
from gapbook.questions.tokens import significant
from gapbook.questions.traits import ZONE_WORDS, ZONES, option_of, titles, trait_names
from gapbook.questions.wording import reference_words
from gapbook.science.comparison import CONFIDENCE

_BASES = {"measured": "measured only", "any": "any basis"}
_RELATIONS = {
    "--tighter-than": "tighter {zone} than {name}",
    "--more-open-than": "more open {zone} than {name}",
    "--like": "like {name} {zone}",
}
_SUPERLATIVES = {"tightest": "tightest", "open": "most open", "closest": "closest"}
SORTS = (*_SUPERLATIVES, "name", *(title.replace(" ", "-") for title in titles()))
"""What `--sort` takes. `name` and the traits may have DOWN after them."""
DOWN = "-desc"


def from_options(
    *,
    pattern: Iterable[str] | str = (),
    tighter_than: Iterable[str] | str = (),
    more_open_than: Iterable[str] | str = (),
    like: Iterable[str] | str = (),
    where: str = "centre",
    basis: str = "any",
    sort: str | None = None,
    limit: int | None = None,
    confidence: float = CONFIDENCE,
    **ranges: str | None,
) -> Question:
    """The question of `find`'s options, each as it was typed. GapbookError with every option that is not understood.

    pattern: string patterns such as `16x19`, of which one must fit.
    tighter_than: references that a match is tighter than.
    more_open_than: references that a match is more open than.
    like: references that a match is like.
    where: the zone of relations and of ranges that name none; if there are no relations, of the order too.
    basis: `measured` or `any`.
    sort: one of SORTS.
    limit: how many frames at most.
    confidence: how sure a verdict must be.
    ranges: by the titles of traits (`head`, `side_opening`): `95..98`, `95..`, `..98` or `97`, with a unit after it if it is
        not the usual one (sq in, g, points head heavy, kg·cm², in).
    """
    reading = _Reading()
    zone = reading.zone(where)
    place = "" if zone == "centre" else ZONE_WORDS[zone].place
    for name, text in ranges.items():
        if text is not None:
            reading.range(name.replace("_", " "), text, zone)
    names = [_each(one) for one in (tighter_than, more_open_than, like)]
    for (option, clause), references in zip(_RELATIONS.items(), names, strict=True):
        for one in references:
            reading.add(option, one, clause.format(zone=place, name=reference_words(reference_text(one))), Relation)
    reading.patterns(_each(pattern))
    reading.order(sort, "" if any(names) else place)
    reading.add("--basis", basis, _BASES.get(basis.lower(), ""), Setting)
    if limit is not None:
        reading.add("--limit", str(limit), f"top {limit}", Setting)
    reading.add("--confidence", f"{confidence:g}", f"confidence {Decimal(repr(confidence)):f}", Setting)
    return reading.question()


def _each(texts: Iterable[str] | str) -> list[str]:
    return [texts] if isinstance(texts, str) else list(texts or ())


class _Reading:
    """Reads options one by one into a question, and gathers what is wrong with them."""

    def __init__(self) -> None:
        self._draft = Draft()
        self._problems: list[Problem] = []

    def question(self) -> Question:
        """The question asked. GapbookError with everything that is wrong."""
        if self._problems:
            raise GapbookError(*self._problems)
        return self._draft.question()

    def add(self, option: str, text: str, clause: str, kind: type) -> None:
        """Take in what the clause of an option says.

        option: its name, `--like`.
        text: what was typed for it.
        clause: the clause it is turned into.
        kind: the type of part that the option takes.
        """
        self._take(option, text, self._part(option, text, clause, kind))

    def range(self, title: str, text: str, zone: str) -> None:
        """A range of the trait with this title; in `zone` if the trait has that zone and the text names none."""
        option, trait = option_of(title), titles()[title]
        placed = zone not in trait.zones or zone == trait.zones[0] or any(one.kind == "ZONE" for one in significant(text))
        name = title if placed else f"{ZONE_WORDS[zone].place} {title}"
        part = self._part(option, text, f"{'signed ' if title == 'balance' else ''}{name} {text}", Range)
        if isinstance(part, Range) and part.about not in trait_names()[title]:
            self._note(option, text, _not_understood(option, text))
        else:
            self._take(option, text, part)

    def patterns(self, texts: list[str]) -> None:
        """Patterns, of which one must fit."""
        parts = [self._part("--pattern", text, text, tuple) for text in texts]
        alternatives: tuple[Pattern, ...] = sum((part for part in parts if part is not None), ())  # type: ignore[misc]
        self._take("--pattern", " ".join(texts), alternatives or None)

    def zone(self, text: str) -> str:
        """The zone of this name; the centre, and a problem more, if there is none."""
        words = significant(text)
        if [token.kind for token in words] == ["ZONE"]:
            return str(words[0].meaning)
        self._note("--where", text, _not_understood("--where", text))
        return "centre"

    def order(self, sort: str | None, place: str) -> None:
        """What to sort by; `place` if that is of a zone. A place without `sort` sorts by the openness there."""
        word = (sort or "tightest").lower()
        base = word.removesuffix(DOWN)
        clause = f"by {place} {base.replace('-', ' ')}{'' if base == word else ' descending'}"
        if word in _SUPERLATIVES:
            clause = f"{place} {_SUPERLATIVES[word]}"
        if sort is not None or place:
            self.add("--sort", sort or "", clause, Setting)

    def _part(self, option: str, text: str, clause: str, kind: type) -> Part | None:
        """What the clause of an option says; None, and a problem more, if it is not of the `kind` that the option takes."""
        try:
            part = part_of(clause)
        except GapbookError as error:
            problem = error.problems[0]
            if option in _RELATIONS:
                problem = _not_understood(option, text)
            elif problem.code == "unknown-clause":
                problem = (unknown_unit(clause) if kind is Range else None) or _not_understood(option, text)
            elif option == "--pattern" and problem.code != "bad-pattern":
                problem = _not_understood(option, text)
            elif option == "--sort" and problem.code == "wrong-zone":
                problem = _zone_for_nothing(text, problem)
            self._note(option, text, problem)
            return None
        if type(part) is kind:
            return part
        self._note(option, text, _not_understood(option, text))
        return None

    def _take(self, option: str, text: str, part: Part | None) -> None:
        try:
            if part is not None:
                self._draft.add(part)
        except GapbookError as error:
            self._note(option, text, error.problems[0])

    def _note(self, option: str, text: str, problem: Problem) -> None:
        """Take in a problem, with the option's name, and with the option's text if the problem has no `found`."""
        message = problem.message if problem.message.startswith("--") else f"{option}: {problem.message}"
        code = "bad-option" if option in ("--limit", "--confidence") else problem.code
        known = None if problem.code == "no-reference" else problem.found or text  # that message says it all
        self._problems.append(replace(problem, code=code, message=message, found=known))


def _not_understood(option: str, text: str) -> Problem:
    """What is wrong with the text of an option that is no clause of the language."""
    if option in _RELATIONS:
        expected = "a frame id, a specimen id or a folder"
        return Problem("bad-reference", "this cannot be a reference", found=repr(text)[:60], expected=expected)
    if option == "--pattern":
        fix = "Give --pattern once for each: --pattern 16x19 --pattern 18x20" if any(sign in text for sign in ",;") else None
        return Problem("bad-pattern", "this is not a string pattern", expected="mains x crosses, such as 16x19", fix=fix)
    if option == "--where":
        return Problem("unknown-zone", "--where takes a zone of the bed", expected=", ".join(ZONES), fix=_nearest(text, ZONES))
    if option == "--basis":
        return Problem("unknown-basis", "--basis does not take this", expected=" or ".join(_BASES), fix=_nearest(text, _BASES))
    if option == "--sort":
        expected = f"{', '.join(SORTS)}; from the highest down mass{DOWN}, ..."
        return Problem("unknown-sort", "--sort does not take this", expected=expected, fix=_nearest(text, SORTS))
    if option in ("--limit", "--confidence"):
        return Problem("bad-option", "this is not understood")
    return Problem("bad-range", "this is not a range", expected="95..98, 95.., ..98 or 97, and a unit")


def _zone_for_nothing(sort: str, problem: Problem) -> Problem:
    """The problem if `--where` is given but nothing uses it: `--sort` is of the whole frame, and nothing is compared."""
    message = f"--where {problem.found} changes nothing here: --sort {sort} is of the whole frame, and nothing is compared"
    fix = "Leave out --where, sort by tightest or open, or add --tighter-than, --more-open-than or --like"
    return Problem("no-reference", message, fix=fix)


def _nearest(text: str, choices: Iterable[str]) -> str | None:
    near = difflib.get_close_matches(text[:40].lower().removesuffix(DOWN), list(choices), n=1)
    return f"Nearest: {near[0]}" if near else None
