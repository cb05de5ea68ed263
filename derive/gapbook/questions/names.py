"""Frames by the names people use: the id, maker and model as pictures print them, a part that only one frame has, and with
slips of the pen.

A name is compared word by word and number by number, so that `Fern 98`, `fern-98`, `fern98` and `Fellwright Fern 98` are one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from gapbook.questions.spelling import nearest_words
from gapbook.questions.traits import plain

if TYPE_CHECKING:
    from gapbook.tables.store import Store

_PIECE = re.compile(r"[^\W\d_]+|\d+")
_BETWEEN = re.compile(r"[-_ ]{0,3}|['’]s | ?& ?")
_MOST_PIECES = 8
MOST_OFFERED = 3
_SIZE = re.compile(r"[89]\d|1[0-3]\d")
_NOT_A_SIZE = re.compile(r"s\b|\s*(?:x|/|-|sq|in\b|g\b|gr|mm|cm|\.\d|,\d|%)")
"""After a number these say that it is no part of a frame's name."""
RETAIL = "retail"


class Named(NamedTuple):
    """A frame that a text names.

    end: the column after the name.
    frames: the ids it may be of; one if it is sure.
    read_as: the name that was surely meant if the text has a slip of the pen; else None.
    """

    end: int
    frames: tuple[str, ...]
    read_as: str | None = None


@dataclass(frozen=True)
class Unheard:
    """A name that no frame has, with the ids that come nearest."""

    near: tuple[str, ...]


class Piece(NamedTuple):
    """A word or a number of a text, and its place."""

    text: str
    start: int
    end: int


def pieces(text: str) -> list[Piece]:
    """The words and numbers of a text, in lower case."""
    return [Piece(match[0], match.start(), match.end()) for match in _PIECE.finditer(plain(text))]


