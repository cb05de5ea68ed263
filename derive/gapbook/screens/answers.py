"""The answer to a question as a person reads it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from gapbook.questions.answer import Answer, Asked, Entry, LeftOut
from gapbook.questions.notes import step
from gapbook.questions.question import Question, Relation, TraitRelation
from gapbook.questions.ranges import Range, shown
from gapbook.questions.traits import TRAITS, ZONE_WORDS, Trait, unit_word
from gapbook.questions.wording import describe, part_words, widened
from gapbook.science.units import INCH, UNITS
from gapbook.screens import page, tables
from gapbook.screens.text import (
    listed,
    pattern,
    percent,
    plural,
    signed,
    with_u_if_known,
)
from gapbook.signs import safe

MESH_MM = 0.1
"""Mesh [mm] is a tenth of openness."""
ROWS = 20
UNDECIDED_ROWS = 10
"""Matches and undecided frames that are shown."""
FULL = 80
"""Width of a table of comparisons."""
NARROW = 6
"""Width of the column of openness, or of a zone's part."""
MANY = 3
"""Clauses that are named when the page says what was left out."""
WHY = ("head\n%", "count\n%", "drill\n%", "zone\n%")
OPENNESS = "open-\nness"
AFTER = ("diff.\n%", "sure\n%", *WHY)
"""Headings of the comparison, which come after those of the frame itself."""
Column = tuple[str, str, Callable[[Entry], str]]
"""Heading, justification and cell."""
BALANCE = "balance\npoints"
_IN_TWO_LINES = {"openness": "open-\nness", "swingweight": "swing-\nweight", "uniformity": "uni-\nformity"}
"""Long titles of traits as headings."""


def screen(answer: Answer, units: str | None = None) -> list[RenderableType]:
    """The whole answer: how it was understood, the reference, matches, undecided, what was left out, what to try."""
    parts: list[RenderableType] = [Text(f"Understood: {safe(describe(answer.question))}", page.HEADING)]
    if answer.reference is not None:
        parts.append(Text(_reference(answer, units)))
    parts += [Text(), Text(_counts(answer), page.HEADING)]
    columns = _chosen(answer, units)
    if answer.matches:
        parts.append(_table(columns, answer.matches[:ROWS]))
    if (more := answer.counts.matches - ROWS) > 0:
        parts.append(Text(f"and {more:,} more: add a clause, `top {answer.counts.matches}`, or --json", page.QUIET))
    if answer.undecided:
        parts += [Text(), Text(_undecided(answer), page.HEADING)]
        parts.append(_table([*columns, *_unsure(answer)], answer.undecided[:UNDECIDED_ROWS]))
    if (more := answer.counts.undecided - UNDECIDED_ROWS) > 0:
        parts.append(Text(f"and {more:,} more: --json names them", page.QUIET))
    parts += [Text(), *(Text(line, page.QUIET) for line in _notes(answer, columns))]
    return parts


def _mesh(openness: float | None, u: float | None, units: str | None, ranges: Sequence[Range] = ()) -> str:
    """The mesh with its uncertainty, both with more decimals if the mesh would else look wrong beside `ranges` of it."""
    unit = "[in_i]" if units == "imperial" else "mm"
    text = with_u_if_known(openness, u, MESH_MM / INCH if units == "imperial" else MESH_MM)
    if openness is None or u is None or not ranges:
        return text
    value, expanded = text.split(" ± ")
    places = len(value.partition(".")[2])
    exact = shown(openness * MESH_MM, TRAITS["mesh"], unit, ranges, places)
    return text if exact == value else f"{exact} ± {expanded}"


def _place(answer: Answer) -> str:
    return ZONE_WORDS[answer.question.zone].place


def _reference(answer: Answer, units: str | None) -> str:
    reference = answer.reference
    assert reference is not None
    if reference.frames is not None:
        name = f"the median of {reference.frame_id}"
    else:
        name = safe(answer.question.reference or reference.frame_id)
        name += "" if name == reference.frame_id else f", a {reference.frame_id}"
    unit = "in" if units == "imperial" else "mm"
    basis = "measured" if reference.basis == "measured" else "estimated from its counts"
    mesh = _mesh(reference.openness, reference.u_openness, units)
    return f"Against:    {name}, mesh {mesh} {unit} {_place(answer)} (openness {reference.openness:.1f}), {basis}"


def _counts(answer: Answer) -> str:
    if not answer.matches:
        return f"None of {plural(answer.searched, 'frame')} matches."
    limit = "" if answer.counts.matches == 1 else f" {answer.counts.matches:,}"
    shown = f"; you asked for the first{limit}" if answer.counts.matches < answer.counts.found else ""
    sure = f", sure at {100 * answer.question.confidence:g} %" if _decided(answer) else ""
    verb = "matches" if answer.counts.found == 1 else "match"
    return f"{answer.counts.found:,} of {plural(answer.searched, 'frame')} {verb}{sure}{shown}."


