"""The parser's kept tables are those of the grammar, and following them gives the trees that lark gives."""

from __future__ import annotations

import itertools
import random
from pathlib import Path

import pytest
from lark import Token as Terminal
from lark import Tree as LarkTree
from lark import UnexpectedInput

from gapbook.errors import GapbookError
from gapbook.questions import grammar_tables, parser
from gapbook.questions.vocabulary import Token

KINDS = sorted({name for state in grammar_tables.STATES for name in state if name.isupper() and name != "$END"})


def test_tables_are_of_this_grammar():
    kept = Path(grammar_tables.__file__).read_text(encoding="utf-8")
    assert kept == parser.tables_source(), "run: python -m gapbook.questions.parser"


def walks(number: int) -> list[tuple[str, ...]]:
    """Kinds of tokens one after another, as lark's own table lets them follow each other, each now and then by chance."""
    rng, grown = random.Random(7), []
    lark = parser.build()
    for _ in range(number):
        state, kinds = lark.parse_interactive(""), []
        for _ in range(rng.randint(1, 12)):
            usable = sorted(state.accepts() - {"$END"})
            kinds.append(rng.choice(usable if usable and rng.random() < 0.95 else KINDS))
            try:
                state.feed_token(Terminal(kinds[-1], kinds[-1]))
            except UnexpectedInput:
                break
        grown.append(tuple(kinds))
    return grown


def by_lark(lark, kinds):
    def plain(tree):
        return (str(tree.data), [plain(one) if isinstance(one, LarkTree) else str(one) for one in tree.children])

    try:
        return plain(lark.parse([Terminal(kind, kind) for kind in kinds]))
    except UnexpectedInput:
        return None


def by_tables(kinds):
    def plain(tree):
        return (tree.rule, [plain(one) if isinstance(one, parser.Tree) else one.text for one in tree.children])

    try:
        return plain(parser.parse_clause([Token(kind, kind, 0, 0) for kind in kinds]))
    except GapbookError:
        return None


@pytest.mark.parametrize(
    ("clauses", "understood"),
    [([kinds for size in range(4) for kinds in itertools.product(KINDS, repeat=size)], 100), (walks(4000), 500)],
    ids=["every short one", "longer ones"],
)
def test_trees_are_those_of_lark(clauses, understood):
    lark = parser.build()
    trees = [(by_lark(lark, kinds), by_tables(kinds)) for kinds in clauses]
    wrong = [kinds for kinds, (one, other) in zip(clauses, trees, strict=True) if one != other]
    assert not wrong
    assert sum(one is not None for one, _ in trees) > understood
