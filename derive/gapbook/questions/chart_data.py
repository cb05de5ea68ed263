"""Two traits of every frame against each other: what a chart shows."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.selection import frame_rows
from gapbook.questions.subjects import spellings, unknown
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONE_WORDS, Trait, plain, trait_names, unit_factor, zone_names
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.tables.schemas import Field
from gapbook.tables.store import Store, quoted

BY_FRAME = ("scores", "handling", "mechanics", "frames")
"""Tables with one row a frame, whose figures can be named by their column."""
OFFERED = 4
"""Names offered for one that is unknown."""
ALIKE = 0.6
"""Two names are spelt alike if difflib's ratio of them is at least this."""
_NO_NAMES = ("n", "per", "mm", "g", "cm2", "of", "the", "in", "at", "on")
"""Units and small words. Two names that only share one of these are not near each other."""
_SYSTEMS = {
    "metric": ("mm", "cm2", "g", "kg.cm2", "N"),
    "imperial": ("[in_i]", "[sin_i]", "[oz_av]", "kg.cm2", "[lbf_av]"),
    None: ("[sin_i]", "mm", "g", "kg.cm2", "N"),
}
_NO_UNIT = ("", "1")


class Axis(NamedTuple):
    """What an axis shows.

    title: its name.
    unit: its unit as people read it; empty if it has none.
    table: the table with the figure.
    column: its column there.
    factor: what the column is multiplied by.
    """

    title: str
    unit: str
    table: str
    column: str
    factor: float

    @property
    def label(self) -> str:
        """Name and unit."""
        return f"{self.title}, {self.unit}" if self.unit else self.title

    @property
    def sql(self) -> str:
        """SQL for the figure, if its table is called t_TABLE."""
        return f"t_{self.table}.{quoted(self.column)} * {self.factor!r}"

    def u_column(self, store: Store) -> str | None:
        """The column of its standard uncertainty, None if the table has none."""
        name = f"u_{self.column}"
        return name if name in store.package.schema(self.table).names else None

    def u_sql(self, store: Store) -> str:
        """SQL for its standard uncertainty."""
        name = self.u_column(store)
        return "NULL" if name is None else f"t_{self.table}.{quoted(name)} * {self.factor!r}"


class Point(NamedTuple):
    """One frame.

    frame_id: the frame.
    x: its figure on the axis across.
    y: its figure on the axis along.
    u_x: the expanded uncertainty of x (k = 2); None if none is stated.
    u_y: the expanded uncertainty of y (k = 2); None if none is stated.
    pattern: its string pattern, as `16×19`.
    measured: whether its bed was measured.
    """

    frame_id: str
    x: float
    y: float
    u_x: float | None
    u_y: float | None
    pattern: str
    measured: bool


@dataclass(frozen=True)
class ChartData:
    """What a chart shows.

    x: the axis across.
    y: the axis along.
    points: the frames that have both, by frame_id.
    left_out: how many of the frames asked for lack one or both.
    against: the frame to mark as the reference; None if none was named.
    asked: the question that the frames answer, in words; None if all were asked for.
    """

    x: Axis
    y: Axis
    points: tuple[Point, ...]
    left_out: int
    against: str | None
    asked: str | None = None


class Wanted(NamedTuple):
    """The frames that a chart is to show, and the question that they answer, in words."""

    frames: frozenset[str]
    words: str


def wanted(store: Store, question: str | None, pattern: Sequence[str] = (), head: str | None = None) -> Wanted | None:
    """The frames that match a question and the options; None if nothing was asked. GapbookError for what is not understood.

    store: the package's tables.
    question: as `ask` takes it.
    pattern: string patterns, of which one must fit, as `find` takes them.
    head: a range of head areas, as `find` takes it.
    """
    # Late: the question language, which a chart of all frames does not need.
    from gapbook.questions.answering import answer
    from gapbook.questions.language import parse
    from gapbook.questions.names import names_of
    from gapbook.questions.options import from_options
    from gapbook.questions.wording import describe

    asked = [parse(question, names_of(store))] if question is not None else []
    if pattern or head is not None:
        asked.append(from_options(pattern=list(pattern), head=head))
    if not asked:
        return None
    found = [frozenset(entry.frame_id for entry in answer(store, one).matches) for one in asked]
    return Wanted(frozenset.intersection(*found), ", ".join(describe(one) for one in asked))


