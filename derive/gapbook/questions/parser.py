"""The parser of grammar.lark, which takes tokens in place of text.

Working out its tables takes longer than a question may, so they are kept in grammar_tables.py, written by
`python -m gapbook.questions.parser` and held to the grammar by a test. Another release of lark than the one they were made
with builds the parser anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import lark
from lark import Lark
from lark.grammar import Rule
from lark.lexer import Lexer, TerminalDef

GRAMMAR = "grammar.lark"
TABLES = "grammar_tables.py"
_GIVEN = "<given tokens>"


class Given(Lexer):
    """Passes on the tokens that are already there."""

    def __init__(self, _: object) -> None: ...

    def lex(self, data: Any) -> Iterator[Any]:  # type: ignore[override]
        """The tokens."""
        return iter(data)


def grammar_text() -> str:
    """The grammar."""
    return resources.files("gapbook.questions").joinpath(GRAMMAR).read_text(encoding="utf-8")


def build() -> Lark:
    """The parser, worked out from the grammar."""
    return Lark(grammar_text(), parser="lalr", lexer=Given, maybe_placeholders=False)


def digest() -> str:
    """What tells one grammar from another."""
    import hashlib

    return hashlib.sha256(grammar_text().encode()).hexdigest()


def load() -> Lark:
    """The parser from its kept tables, or built if they are of another release of lark."""
    from gapbook.questions import grammar_tables as kept

    if lark.__version__ != kept.LARK:
        return build()
    return Lark._load_from_dict(_swap(kept.DATA, _GIVEN, Given), kept.MEMO)  # type: ignore[no-untyped-call]


def _swap(data: Any, old: object, new: object) -> Any:
    """A copy of nested dicts and lists with one value for another."""
    if isinstance(data, dict):
        return {key: _swap(value, old, new) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return type(data)(_swap(value, old, new) for value in data)
    return new if data is old or (isinstance(old, str) and data == old) else data


def tables_source() -> str:
    """The text of grammar_tables.py. Its states come in another order each time; they say the same."""
    data, memo = build().memo_serialize([TerminalDef, Rule])
    return "\n".join(
        (
            f'"""Tables of the parser of {GRAMMAR}: made by `python -m gapbook.questions.parser`, not by hand."""\n',
            "# ruff: noqa",
            "from typing import Any\n",
            f"LARK = {lark.__version__!r}",
            f"GRAMMAR = {digest()!r}",
            f"DATA: dict[str, Any] = {_swap(data, Given, _GIVEN)!r}",
            f"MEMO: dict[int, Any] = {memo!r}\n",
        )
    )


if __name__ == "__main__":
    Path(__file__).with_name(TABLES).write_text(tables_source(), encoding="utf-8")