class Names:
    """The names of a catalogue's frames. They are read when a question first needs them.

    rows: gives id, maker, model and edition of every frame.
    copies: gives the ids of their specimens; called if a name is no frame's.
    """

    def __init__(
        self,
        rows: Callable[[], Iterable[tuple[str, str | None, str | None, str | None]]],
        copies: Callable[[], Iterable[str]] = tuple,
    ) -> None:
        self._rows, self._copies = rows, copies
        self._known: dict[tuple[str, ...], tuple[str, ...]] | None = None
        self._parts: dict[str, tuple[str, ...]] = {}
        self._near: dict[str, list[str]] = {}
        self.ids: frozenset[str] = frozenset()

    def _load(self) -> dict[tuple[str, ...], tuple[str, ...]]:
        """Every full name with the frames that have it, and every first word of a model with the frames it may mean."""
        if self._known is None:
            rows = list(self._rows())
            self.ids = frozenset(row[0] for row in rows)
            known: dict[tuple[str, ...], dict[str, None]] = {}
            models: dict[str, dict[str, None]] = {}
            for frame_id, maker, model, edition in rows:
                for name in _full_names(frame_id, maker, model, edition):
                    known.setdefault(tuple(piece.text for piece in pieces(name)), {})[frame_id] = None
                first = next((piece.text for piece in pieces(model or frame_id)), "")
                if len(first) > 2 and first.isalpha() and (edition in (None, "", RETAIL)):
                    models.setdefault(first, {})[frame_id] = None
                for piece in pieces(maker or ""):
                    if len(piece.text) > 2:
                        models.setdefault(piece.text, {})[frame_id] = None
            known.pop((), None)
            self._known = {name: tuple(found) for name, found in known.items()}
            self._parts = {part: tuple(found) for part, found in models.items()}
        return self._known

    def at(self, found: list[Piece], place: int, text: str, words: frozenset[str]) -> Named | None:
        """The frame that is named from a piece on; None if there is none.

        found: the pieces of the text.
        place: which of them the name would begin with.
        text: the text.
        words: words of the language, which are never taken for a part of a name or a slip of it.
        """
        known = self._load()
        run = [found[place]]
        while len(run) < _MOST_PIECES and place + len(run) < len(found):
            following = found[place + len(run)]
            if following.text == "s" and text[following.start - 1] in "'’" and place + len(run) + 1 < len(found):
                found = [*found[: place + len(run)], *found[place + len(run) + 1 :]]
                continue
            if not _BETWEEN.fullmatch(text[run[-1].end : following.start]):
                break
            run.append(following)
        for size in range(len(run), 0, -1):
            name = tuple(piece.text for piece in run[:size])
            if name in known and not (size == 1 and name[0] in words):
                return Named(run[size - 1].end, known[name])
        return self._with_a_slip(run, words) or self._by_part(run, text, words)

    def _by_part(self, run: list[Piece], text: str, words: frozenset[str]) -> Named | None:
        """The frames whose model begins with this word, or whose maker has it; none if a size follows that none of them has."""
        frames = self._parts.get(run[0].text, ())
        if not frames or run[0].text in words:
            return None
        if len(run) > 1 and _SIZE.fullmatch(run[1].text) and not _NOT_A_SIZE.match(text, run[1].end):
            return Named(run[1].end, ())
        return Named(run[0].end, frames)

    def _with_a_slip(self, run: list[Piece], words: frozenset[str]) -> Named | None:
        """The frame with this number whose name is written almost so; the number has to be right."""
        first = run[0].text
        if not first.isalpha() or len(first) < 4 or first in words or first in self._parts:
            return None
        if first not in self._near:
            self._near[first] = nearest_words(first, self._parts)
        near = self._near[first]
        known = self._load()
        for size in range(len(run), 1, -1):
            rest = tuple(piece.text for piece in run[1:size])
            found = {known[(word, *rest)] for word in near if (word, *rest) in known}
            if len(found) == 1:
                (frames,) = found
                return Named(run[size - 1].end, frames, frames[0] if len(frames) == 1 else None)
        if len(near) == 1 and not (len(run) > 1 and run[1].text.isdigit()):
            frames = self._parts[near[0]]
            return Named(run[0].end, frames, frames[0] if len(frames) == 1 else None)
        return None

    def unheard(self, reference: str) -> Unheard | None:
        """The nearest ids if no frame and no specimen has this id; None if one has it, or if no names are known."""
        self._load()
        if not self.ids or reference in self.ids or reference in set(self._copies()):
            return None
        return Unheard(self.near(reference))

    def near(self, text: str) -> tuple[str, ...]:
        """The ids nearest to a text, at most three."""
        import difflib  # late: only for a name nobody has

        self._load()
        joined = "-".join(piece.text for piece in pieces(text))
        return tuple(difflib.get_close_matches(joined, sorted(self.ids), MOST_OFFERED, 0.6))


def _full_names(frame_id: str, maker: str | None, model: str | None, edition: str | None) -> list[str]:
    """What a frame is called in full: its id; its model, with or without the maker; its edition too unless it is retail."""
    if not model:
        return [frame_id]
    called = [model, f"{maker} {model}" if maker else model]
    first_of_maker = maker.split()[0] if maker else ""
    called += [f"{first_of_maker} {model}"] if first_of_maker and first_of_maker != maker else []
    if edition and edition != RETAIL:
        return [frame_id, *(f"{one} {edition}" for one in called), f"{edition} {model}"]
    return [frame_id, *called, *(f"{one} {RETAIL}" for one in called)]


def names_of(store: Store) -> Names:
    """The names of a package's frames."""

    def rows() -> Iterable[tuple[str, str | None, str | None, str | None]]:
        table = store.load("frames", ["frame_id", "maker", "model", "edition"])
        return store.rows(f"SELECT frame_id, maker, model, edition FROM {table} ORDER BY frame_id")

    def copies() -> Iterable[str]:
        table = store.load("specimens", ["specimen_id"])
        return [str(row[0]) for row in store.rows(f"SELECT specimen_id FROM {table}")]

    return Names(rows, copies)


NOBODY = Names(lambda: ())
"""No names: a question is read by itself, and only ids, quoted names and folders are references."""
