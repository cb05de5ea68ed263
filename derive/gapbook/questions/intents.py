"""Questions about one frame, two frames or a word: what is asked, and the command that tells all of it."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

from gapbook.errors import GapbookError
from gapbook.questions.discourse import reference_of
from gapbook.questions.synonyms import HOLDING
from gapbook.questions.token import Token

_GOVERNS = ("THAN", "LIKE", "AS", "NOT", "OF")
_QUIET = (
    "NOISE",
    "ASKING",
    "NOUN",
    "BED",
    "HOLES",
    "TRAIT",
    "ZONE",
    "EVERYWHERE",
    "COMMA",
    "ADJECTIVE",
    "SIZE",
    "GIVE",
    "SORT",
)
"""What can stand beside one frame in a question about it."""
_BESIDE_TWO = (
    *(*_QUIET, "COMPARATIVE", "SIZER", "THAN", "LIKE", "SAME", "AS", "AND", "OR", "VERSUS", "BOTH", "BASIS", "TO", "LEAN"),
    *("BY", "COMPARE", "MOST", "SUPERLATIVE"),
)
_WHY = ("why", "why's", "decomposition", "how come", "how is it that")
_SETS_BESIDE = (
    "differ",
    "differs",
    "compare",
    "difference",
    "differences",
    "diff",
    "comparison",
    "delta",
    "side by side",
    "head to head",
    "next to each other",
    "against each other",
)
_EXPLAINS = ("what", "what's", "whats", "wats", "wat", "explain", "define", "definition", "meaning", "means", "meant", "mean",
             "computed", "calculated", "how", "worked out", "describe")  # fmt: skip
_OPENS = re.compile(r"(?:is|are|does|do|was|can|would|will|isn't|which|how)\b")


class Term(NamedTuple):
    """A word that can be explained.

    words: the words that ask for it.
    table: the table whose schema explains it; empty if `text` does.
    field: the field there.
    text: the explanation, if no schema has it.
    """

    words: tuple[str, ...]
    table: str = ""
    field: str = ""
    text: str = ""


TERMS: dict[str, Term] = {
    "too close to call": Term(
        ("too close to call", "undecided"),
        text="The readings cannot decide: neither “tighter” nor “more open” is as sure as was asked, 95 % unless you say "
        "otherwise. More readings may decide it.",
    ),
    "counted": Term(
        ("counted", "basis", "estimated"),
        text="Nobody measured a bed of this frame. Its openness is estimated from head area and string counts, and its "
        "uncertainty is wide. The other basis is measured.",
    ),
    "measured": Term(
        ("measured",), text="At least one bed of this frame was read with a calliper, a rule or from a photograph."
    ),
    "side opening": Term(("side opening",), "scores", "side_opening"),
    "uniformity": Term(("uniformity", "uniform", "evenness"), "scores", "uniformity"),
    "main drilling": Term(("drilling", "main drilling", "drilled"), "scores", "drilling_main"),
    "cross drilling": Term(("cross drilling",), "scores", "drilling_cross"),
    "density": Term(("density", "string density", "dense"), "scores", "density_centre_per_cm2"),
    "mesh": Term(
        ("mesh", "mesh size", "string spacing", "spacing"),
        text="The side, in mm, of the square mesh with the same density: √(pitch of mains · pitch of crosses). Openness is ten "
        "times the mesh.",
    ),
    "main pitch": Term(("main pitch", "pitch", "main spacing"), "beds", "main_pitch_centre_mm"),
    "cross pitch": Term(("cross pitch", "cross spacing"), "beds", "cross_pitch_centre_mm"),
    "openness": Term(("openness", "open", "tightness"), "scores", "openness_centre"),
    "swingweight": Term(("swingweight", "swing weight", "sw"), "handling", "swingweight_kgcm2"),
    "balance": Term(("balance", "points head light"), "handling", "balance_points"),
    "stiffness": Term(("stiffness", "bed stiffness"), "mechanics", "stiffness_centre_n_per_mm"),
    "confidence": Term(
        ("confidence", "sure"),
        text="How probable a verdict must be to be given: 95 % unless you say otherwise (90% confidence).",
    ),
}
"""Every word that is explained, by its name."""


_TERM_WORDS = frozenset(word for term in TERMS.values() for word in term.words)


class About(NamedTuple):
    """A question about one frame (show), two (compare, why) or a word (explain).

    intent: show, compare, why or explain.
    subjects: the frames' ids, or the word.
    where: the zone that is named; None if none is.
    """

    intent: Literal["show", "compare", "why", "explain"]
    subjects: tuple[str, ...]
    where: str | None = None

    @property
    def command(self) -> str:
        """The command that tells all of it."""
        if self.intent == "explain":
            return "gapbook ask --phrases"
        place = f" --where {self.where}" if self.where and self.intent != "show" else ""
        return f"gapbook {'show' if self.intent == 'show' else 'compare'} {' '.join(self.subjects)}{place}"


def intent(found: list[Token]) -> About | None:
    """What a question asks about one frame, two or a word; None if it asks for a list of frames."""
    frames = [(place, token) for place, token in enumerate(found) if token.kind == "REF"]
    significant = [token for token in found if token.kind != "NOISE"]
    if not frames:
        return _explained(found)
    try:
        names = [reference_of(token) for _, token in frames]
    except GapbookError:
        return None
    where = next((str(token.meaning) for token in significant if token.kind == "ZONE"), None)
    kinds = {token.kind for token in significant} - {"REF"}
    texts = {token.text for token in found}
    if texts & {"show"} and len(frames) == 1 and kinds <= set(_QUIET) and not _governed(found, frames[0][0]):
        return About("show", (names[0],), where)
    if len(frames) == 1:
        return _about_one(found, frames[0][0], names[0], kinds, where)
    if len(frames) == 2 and names[0] != names[1] and kinds <= set(_BESIDE_TWO):
        return _about_two(found, [place for place, _ in frames], names, where)
    return None


def _governed(found: list[Token], place: int) -> bool:
    """Whether a frame is the reference of a relation."""
    before = [token.kind for token in found[:place] if token.kind not in ("NOISE", "NOUN", "BOTH")]
    return bool(before) and before[-1] in _GOVERNS


def _held(found: list[Token], place: int) -> bool:
    return any(word in HOLDING - {"is", "his", "her", "my", "our"} for one in found[:place] for word in one.text.split(" "))


def _about_one(found: list[Token], place: int, name: str, kinds: set[str], where: str | None) -> About | None:
    if not kinds <= set(_QUIET) or _governed(found, place):
        return None
    asks = any(token.kind in ("ASKING", "TRAIT", "HOLES", "BED", "ZONE") for token in found)
    adjective = kinds & {"ADJECTIVE", "SIZE"}
    if adjective and not any(token.kind == "ASKING" or _OPENS.match(token.text) for token in found[:place]):
        return None
    if not asks and _held(found, place):
        return None
    return About("show", (name,), where)


def _about_two(found: list[Token], places: list[int], names: list[str], where: str | None) -> About | None:
    texts = [token.text for token in found]
    kinds = [token.kind for token in found]
    if any(text in _WHY for text in texts):
        return About("why", tuple(names), where)
    if _governed(found, places[0]) and "VERSUS" not in kinds:
        return None
    between = kinds[places[0] + 1 : places[1]]
    sets_beside = any(text in _SETS_BESIDE for text in texts) or "VERSUS" in between
    opens = bool(_OPENS.match(next(iter(texts)))) or "which" in texts
    compares = any(kind in ("COMPARATIVE", "SIZER", "THAN", "SAME", "AS", "LIKE") for kind in kinds)
    is_said = any(token.text in ("is", "are") for token in found[places[0] + 1 : places[1]])
    of_the_first = not _held(found, places[0]) and _governed(found, places[1]) and (opens or is_said)
    if sets_beside or of_the_first:
        return About("compare", tuple(names), where)
    either = "OR" in between and not _governed(found, places[0])
    both = opens and compares and ("AND" in between or "COMMA" in between)
    return About("compare", tuple(names), where) if either or both else None


def _title(token: Token) -> str:
    """The text of a token; of a trait that is misspelt, its title."""
    traits = token.meaning if token.kind == "TRAIT" and isinstance(token.meaning, tuple) else ()
    return str(traits[0].title) if traits and token.text not in _TERM_WORDS else token.text


def _explained(found: list[Token]) -> About | None:
    """The word that is to be explained."""
    texts = " ".join(_title(token) for token in found if token.text not in '"“”')
    if not any(token.kind == "ASKING" and token.text in _EXPLAINS for token in found):
        return None
    if any(token.kind in ("NUMBER", "THAN", "NOT", "SIZER", "FIRST", "EXTREME", "COMPARATIVE", "NOUN") for token in found):
        return None
    best = max(
        ((len(word), name) for name, term in TERMS.items() for word in term.words if re.search(rf"\b{word}\b", texts)),
        default=None,
    )
    return About("explain", (best[1],)) if best else None