def chart_data(
    store: Store, x: str, y: str, against: str | None = None, units: str | None = None, only: Wanted | None = None
) -> ChartData:
    """Every frame that has both traits. GapbookError for an unknown trait or reference, or if no frame has both.

    store: the package's tables.
    x: the trait across, as `axis` takes it.
    y: the trait upwards, likewise.
    against: a frame to mark; None for none.
    units: metric, imperial, or None for head area in sq in and the rest metric.
    only: the frames to show, beside the reference; None for all.
    """
    across, along = axis(store, x, units), axis(store, y, units)
    scores = store.load("scores", ["frame_id", "mains", "crosses", "basis"])
    columns: dict[str, list[str]] = {}
    for one in (across, along):
        columns.setdefault(one.table, []).extend(name for name in (one.column, one.u_column(store)) if name is not None)
    joins = "".join(
        f" LEFT JOIN ({frame_rows(store, table, names)}) t_{table} USING (frame_id)" for table, names in columns.items()
    )
    wanted = ", ".join(f"{one.sql}, {one.u_sql(store)}" for one in (across, along))
    rows = store.rows(f"SELECT frame_id, s.mains, s.crosses, s.basis, {wanted} FROM {scores} s{joins} ORDER BY frame_id")
    whole = tuple(
        Point(str(frame), float(at_x), float(at_y), _expanded(u_x), _expanded(u_y), f"{mains}×{crosses}", basis == "measured")
        for frame, mains, crosses, basis, at_x, u_x, at_y, u_y in rows
        if at_x is not None and at_y is not None
    )
    marked = _reference(store, whole, against)
    points = tuple(one for one in whole if only is None or one.frame_id in only.frames or one.frame_id == marked)
    if not points:
        found = f"{across.title} and {along.title}" + (f", of: {only.words}" if only else "")
        raise fail("empty-chart", "no frame has both of these", found=found)
    asked = {str(row[0]) for row in rows} if only is None else only.frames
    left_out = len(asked - {one.frame_id for one in whole})
    return ChartData(across, along, points, left_out, marked, only.words if only else None)


def axis(store: Store, text: str, units: str | None = None) -> Axis:
    """The axis called `text`: a trait as questions name it, with its zone, or a column of BY_FRAME. GapbookError if neither."""
    asked = _folded(text)
    for table in BY_FRAME:
        if table in store.package.resources:
            for field in store.package.schema(table).fields:
                if field.name == text.strip() and _is_figure(field):
                    return _of_column(table, field)
    named = _trait(asked)
    if named is None:
        if asked in (stiffness := _stiffness(store)):
            return _of_column("mechanics", stiffness[asked])
        near = nearest(store, asked)
        fix = "Nearest: " + ", ".join(near) if near else "Try: centre mesh, head area, swingweight, side opening"
        raise fail("unknown-trait", "no trait or column of this name", found=text, fix=fix)
    trait, zone = named
    unit = _unit(trait, units)
    name = trait.title if trait.key != "head_area" else "head area"
    place = f" {ZONE_WORDS[zone].place}" if zone is not None and len(trait.zones) > 1 else ""
    factor = float(unit_factor(unit)) if unit not in _NO_UNIT else 1.0
    title = name + place + (" (head light is negative)" if unit == "points" else "")
    column = trait.column_in(zone)
    words = UNIT_WORDS[unit][0] if unit in UNIT_WORDS else ""
    return Axis(title, words, trait.table, column, trait.factor / factor)


def _folded(text: str) -> str:
    """A name as names are compared: in lower case, with one space between words."""
    return " ".join(plain(text).replace("_", " ").replace("-", " ").split())


def _stiffness(store: Store) -> dict[str, Field]:
    """The columns of modelled stiffness by their names: "ZONE stiffness", and "stiffness" for the centre's."""
    if "mechanics" not in store.package.resources:
        return {}
    schema = store.package.schema("mechanics")
    columns = {field.name: field for field in schema.fields}
    called = {}
    for word, zone in {**zone_names(), "": "centre"}.items():
        if (field := columns.get(f"stiffness_{zone}_n_per_mm")) is not None:
            called[_folded(f"{word} stiffness")] = called[_folded(f"stiffness {word}")] = field
    return called


