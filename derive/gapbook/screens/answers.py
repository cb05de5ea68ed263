"""The answer to a question as a person reads it."""

from __future__ import annotations

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from gapbook.questions.answer import Answer, Entry, LeftOut
from gapbook.questions.ranges import rounding_hint
from gapbook.questions.traits import ZONE_WORDS
from gapbook.questions.wording import describe, relation_words
from gapbook.science.units import INCH
from gapbook.screens import page
from gapbook.screens.asked import Column, asked_columns, balance_note, widths
from gapbook.screens.text import (
    listed,
    pattern,
    percent,
    plural,
    safe,
    signed,
    square_centimetres,
    square_inches,
    with_u,
)

MESH_MM = 0.1
"""Mesh [mm] is a tenth of openness."""
ROWS = 20
UNDECIDED_ROWS = 10
FULL = 80
"""Columns a table of comparisons fills."""
NARROW = 6
"""Columns that openness, or a zone's part, takes."""
MANY = 3
"""Clauses named when it is said what was left out."""


def screen(answer: Answer, units: str | None = None) -> list[RenderableType]:
    """The whole answer: how it was understood, the reference, matches, undecided, what was left out, what to try."""
    parts: list[RenderableType] = [Text(f"Understood: {safe(describe(answer.question))}", page.HEADING)]
    if answer.reference is not None:
        parts.append(Text(_reference(answer, units)))
    parts += [Text(), Text(_found(answer), page.HEADING)]
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


def _mesh(openness: float | None, u: float | None, units: str | None) -> str:
    if openness is None or u is None:
        return "not known"
    return with_u(openness, u, MESH_MM / INCH if units == "imperial" else MESH_MM)


def _place(answer: Answer) -> str:
    return ZONE_WORDS[answer.question.zone].place


def _reference(answer: Answer, units: str | None) -> str:
    reference, relation = answer.reference, answer.question.relations[0]
    assert reference is not None
    name = safe(relation.reference)
    if name != reference.frame_id:
        name += f", a {reference.frame_id}"
    unit = "in" if units == "imperial" else "mm"
    basis = "measured" if reference.basis == "measured" else "estimated from its counts"
    mesh = _mesh(reference.openness, reference.u_openness, units)
    return f"Against:    {name}, mesh {mesh} {unit} {_place(answer)} (openness {reference.openness:.1f}), {basis}"


def _found(answer: Answer) -> str:
    if not answer.matches:
        return f"None of {plural(answer.searched, 'frame')} matches."
    limit = "" if answer.counts.matches == 1 else f" {answer.counts.matches:,}"
    shown = f"; you asked for the first{limit}" if answer.counts.matches < answer.counts.found else ""
    sure = f", sure at {100 * answer.question.confidence:g} %" if _decided(answer) else ""
    verb = "matches" if answer.counts.found == 1 else "match"
    return f"{answer.counts.found:,} of {plural(answer.searched, 'frame')} {verb}{sure}{shown}."


def _decided(answer: Answer) -> bool:
    return any(relation.kind != "like" for relation in answer.question.relations)


def _undecided(answer: Answer) -> str:
    """How many are too close to call, and with several relations which of them the readings cannot decide."""
    count = answer.counts.undecided
    verb = "meets" if count == 1 else "meet"
    said = f"Too close to call: {plural(count, 'frame')} {verb} everything else, but the readings cannot decide"
    if sum(relation.kind != "like" for relation in answer.question.relations) < 2:
        return f"{said}."
    words = [f"“{safe(relation_words(relation))}”" for relation in answer.unsure]
    if len(words) > 1:
        words = [f"{word} ({number})" for number, word in enumerate(words, 1)]
    return f"{said} {' or '.join(words)}."


def _unsure(answer: Answer) -> list[Column]:
    """Where different relations are undecided, a column of which."""
    if len(answer.unsure) < 2:
        return []

    def which(one: Entry) -> str:
        return ",".join(str(number) for number, relation in enumerate(answer.unsure, 1) if relation in one.unsure)

    return [("un-\nsure", "right", which)]


