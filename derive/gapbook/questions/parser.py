"""Parses the tokens of one clause by grammar.lark.

The grammar is in lark's notation, and lark makes LALR(1) tables of it. To import lark and make them takes half as long as a
question, so they are kept in grammar_tables.py and a question only looks them up. `python -m gapbook.questions.parser` writes
them (it needs lark, of the test extra); a test checks that they are those of the grammar.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any, NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.questions import grammar_tables as tables
from gapbook.questions.vocabulary import Token

GRAMMAR = "grammar.lark"
TABLES = "grammar_tables.py"
_LAST = "$END"
"""What the tables call the end of a clause."""


class Tree(NamedTuple):
    """A rule of the grammar with the tokens and rules in it, in order; a rule named `_...` is replaced by its children."""

    rule: str
    children: tuple[Tree | Token, ...]

    @property
    def tokens(self) -> list[Token]:
        """The tokens that are the rule's own."""
        return [child for child in self.children if isinstance(child, Token)]

    @property
    def trees(self) -> list[Tree]:
        """The rules in it."""
        return [child for child in self.children if isinstance(child, Tree)]


def not_understood() -> GapbookError:
    """The error of a clause that is not in the language."""
    return fail("unknown-clause", "this is not understood")


def parse_clause(words: Sequence[Token]) -> Tree:
    """The tree of a clause [GapbookError unknown-clause]."""
    states, values = [tables.START], list[Tree | Token]()
    for token in (*words, Token(_LAST, "", 0, 0)):
        action = tables.STATES[states[-1]].get(token.kind)
        while action is not None and action < 0:
            name, size = tables.RULES[-1 - action]
            first = len(values) - size
            made = Tree(name, tuple(_dissolved(values[first:])))
            del values[first:], states[first + 1 :]
            values.append(made)
            states.append(tables.STATES[states[-1]][name])
            if states[-1] == tables.END:
                return made
            action = tables.STATES[states[-1]].get(token.kind)
        if action is None:
            raise not_understood()
        values.append(token)
        states.append(action)
    raise AssertionError("the last rule of a clause is complete at its end")


def _dissolved(children: Sequence[Tree | Token]) -> list[Tree | Token]:
    """Children of a rule; a child named `_...` is replaced by its own children."""
    flat: list[Tree | Token] = []
    for child in children:
        flat += child.children if isinstance(child, Tree) and child.rule.startswith("_") else [child]
    return flat


def grammar_text() -> str:
    """The grammar."""
    return resources.files("gapbook.questions").joinpath(GRAMMAR).read_text(encoding="utf-8")


def build() -> Any:
    """Lark's own parser of the grammar, which takes lark tokens in place of text."""
    from lark import Lark  # late: only to write or test the tables
    from lark.lexer import Lexer

    class Given(Lexer):
        def __init__(self, _: object) -> None: ...

        def lex(self, data: Any) -> Any:  # type: ignore[override]
            return iter(data)

    return Lark(grammar_text(), parser="lalr", lexer=Given, maybe_placeholders=False)


_SOURCE = '''"""Tables of {grammar}: made by `python -m gapbook.questions.parser`, not by hand."""

# ruff: noqa
START, END = 0, {end}
"""The state a clause begins in, and the one in which it is complete."""
RULES: tuple[tuple[str, int], ...] = {rules!r}
"""Name and length of every rule."""
STATES: tuple[dict[str, int], ...] = {states!r}
"""By state and by what comes next: the state to go on to, or -1 less the number of the rule that is complete."""
'''


def tables_source() -> str:
    """The text of grammar_tables.py. States are numbered in the order they are reached, so that a grammar has one text."""
    table = build().parser.parser._parse_table
    waiting = [table.start_states["start"]]
    numbers, rules, states = {waiting[0]: 0}, dict[tuple[str, int], int](), list[dict[str, int]]()
    while waiting:
        actions: dict[str, int] = {}
        for name, (action, argument) in sorted(table.states[waiting.pop(0)].items()):
            if action.name == "Shift" and argument not in numbers:
                numbers[argument] = len(numbers)
                waiting.append(argument)
            if action.name == "Shift":
                actions[str(name)] = numbers[argument]
            else:
                rule = (str(argument.origin.name), len(argument.expansion))
                actions[str(name)] = -1 - rules.setdefault(rule, len(rules))
        states.append(actions)
    end = numbers[table.end_states["start"]]
    return _SOURCE.format(grammar=GRAMMAR, end=end, rules=tuple(rules), states=tuple(states))


if __name__ == "__main__":
    Path(__file__).with_name(TABLES).write_text(tables_source(), encoding="utf-8")