def nearest(store: Store, asked: str) -> list[str]:
    """Names that `asked` may mean, one a figure: first those that share a word with it (the centre's before others), then
    those spelt like it.
    """
    usual: dict[str, str] = {}
    words = {word for word in asked.split() if word not in _NO_NAMES}
    ranked = []
    for place, (name, figure) in enumerate(_called(store)):
        usual.setdefault(figure, name)
        folded = _folded(name)
        shared = len(words & set(folded.split()))
        ratio = difflib.SequenceMatcher(None, folded, asked).ratio()
        if shared or ratio >= ALIKE:
            ranked.append((-shared, shared > 0 and "centre" not in folded.split(), -ratio, place, figure))
    return [usual[figure] for figure in dict.fromkeys(figure for *_, figure in sorted(ranked))][:OFFERED]


def _called(store: Store) -> list[tuple[str, str]]:
    """Every name for an axis, with the figure it means: a column, or the key of a trait that is a multiple of a column. The
    usual name of a figure comes first.
    """
    names = []
    for name, (trait, *_) in trait_names().items():
        column = trait.column_in(trait.zones[0] if trait.zones else None)
        names.append((name if trait.key != "head_area" else "head area", column if trait.factor == 1.0 else trait.key))
    names += [(name, field.name) for name, field in _stiffness(store).items()]
    return names + [(name, name) for name in _columns(store)]


def _trait(words: str) -> tuple[Trait, str | None] | None:
    """The trait that `words` name, with the zone among them or its first."""
    names = {_folded(name): traits for name, traits in trait_names().items()}
    names |= {_folded(key): (trait,) for key, trait in TRAITS.items()}
    zones = {_folded(name): zone for name, zone in zone_names().items()}
    if words in names:
        trait = names[words][0]
        return trait, trait.zones[0] if trait.zones else None
    for word, zone in zones.items():
        for rest in (words.removeprefix(word + " "), words.removesuffix(" " + word)):
            if rest != words and rest in names and zone in names[rest][0].zones:
                return names[rest][0], zone
    return None


def _unit(trait: Trait, units: str | None) -> str:
    return next((code for code in _SYSTEMS[units] if code in trait.units), trait.units[0])


def _is_figure(field: Field) -> bool:
    return field.type in ("number", "integer") and not field.name.startswith("u_")


def _of_column(table: str, field: Field) -> Axis:
    unit = "" if field.unit in (None, "1") else str(field.unit)
    words = UNIT_WORDS[unit][0] if unit in UNIT_WORDS else unit
    return Axis(field.title[:1].lower() + field.title[1:], words, table, field.name, 1.0)


def _columns(store: Store) -> list[str]:
    tables = [table for table in BY_FRAME if table in store.package.resources]
    return [field.name for table in tables for field in store.package.schema(table).fields if _is_figure(field)]


def _expanded(u: float | None) -> float | None:
    return None if u is None else COVERAGE_FACTOR * float(u)


def _reference(store: Store, points: tuple[Point, ...], against: str | None) -> str | None:
    if against is None:
        return None
    drawn = {point.frame_id for point in points}
    copies = f"SELECT frame_id FROM {store.load('specimens', ['specimen_id', 'frame_id'])} WHERE specimen_id = ?"
    for name in spellings(against):
        if name in drawn:
            return name
        if store.rows(f"SELECT 1 FROM {quoted('scores')} WHERE frame_id = ?", [name]):
            raise fail("reference-blank", f"{name} has no value for one of the two", fix="Mark another frame")
        if frames := store.rows(copies, [name]):
            fix = f"--against {frames[0][0]}"
            raise fail("not-a-frame", "a chart marks frames, and this is a copy of one", found=name, fix=fix)
    if Path(against).is_dir():
        fix = "Name the frame of which you measured a copy"
        raise fail("not-a-frame", "a chart marks frames, and this is a folder", found=against, fix=fix)
    raise unknown(store, against)
