"""What the measuring sheet says, in the order it is done."""

from __future__ import annotations

from collections.abc import Sequence

from gapbook.tables.blank import Session, Tool

QUANTITIES = {
    "head_length": "inner length of the head",
    "head_width": "inner width of the head",
    "length": "overall length",
    "mass": "mass, strung",
    "balance": "balance, from the butt",
}
FAMILIES = {"main": "Mains", "cross": "Crosses"}

CAUTIONS = (
    "Strings are under great tension: a weak one can give way without warning. Keep your face away from the bed and wear "
    "glasses.",
    "Never lever, spread or press strings with jaws or rule. Do not measure a bed with a frayed, broken or cut string: all "
    "strings pull one-sidedly on the frame until they are out.",
    "Cut ends are sharp and spring back. Leave cutting and stringing to a qualified stringer.",
)


def unit_words(unit: str) -> str:
    """A unit as it is said."""
    return "inches" if unit in ("in", "[in_i]") else unit


def prepare(session: Session) -> list[str]:
    """Before the strings are read."""
    handling = [
        "Read last: overall length from the butt to the tip; mass as it is played, strung; balance over an edge, from the "
        "butt to the edge."
    ]
    return [
        "The frame must be strung. Push crooked strings straight with your fingers.",
        "Stick a piece of tape on one face, near the throat. That face is always towards you, the tip up, the handle towards "
        "you: left stays left.",
        "Read the head's inner length and width, from inner wall to inner wall, in the plane of the strings.",
        "Mark the middle of both on the hoop with pencil: there y = 0 and x = 0. Mark the other station lines from there, in "
        "mm: + towards the tip, − towards the throat.",
    ] + (handling if session.handling else [])


def reading(session: Session) -> list[str]:
    """How the strings are read."""
    if session.kind == "mark":
        how = [
            "Lay the rule in the plane of the strings, square to them, its edge on the station line. Do not move it until the "
            "row is full.",
            "Box 0 is the rule's figure at the first inner edge, 1 to n at the middle of each string, the last box at the "
            "other inner edge. The first figure need not be zero.",
        ]
    else:
        how = [
            "Measure each gap singly with the calliper on the station line: from the left edge of a string to the left edge of "
            "the next (crosses: upper to upper), without spreading them.",
            "Box k is the gap between strings k and k + 1. Box 0 is from the inner edge to the near side of string 1, the last "
            "box from string n to the other inner edge: add half the string's diameter to both.",
        ]
    how.append("Mains from left to right; crosses from tip to throat, down the middle. Count strings, not holes.")
    if session.repeats > 1:
        how.append("For a repeat take the instrument away and lay it anew.")
    how.append("If an inner edge is out of reach, leave both edge boxes out and delete their rows.")
    return how


def after(session: Session, folder: str) -> list[str]:
    """What happens with the figures."""
    rest = "All else is filled in but what the next line says." if session.by_hand else "All else is filled in."
    steps = [
        f"Type the figures into the column value of the CSVs in {folder}: one row a box, in this order, as read, in "
        f"{_units(session)}. {rest}",
    ]
    steps += [f"To be filled in by hand too: {words}." for words in session.by_hand]
    if session.assumed:
        described = "; ".join(f"{tool.instrument_id} {_described(tool)}" for tool in session.assumed)
        steps.append(f"Assumed in instruments.csv (step read, largest error): {described}. Put right what is not so.")
    if not session.contributor_known:
        steps.append("Put your name into contributors.csv, if you like.")
    compare = f", gapbook compare {session.frame_id} {folder}" if session.frame_known else ""
    steps.append(f"Then: gapbook check {folder}{compare}")
    return steps


def _units(session: Session) -> str:
    units = [session.tool.unit, *(tool.unit for _, tool in session.whole_frame)]
    return ", ".join(dict.fromkeys(unit_words(unit) for unit in units))


def _described(tool: Tool) -> str:
    return f"{tool.resolution} {tool.unit}, {tool.max_error} {tool.unit}"


def wrapped(paragraphs: Sequence[str], width: int, numbers: bool = True) -> list[str]:
    """Paragraphs in lines of at most `width` characters, numbered and hanging."""
    import textwrap

    lines = []
    for number, text in enumerate(paragraphs, 1):
        lead = f"{number}  " if numbers else "•  "
        found = textwrap.wrap(text, width)
        lines += [(lead if place == 0 else "    ") + line for place, line in enumerate(found)]
    return lines
