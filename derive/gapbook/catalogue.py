"""The Python interface of a data package: open it, ask, find, compare, or take its tables.

Each method imports what it needs, so that a question does not wait for numpy, scipy or pyarrow.
"""

from __future__ import annotations

import datetime
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gapbook.errors import fail
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package, caution
from gapbook.tables.store import Store

if TYPE_CHECKING:
    import pyarrow as pa

    from gapbook.intake.agreement import Agreement
    from gapbook.intake.rule import Report
    from gapbook.questions.advice import Advice
    from gapbook.questions.answer import Answer
    from gapbook.questions.comparing import Comparison
    from gapbook.questions.designing import Design
    from gapbook.questions.intents import About
    from gapbook.questions.names import Names
    from gapbook.questions.neighbours import Neighbours
    from gapbook.questions.portrait import Portrait
    from gapbook.questions.question import Question
    from gapbook.questions.relations_found import Associations
    from gapbook.questions.retensioning import Retension
    from gapbook.questions.shown import Picture
    from gapbook.questions.telling import Told
    from gapbook.science.grouping import FloatArray
    from gapbook.tables.copies import BedLines


class Catalogue:
    """An opened data package. Tables are read when first needed and kept for the life of the object.

    >>> from gapbook import open_catalogue
    >>> catalogue = open_catalogue()
    >>> catalogue
    <Catalogue: gapbook 0.1.0>
    """

    def __init__(self, package: Package) -> None:
        self.package = package
        self._store = Store(package)
        self._strings: dict[str, BedLines] = {}
        self._names: Names | None = None
        self._scratch: tempfile.TemporaryDirectory[str] | None = None

    def __repr__(self) -> str:
        return f"<Catalogue: {self.package.name} {self.package.version}>"

    def ask(self, text: str) -> Answer:
        """Answer a typed question. GapbookError for a clause that is not understood or a frame nobody knows.

        >>> answer = open_catalogue().ask("18x20, 98 sq in, measured only")
        >>> [entry.frame_id for entry in answer.matches][:2]
        ['drumlin-98', 'bracken-98-club']
        >>> answer.to_arrow().column_names[:4]
        ['decided', 'frame_id', 'basis', 'mains']
        """
        from gapbook.questions.language import parse_with_notes

        question, said = parse_with_notes(text, self.names)
        return self.find(question, said=said)

    @property
    def names(self) -> Names:
        """The names of the package's frames, which a typed question may use."""
        from gapbook.questions.names import names_of

        if self._names is None:
            self._names = names_of(self._store)
        return self._names

    def find(self, question: Question, first: int | None = None, said: Sequence[str] = ()) -> Answer:
        """Answer a Question.

        question: the question.
        first: only so many entries of each list are made, which is quicker; None for all.
        said: sentences on how the question was read; the answer has them among its notes.

        >>> from gapbook import Question
        >>> open_catalogue().find(Question(measured_only=True, limit=3))
        <Answer: 56 of 73 match (burdock-89, burdock-90, juniper-93); 0 too close to call>
        """
        from gapbook.questions.answering import answer
        from gapbook.questions.question import checked_confidence

        checked_confidence(question.confidence)
        return answer(self._store, question, first, said)

    def tell(self, about: About, confidence: float | None = None) -> Told:
        """What is asked about one frame, two or a word: the figures of `show` or `compare`, or an explanation."""
        from gapbook.questions.question import checked_confidence
        from gapbook.questions.telling import tell

        return tell(self._store, about, checked_confidence(confidence))

    def compare(self, *names: str, where: str = "centre", confidence: float | None = None) -> Comparison:
        """Compare frames, specimens or contribution folders with the first one, in the zone `where` at a confidence below 1.

        >>> open_catalogue().compare("fern-98", "moraine-98")
        <Comparison, centre: moraine-98 tighter (fern-98)>
        """
        from gapbook.questions.comparing import compare
        from gapbook.questions.question import checked_confidence

        return compare(self._store, list(names), where, checked_confidence(confidence))

    def near(
        self,
        name: str,
        within: Mapping[str, str | None] | None = None,
        *,
        at: str | None = None,
        limit: int | None = None,
        confidence: float | None = None,
        pulls: bool = True,
    ) -> Neighbours:
        """The frames nearest to a bed, in all zones and in handling at once.

        name: the bed: a frame, specimen, folder or pattern.
        within: tolerances as typed by name, {"bed": "3%", "mass": "any"}; the usual ones if not named.
        at: the pull of the bed as typed, "24kg"; None for 245 N.
        limit: how many frames are told of each list; None for 5.
        confidence: how sure a verdict must be that the line on changes rests on; None for 0.95.
        pulls: whether the pulls of the first ten frames are solved, which takes longest.

        >>> open_catalogue().near("fern-98", {"mass": "any", "swingweight": "any"}, pulls=False).counts["matches"]
        52
        """
        from gapbook.questions.nearness import LISTED, MOST_PULLS, near
        from gapbook.questions.question import checked_confidence
        from gapbook.questions.retensioning import pull_of
        from gapbook.questions.tolerances import tolerances
        from gapbook.science.tension import PULL_N

        pull = PULL_N if at is None else pull_of(at, None).mains
        sure = checked_confidence(confidence)
        many, solved = LISTED if limit is None else limit, MOST_PULLS if pulls else 0
        return near(self._store, name, tolerances(within or {}), pull, many, sure, solved)

    def show(self, name: str, add: Sequence[str] = ()) -> Portrait:
        """Everything known and derived about one frame (or the frame of a specimen), about the own copy in a contribution
        folder, or about a bed that is named by its counts ("16x19 98 sq in"); its handling also with weight added ("5 g at
        680 mm").
        """
        from gapbook.questions.portrait import portrait

        return portrait(self._store, name, add)

    def relate(
        self,
        traits: Sequence[str] | str,
        outcomes: Sequence[str] | str,
        given: Sequence[str] | str = (),
        confidence: float | None = None,
    ) -> Associations:
        """How traits of measured beds go with outcomes of their playtests. Association, not cause.

        traits: columns of playtests_with_beds, one or several.
        outcomes: columns of the same view, one or several.
        given: columns of it to hold.
        confidence: the confidence of intervals and verdicts; None for 0.95.

        >>> related = open_catalogue().relate("mean_tension_n", "comfort_vs_own")
        >>> related.associations[0].verdict
        'falls'
        >>> round(related.associations[0].slope, 4)
        -0.0339
        """
        from gapbook.questions.question import checked_confidence
        from gapbook.questions.relating import relate_columns

        names, told, held = ([one] if isinstance(one, str) else list(one) for one in (traits, outcomes, given))
        return relate_columns(self.package, names, told, held, checked_confidence(confidence))

    def design(
        self,
        trait: str,
        outcome: str,
        effect: float,
        *,
        power: float = 0.8,
        confidence: float | None = None,
        frames: int | None = None,
        testers: int | None = None,
        each: int | None = None,
        noise: float | None = None,
        between_frames: float | None = None,
        between_testers: float | None = None,
        first_day: datetime.date | None = None,
        days_between: int = 7,
        seed: int = 1,
    ) -> Design:
        """How many frames, testers and playtests it takes to see an effect, and a schedule that assigns frames at random.

        trait: a column of beds, frames, handling or mechanics.
        outcome: a column of playtests.
        effect: the slope to be seen [outcome unit for each unit of the trait].
        power: how often it is to be seen.
        confidence: of the intervals; None for 0.95.
        frames: only layouts with so many frames.
        testers: only layouts with so many testers.
        each: only so many playtests of each tester.
        noise: standard deviation of one playtest; None for what the package's own playtests show, as the two below.
        between_frames: between frames, for other reasons than the trait.
        between_testers: of slopes between testers.
        first_day: of the first round.
        days_between: from round to round.
        seed: of simulation and schedule.

        >>> found = open_catalogue().design("openness_centre", "launch_angle_deg", 0.1, seed=1)
        >>> found.chosen.power >= 0.8
        True
        """
        from gapbook.questions.designing import Wish, design
        from gapbook.questions.question import checked_confidence

        wish = Wish(
            trait=trait,
            outcome=outcome,
            effect=effect,
            power=power,
            confidence=checked_confidence(confidence),
            frames=frames,
            testers=testers,
            each=each,
            noise=noise,
            between_frames=between_frames,
            between_testers=between_testers,
            first_day=first_day,
            days_between=days_between,
            seed=seed,
        )
        return design(self.package, wish)

    def retension(self, source: str, target: str, at: str, crosses: str | None = None) -> Retension:
        """The pull tension that gives one bed the centre stiffness of another.

        source: the bed with the stiffness: a frame, specimen or contribution folder.
        target: the bed that is to have it, likewise.
        at: the pull of the source as typed, "24kg".
        crosses: the pull of its crosses as typed; None if it is the same.
        """
        from gapbook.questions.retensioning import pull_of, retension

        return retension(self._store, source, target, pull_of(at, crosses))

    def stiffness_map(self, specimen_id: str, across: Sequence[float], along: Sequence[float]) -> FloatArray:
        """Stiffness [N/mm] of a measured specimen at every x of `across` and y of `along` [mm from the centre], as an array
        [along, across]; NaN at points that cannot be struck.
        """
        from gapbook.tables.copies import map_of

        lines = self.strings(specimen_id)
        names = ["head_width_mm", "head_length_mm", "head_exponent"]
        beds = self._store.load("beds", ["specimen_id", *names])
        head = self._store.rows(f"SELECT {', '.join(names)} FROM {beds} WHERE specimen_id = ?", [specimen_id])
        if not head:
            raise fail("not-derived", f"no bed has been derived yet of {specimen_id}", fix="Run gapbook derive")
        return map_of(lines, head[0], across, along)

    def advise(
        self,
        name: str,
        against: str | None = None,
        *,
        style: str | None = None,
        string: str | None = None,
        arm: str | None = None,
        tension: str | None = None,
        confidence: float | None = None,
    ) -> Advice:
        """What a bed is likely to change for a player.

        name: the bed: a frame, specimen or folder.
        against: the bed the player knows; if None, the middle of the measured frames.
        style: flat, mixed or topspin.
        string: polyester, multifilament, synthetic, natural or hybrid.
        arm: fine or sore.
        tension: the pull tension as typed, "24kg", "53 lb", "235 N".
        confidence: how sure a verdict must be; None for 0.95.
        """
        from gapbook.questions.advice import advise
        from gapbook.questions.question import checked_confidence

        return advise(self._store, name, against, style, string, arm, tension, checked_confidence(confidence))

    def strings(self, specimen_id: str) -> BedLines:
        """The lines along which the strings of a measured specimen run, or those of the copy in a contribution folder."""
        from gapbook.questions.bed_data import lines_of

        if specimen_id not in self._strings:
            self._strings[specimen_id] = lines_of(self._store, specimen_id)
        return self._strings[specimen_id]

    def table(self, name: str) -> pa.Table:
        """A table or view of the package as Arrow, typed by its schema. Fields have title, description and unit as metadata.
        pandas, polars and DuckDB take it as it is.

        >>> beds = open_catalogue().table("beds")
        >>> beds.schema.field("main_pitch_centre_mm").metadata[b"unit"]
        b'mm'
        """
        from gapbook.tables.sql import table

        return table(self.package, name)

    def sql(
        self,
        text: str,
        values: Sequence[object] = (),
        tables: Mapping[str, Any] | None = None,
        *,
        seconds: float = 60.0,
        memory: float = 2000.0,
    ) -> pa.Table:
        """The result of one read-only SELECT over the documented views, as Arrow. A query that takes more than its limits is
        interrupted; if DuckDB is in a single long step, that can take a while.

        text: the SELECT.
        values: those of its question marks, in order.
        tables: own tables by name: the path of a CSV or Parquet file, an Arrow table, or a frame of pandas or polars.
        seconds: time it may take [s].
        memory: memory it may take [MB].

        >>> open_catalogue().sql("select count(*) as frames from frames").to_pylist()
        [{'frames': 73}]
        """
        from gapbook.tables.sql import Limits, query

        return query(self.package, text, Limits(seconds, memory), values=values, own=tables)

    def draw(self, name: str, other: str | None = None, *, stiffness: bool = False, dark: bool = False) -> Picture:
        """A measured bed as a picture, which a notebook shows; `save` writes it.

        name: a frame (its first copy is drawn), a specimen, or a contribution folder.
        other: a second bed laid over, coloured where they differ.
        stiffness: whether to shade by stiffness where struck.
        dark: whether it is light on dark.

        >>> open_catalogue().draw("fern-98")
        <Picture: fern-98>
        """
        from gapbook.questions.bed_data import centre_verdict, drawn_bed, two_beds
        from gapbook.questions.shown import Picture, above

        if stiffness and other is not None:
            raise fail("bad-option", "stiffness and a second bed exclude each other", fix="Draw one picture of each")
        store = self._store
        bed, second = (drawn_bed(store, name, stiffness), None) if other is None else two_beds(store, name, other)
        contrast = None if other is None else centre_verdict(store, name, other)
        contributed = all(one.contributed for one in (bed, second) if one is not None)
        said = None if contributed else caution(self.package)
        drawing = above("gapbook.pictures.draw").draw
        title = name if other is None else f"{name} and {other}"
        return Picture(lambda out: drawing(bed, second, out, dark=dark, caution=said, contrast=contrast), title)

    def chart(self, x: str, y: str, against: str | None = None, question: str | None = None, *, labels: int = 40) -> Picture:
        """Two traits of every frame against each other, as a picture.

        x: the trait across, as questions name it, or a column of scores, handling, mechanics or frames.
        y: the trait upwards.
        against: a frame to mark as the reference.
        question: show only frames that match this question.
        labels: names there are at most.
        """
        from gapbook.questions.chart_data import chart_data, wanted
        from gapbook.questions.shown import Picture, above

        data = chart_data(self._store, x, y, against, None, wanted(self._store, question, (), None))
        drawing, said = above("gapbook.pictures.chart").chart, caution(self.package)
        return Picture(lambda out: drawing(data, out, dark=False, most=labels, caution=said), f"{y} over {x}")

    def plot(self, related: Associations) -> Picture:
        """The partial-regression plot of what `relate` found, as a picture."""
        from gapbook.questions.shown import Picture, above

        drawing, said = above("gapbook.pictures.relation").plot_relation, caution(self.package)
        named = "; ".join(f"{item.outcome} on {item.trait}" for item in related.associations)
        return Picture(lambda out: drawing(related, out, said), named)

    def check(self, folder: str | os.PathLike[str] | None = None) -> Report:
        """What a check finds in the package, or in the folder of a contribution meant for it."""
        from gapbook.intake.check import check

        return check(None if folder is None else Path(folder), self.package).report

    def agreement(self) -> Agreement:
        """How well readings repeat and people agree."""
        from gapbook.intake.agreement import agreement_of

        return agreement_of(self.package)

    def derive(self, parts: Sequence[str] | None = None) -> dict[str, int]:
        """Recompute the derived tables, all or the named parts (beds, handling, mechanics); rows written by table. After that
        the catalogue answers from them.
        """
        from gapbook.tables.derived import derive

        rows = derive(self.package, None if parts is None else list(parts))
        self.package = open_package(self.package.root)
        self._store, self._names, self._strings = Store(self.package), None, {}
        return rows

    def export(self, out: str | os.PathLike[str], csv: bool = False) -> dict[str, int]:
        """Write the package as Parquet, or as CSV, into a new or empty folder, with descriptor, checksums and citation; rows by
        table and view.
        """
        from gapbook.tables.export import CSV, PARQUET, export

        return export(self.package, Path(out), form=CSV if csv else PARQUET)


def open_catalogue(path: str | os.PathLike[str] | None = None, beside: str | os.PathLike[str] | None = None) -> Catalogue:
    """Open the data package at `path`. If it is None: that of the environment variable GAPBOOK_PACKAGE, else that of the
    current checkout, else the copy that came with the installation. `beside` is the folder of a contribution, whose rows are
    joined to a copy of the package, which is derived anew; neither is changed.
    """
    package = open_package(path)
    if beside is None:
        return Catalogue(package)
    from gapbook.intake.joining import join

    scratch = tempfile.TemporaryDirectory(prefix="gapbook-")
    catalogue = Catalogue(join(package, Path(beside), Path(scratch.name) / "package"))
    catalogue._scratch = scratch  # the copy is there as long as the catalogue is
    return catalogue
