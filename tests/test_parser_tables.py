"""The parser's kept tables are those of the grammar."""

from __future__ import annotations

from gapbook.questions import grammar_tables, parser


def test_tables_are_of_this_grammar():
    assert parser.digest() == grammar_tables.GRAMMAR, "run: python -m gapbook.questions.parser"


def test_kept_tables_have_the_rules_and_states_that_building_gives():
    built, kept = parser.build(), parser.load()
    assert {str(rule) for rule in kept.rules} == {str(rule) for rule in built.rules}
    states = [len(one.parser.parser._parse_table.states) for one in (built, kept)]
    assert states[0] == states[1] > 10
