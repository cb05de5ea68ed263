"""The question language: the words a question is repeated in, any text there is, and the vocabulary."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asked import from_to, relation
from effort import examples
from gapbook.errors import GapbookError
from gapbook.questions.discourse import READERS
from gapbook.questions.grammar import GRAMMAR
from gapbook.questions.language import QuestionError, parse
from gapbook.questions.question import Order, Pattern, Question, Relation
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.traits import TRAITS, ZONES
from gapbook.questions.vocabulary import listed, phrases
from gapbook.questions.wording import clauses, describe


@st.composite
def ranges(draw: st.DrawFn) -> Range:
    """Any range there can be, or the strategy gives up."""
    trait = TRAITS[draw(st.sampled_from(sorted(TRAITS)))]
    places = 0 if trait.whole else draw(st.integers(0, 3))
    least = -50 if trait.signed else 0
    ends = draw(st.lists(st.decimals(least, 3000, places=places), min_size=1, max_size=2))
    names = ("low", "high") if len(ends) == 2 else (draw(st.sampled_from(("low", "high"))),)
    bounds = {name: Bound(value=value, inclusive=draw(st.booleans())) for name, value in zip(names, sorted(ends), strict=True)}
    try:
        zone = draw(st.sampled_from(trait.zones)) if trait.zones else None
        return Range(trait=trait.key, zone=zone, unit=draw(st.sampled_from(trait.units)), **bounds)
    except GapbookError:
        return Range(trait=trait.key, unit=trait.units[0], low=bounds.get("low"), high=None if "low" in bounds else ends[0])


references = st.one_of(
    st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True),
    st.text(st.characters(exclude_categories=("C", "Zl", "Zp"), exclude_characters='"“”„″'), min_size=1, max_size=20).filter(
        str.strip
    ),
)
relations = st.builds(
    Relation,
    kind=st.sampled_from(("tighter", "more_open", "like")),
    zone=st.sampled_from(ZONES),
    reference=references,
    within_percent=st.decimals("0.1", 50, places=1),
)


@st.composite
def orders(draw: st.DrawFn) -> Order:
    by = draw(st.sampled_from(["name", *TRAITS]))
    zones = TRAITS[by].zones if by in TRAITS else ()
    return Order(by=by, zone=draw(st.sampled_from([None, *zones])), descending=draw(st.booleans()))


@st.composite
def questions(draw: st.DrawFn) -> Question:
    """Any question without a contradiction."""
    patterns = st.builds(Pattern, mains=st.integers(10, 30), crosses=st.integers(10, 30))
    parts = {
        "ranges": draw(st.lists(ranges(), max_size=4)),
        "patterns": draw(st.lists(patterns, max_size=3)),
        "relations": draw(st.lists(relations, max_size=3)),
    }
    settings_ = {
        "measured_only": draw(st.booleans()),
        "order": draw(st.none() | orders()),
        "limit": draw(st.none() | st.integers(1, 10**9)),
        "confidence": draw(st.floats(0.5, 1.0, exclude_min=True, exclude_max=True)),
    }
    try:
        return Question(**{name: tuple(found) for name, found in parts.items()}, **settings_)
    except GapbookError:
        return Question(**settings_)


class TestWording:
    @examples(400)
    @given(questions())
    @pytest.mark.slow
    def test_words_mean_the_question_they_say(self, question: Question) -> None:
        words = describe(question)
        assert parse(words) == question
        assert parse(words).model_dump_json() == question.model_dump_json()

    @given(questions())
    def test_each_clause_means_its_part(self, question: Question) -> None:
        said = clauses(question)
        assert len(said) == len(question.ranges) + bool(question.patterns) + len(question.relations)
        for words, part in said:
            again = parse(words)
            assert part in (*again.ranges, again.patterns, *again.relations)

    @pytest.mark.parametrize(
        "question",
        [
            Question(relations=(relation("tighter", reference="and"),)),
            Question(relations=(relation("tighter", reference="Ann’s loan, 98"),)),
            Question(ranges=(from_to("mass", "320", "320.0", "g"),)),
            Question(ranges=(from_to("balance", "-0.0", "0", "points"),)),
        ],
    )
    def test_what_is_easily_lost_is_kept(self, question: Question) -> None:
        assert parse(describe(question)).model_dump_json() == question.model_dump_json()

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("16 mains, 95-98 in2, TIGHTER than Fern-98", "head 95 to 98 sq in, 16 mains, tighter centre than fern-98"),
            ("balance at least 4 points head light", "balance at least 4 points head light"),
            ("head light", "balance over 0 points head light"),
            ("mesh under 11", "centre mesh under 11 mm"),
            ("612..632 cm2", "head 612 to 632 cm²"),
            ("within 3% of fern-98", "like fern-98 in the centre"),
            ("like './A, b'", 'like "./A, b" in the centre'),
            ("mass over 300 and under 320 g", "mass over 300 g, mass under 320 g"),
            ("all frames", "all frames"),
        ],
    )
    def test_canonical_words(self, text: str, words: str) -> None:
        assert describe(parse(text)) == words


class TestAnything:
    @examples(300)
    @given(st.text(max_size=80))
    def test_any_text(self, text: str) -> None:
        self.is_answered(text)

    @examples(600)
    @given(
        st.lists(
            st.sampled_from([*phrases(), *(str(number) for number in (0, 4, 16, 95.5, -2, 1000)), "fern-98", ",", "and", '"'])
            | st.text(max_size=5),
            max_size=12,
        )
    )
    def test_any_words(self, words: list[str]) -> None:
        self.is_answered(" ".join(words))

    @staticmethod
    def is_answered(text: str) -> None:
        """Either a question whose words mean it, or a QuestionError that points into the text."""
        try:
            question = parse(text)
        except QuestionError as refused:
            error = refused
        else:
            assert parse(describe(question)) == question
            return
        assert error.problems
        for problem in error.problems:
            assert 0 <= problem.start <= problem.end <= len(text)
            assert re.fullmatch(r"[a-z]+(-[a-z]+)*", problem.code)


class TestVocabulary:
    def test_no_phrase_has_two_kinds(self) -> None:
        texts = [phrase.text for phrase in listed()]
        assert len(texts) == len(set(texts))

    def test_the_grammar_knows_every_kind(self) -> None:
        kinds = {phrase.kind for phrase in listed()}
        ruled = set(re.findall(r"[A-Z_]{2,}", " ".join(rule for _, rule in GRAMMAR)))
        by_hand = {"NOISE", "BED", "ASKING", "TOPIC", "VERSUS"}  # what clauses are not made of
        assert ruled - {"REF", "PRONOUN"} == kinds - by_hand

    def test_every_rule_has_a_reader(self) -> None:
        assert {name for name, _ in GRAMMAR} == set(READERS)

    def test_phrases_are_as_plain_leaves_them(self) -> None:
        assert [text for text in phrases() if text != " ".join(text.lower().split())] == []