def _decided(answer: Answer) -> bool:
    return any(relation.kind != "like" for relation in _relations(answer))


def _relations(answer: Answer) -> list[Relation | TraitRelation]:
    return [*answer.question.relations, *answer.question.trait_relations]


def _undecided(answer: Answer) -> str:
    """How many frames are too close to call; if there are several relations, also which of them the readings cannot decide."""
    count = answer.counts.undecided
    verb = "meets" if count == 1 else "meet"
    said = f"Too close to call: {plural(count, 'frame')} {verb} everything else, but the readings cannot decide"
    if sum(relation.kind != "like" for relation in _relations(answer)) < 2:
        return f"{said}."
    words = [f"“{safe(part_words(relation))}”" for relation in answer.unsure]
    if len(words) > 1:
        words = [f"{word} ({number})" for number, word in enumerate(words, 1)]
    return f"{said} {' or '.join(words)}."


def _unsure(answer: Answer) -> list[Column]:
    """A column that says which relation is undecided, if it is not the same one for all."""
    if len(answer.unsure) < 2:
        return []

    def which(one: Entry) -> str:
        return ",".join(str(number) for number, relation in enumerate(answer.unsure, 1) if relation in one.unsure)

    return [("un-\nsure", "right", which)]


def _table(columns: list[Column], entries: list[Entry]) -> Table:
    """Entries as rows; shorter headings are moved down to the line above the rows."""
    depth = max(heading.count("\n") for heading, _, _ in columns)
    made = tables.plain(*(("\n" * (depth - heading.count("\n")) + heading, justify) for heading, justify, _ in columns))
    for entry in entries:
        made.add_row(*(Text(cell(entry)) for _, _, cell in columns))
    return made


def _chosen(answer: Answer, units: str | None) -> list[Column]:
    """The columns of both tables.

    If the window is too narrow, openness is left out first (it is ten times the mesh), then the last of the traits asked
    about, then why beds differ.
    """
    entries = [*answer.matches[:ROWS], *answer.undecided[:UNDECIDED_ROWS]]
    zone = any(entry.why is not None and entry.why.zone is not None for entry in entries)
    room = page.width() - FULL - (NARROW if zone else 0)
    columns = _columns(answer, units, zone, openness=room >= 0 or answer.reference is None)
    if not _why_fits(answer):
        columns = [column for column in columns if column[0] not in WHY]
    asked = [_asked_column(place, one, units, answer.question) for place, one in enumerate(answer.asked)]
    without = [column for column in columns if column[0] != OPENNESS]
    bare = [column for column in without if column[0] not in WHY] if answer.question.trait_relations else without
    for count in range(len(asked), -1, -1):
        for kept in (columns, without, bare):
            place = len(kept) - len([column for column in kept if column[0] in AFTER])
            tried = [*kept[:place], *asked[:count], *kept[place:]]
            if _width([*tried, *_unsure(answer)], entries) <= page.width():
                return tried
    return columns


def _width(columns: list[Column], entries: list[Entry]) -> int:
    """Width of a table of these columns, with a space after each."""
    wide = [max(map(len, [*heading.split("\n"), *(cell(one) for one in entries)])) for heading, _, cell in columns]
    return sum(wide) + len(wide)


def _why_fits(answer: Answer) -> bool:
    return answer.reference is None or page.width() >= FULL - NARROW


def _columns(answer: Answer, units: str | None, zone: bool, openness: bool) -> list[Column]:
    """Heading, justification and cell of each column."""
    metric, imperial = units == "metric", units == "imperial"
    question = answer.question
    meshes, opennesses = (_ranges(question, trait, question.zone) for trait in ("mesh", "openness"))
    heads = _ranges(question, "head_area", None)
    columns: list[Column] = [
        ("frame", "left", lambda one: safe(one.frame_id) + ("*" if one.basis == "counted" else "")),
        ("pat-\ntern", "left", lambda one: pattern(one.mains, one.crosses)),
        (
            "head\n" + ("cm²" if metric else "sq in"),
            "right",
            lambda one: shown(one.head_area_cm2, TRAITS["head_area"], "cm2" if metric else "[sin_i]", heads),
        ),
        ("mesh\n" + ("in" if imperial else "mm"), "right", lambda one: _mesh(one.openness, one.u_openness, units, meshes)),
    ]
    if openness:
        columns.append((OPENNESS, "right", lambda one: "" if one.openness is None else _openness(one.openness, opennesses)))
    if answer.reference is None:
        return columns
    columns.append(("diff.\n%", "right", lambda one: _percent(one.difference_percent)))
    if _decided(answer):
        columns.append(("sure\n%", "right", lambda one: "" if one.probability is None else percent(one.probability)))
    columns += [
        ("head\n%", "right", lambda one: _percent(one.why.size if one.why else None)),
        ("count\n%", "right", lambda one: _percent(one.why.count if one.why else None)),
        ("drill\n%", "right", lambda one: _percent(one.why.drilling if one.why else None)),
    ]
    return columns + ([("zone\n%", "right", lambda one: _percent(one.why.zone if one.why else None))] if zone else [])