def _table(columns: list[Column], entries: list[Entry]) -> Table:
    """Entries as rows, headings standing on the line above them."""
    depth = max(heading.count("\n") for heading, _, _ in columns)
    made = page.table(*(("\n" * (depth - heading.count("\n")) + heading, justify) for heading, justify, _ in columns))
    for entry in entries:
        made.add_row(*(Text(cell(entry)) for _, _, cell in columns))
    return made


def _chosen(answer: Answer, units: str | None) -> list[Column]:
    """The columns of both tables. Where room is short openness goes first (it is ten times the mesh), then of what was
    asked about the last, then why beds differ.
    """
    entries = [*answer.matches[:ROWS], *answer.undecided[:UNDECIDED_ROWS]]
    zone = any(entry.why is not None and entry.why.zone is not None for entry in entries)
    room = page.width() - FULL - (NARROW if zone else 0)
    columns = _columns(answer, units, zone, openness=room >= 0 or answer.reference is None)
    if not _why_fits(answer):
        columns = [column for column in columns if column[0] not in WHY]
    asked = asked_columns(answer, units)
    without = [column for column in columns if column[0] != OPENNESS]
    for count in range(len(asked), 0, -1):
        for kept in (columns, without):
            place = len(kept) - len([column for column in kept if column[0] in AFTER])
            tried = [*kept[:place], *asked[:count], *kept[place:]]
            if widths([*tried, *_unsure(answer)], entries) <= page.width():
                return tried
    return columns


def _why_fits(answer: Answer) -> bool:
    return answer.reference is None or page.width() >= FULL - NARROW


WHY = ("head\n%", "count\n%", "drill\n%", "zone\n%")
OPENNESS = "open-\nness"
AFTER = ("diff.\n%", "sure\n%", *WHY)
"""Headings of the comparison, which comes after what a frame is."""


def _columns(answer: Answer, units: str | None, zone: bool, openness: bool) -> list[Column]:
    """Heading, justification and cell of each column."""
    metric, imperial = units == "metric", units == "imperial"
    columns: list[Column] = [
        ("frame", "left", lambda one: safe(one.frame_id) + ("*" if one.basis == "counted" else "")),
        ("pat-\ntern", "left", lambda one: pattern(one.mains, one.crosses)),
        (
            "head\n" + ("cm²" if metric else "sq in"),
            "right",
            lambda one: square_centimetres(one.head_area_cm2) if metric else square_inches(one.head_area_cm2),
        ),
        ("mesh\n" + ("in" if imperial else "mm"), "right", lambda one: _mesh(one.openness, one.u_openness, units)),
    ]
    if openness:
        columns.append((OPENNESS, "right", lambda one: "" if one.openness is None else f"{one.openness:.1f}"))
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


def _percent(value: float | None) -> str:
    return "?" if value is None else signed(value, 1, plus=True)


def _notes(answer: Answer, columns: list[Column]) -> list[str]:
    """What was left out and why, how to read the marks, and what to do next when nothing matches."""
    notes = _exclusions(answer.left_out)
    everything = answer.matches + answer.undecided
    if any(entry.basis == "counted" for entry in everything):
        notes.append("* nobody measured this bed: its mesh is an estimate from head area and string counts.")
    if answer.reference is not None and everything:
        why = "Why it differs: head size, string count, drilling; they add up as logarithms. ± is at k = 2."
        notes.append(why if _why_fits(answer) else "A wider window also shows why each differs. ± is at k = 2.")
    elif everything:
        notes.append("Mesh is the side of a square mesh as dense as the bed; ± is at k = 2.")
    notes += balance_note(columns) if everything else []
    if not answer.matches:
        notes += _next_steps(answer)
    return notes


def _exclusions(left: LeftOut) -> list[str]:
    clauses = sorted((one for one in left.clauses if one.frames), key=lambda one: -one.frames)
    said = [f"{one.frames:,} by “{one.clause}”" for one in clauses[:MANY]]
    notes = [f"Left out: {listed(said)}; a frame may fail several."] if len(said) > 1 else []
    notes += [f"Left out: {said[0]}."] if len(said) == 1 else []
    if left.unknown_zone:
        verb = "is" if left.unknown_zone == 1 else "are"
        notes.append(f"{plural(left.unknown_zone, 'frame')} {verb} left out because nobody measured that zone.")
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
    hint = rounding_hint(answer.question)
    return [*notes, hint] if hint else notes