def _openness(value: float, ranges: Sequence[Range]) -> str:
    return shown(value, TRAITS["openness"], "", ranges)


def _ranges(question: Question, trait: str, zone: str | None) -> list[Range]:
    """The ranges of a trait in a zone."""
    return [one for one in question.ranges if (one.trait, one.zone) == (trait, zone)]


def _asked_column(place: int, asked: Asked, units: str | None, question: Question) -> Column:
    """The column of a trait that was asked about and has none yet, in the unit asked in, else the usual one."""
    trait = TRAITS[asked.trait]
    unit = asked.unit if asked.unit is not None else _usual(trait, units)
    title = _IN_TWO_LINES.get(trait.title, trait.title.replace(" ", "\n"))
    zone = f"\n{asked.zone}" if len(trait.zones) > 1 else ""
    ranges = _ranges(question, asked.trait, asked.zone)

    def cell(one: Entry) -> str:
        value = one.asked[place]
        return "?" if value is None else shown(value, trait, unit, ranges)

    return (f"{title}{zone}" + (f"\n{unit_word(unit)}" if unit else ""), "right", cell)


def _usual(trait: Trait, units: str | None) -> str:
    """The trait's usual unit; if metric units are wanted and it is none, the trait's first metric one."""
    metric = next((unit for unit in trait.units if not unit.startswith("[")), trait.units[0])
    return metric if units == "metric" and trait.units[0] in UNITS else trait.units[0]


def _percent(value: float | None) -> str:
    return "?" if value is None else signed(value, 1, plus=True)


def _notes(answer: Answer, columns: list[Column]) -> list[str]:
    """What was left out and why, how to read the marks, and what to do next if nothing matches."""
    notes = [*widened(answer.question), *answer.notes, *_exclusions(answer)]
    everything = answer.matches + answer.undecided
    if any(entry.basis == "counted" for entry in everything):
        notes.append("* nobody measured this bed: its mesh is an estimate from head area and string counts.")
    if answer.reference is not None and everything:
        why = "Why it differs: head size, string count, drilling; they add up as logarithms. ± is at k = 2."
        notes += [step()] if answer.question.relations else []
        notes.append(why if _why_fits(answer) else "A wider window also shows why each differs. ± is at k = 2.")
    elif everything:
        notes.append("Mesh is the side of a square mesh as dense as the bed; ± is at k = 2.")
    if everything and any(heading == BALANCE for heading, _, _ in columns):
        notes.append("Balance in points: negative is head light, positive head heavy.")
    if not answer.matches:
        notes += _next_steps(answer)
    return notes


def _exclusions(answer: Answer) -> list[str]:
    left: LeftOut = answer.left_out
    clauses = sorted((one for one in left.clauses if one.frames), key=lambda one: -one.frames)
    said = [f"{one.frames:,} by “{one.clause}”" for one in clauses[:MANY]]
    notes = [f"Left out: {listed(said)}; a frame may fail several."] if len(said) > 1 else []
    notes += [f"Left out: {said[0]}."] if len(said) == 1 else []
    if left.unknown_zone:
        verb = "is" if left.unknown_zone == 1 else "are"
        what = "what is compared is not known of them" if answer.question.trait_relations else "nobody measured that zone"
        notes.append(f"{plural(left.unknown_zone, 'frame')} {verb} left out because {what}.")
    return notes


def _next_steps(answer: Answer) -> list[str]:
    left = answer.left_out
    notes = []
    best = max(left.clauses, key=lambda one: one.gains, default=None)
    if best is not None and best.gains:
        verb = "matches" if best.gains == 1 else "match"
        notes.append(f"Without “{safe(best.clause)}” {plural(best.gains, 'frame')} {verb}: loosen or drop it first.")
    elif len(left.clauses) > 1 and any(one.frames for one in left.clauses):
        notes.append("Dropping any one clause gives no match: loosen or drop two or more.")
    notes += [
        f"Nearest miss: {safe(one.frame_id)}, but for “{safe(one.clause)}” ({safe(one.found)})." for one in left.near_misses
    ]
    return notes
