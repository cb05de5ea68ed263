"""Who has to know more than three fields or parameters finds a line on each of them in the docstring.

The rule holds for public classes and functions of the rooms listed, dunder methods and typer's commands aside.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOMS = ("commands", "intake", "photo", "pictures", "questions", "science", "screens", "tables")
"""The rooms of derive/gapbook."""
MOST = 3
"""Fields or parameters that need no line of their own."""
PACKAGE = Path(__file__).resolve().parents[1] / "derive" / "gapbook"
Def = ast.FunctionDef | ast.AsyncFunctionDef


def public(body: list[ast.stmt]) -> Iterator[ast.ClassDef | Def]:
    """Public classes, and public functions and methods, of a module or a class and of what they hold."""
    for node in body:
        if isinstance(node, ast.ClassDef | Def) and not node.name.startswith("_"):
            yield node
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from public(node.body)


def is_command(node: Def) -> bool:
    """Whether a function is a command, whose parameters typer's help explains: one is annotated with an argument or option, or
    a decorator such as `@app.command()` makes it one.
    """
    notes = [ast.unparse(one.annotation) for one in (*node.args.args, *node.args.kwonlyargs) if one.annotation is not None]
    calls = [each.func if isinstance(each, ast.Call) else each for each in node.decorator_list]
    decorated = any(isinstance(call, ast.Attribute) and call.attr in ("command", "callback") for call in calls)
    return decorated or any(re.search(r"\btyper\.|Option\b", note) for note in notes)


def names(node: ast.ClassDef | Def) -> list[str]:
    """The public fields of a class, or the parameters of a function."""
    if isinstance(node, ast.ClassDef):
        targets = [item.target for item in node.body if isinstance(item, ast.AnnAssign)]
        return [target.id for target in targets if isinstance(target, ast.Name) and not target.id.startswith("_")]
    if is_command(node):
        return []
    given = node.args
    every = [*given.posonlyargs, *given.args, given.vararg, *given.kwonlyargs, given.kwarg]
    return [one.arg for one in every if one is not None and one.arg not in ("self", "cls")]


def told(node: ast.ClassDef | Def) -> set[str]:
    """The names with a line in the docstring, `name: ...` or `name, other: ...`; and fields with a text right below them, or
    with a `description=` of pydantic's.
    """
    text = ast.get_docstring(node) or ""
    starts = re.findall(r"^[ \t]*([*\w]+(?:, [*\w]+)*)(?: \[[^\]]*\])?: \S", text, re.MULTILINE)
    told = {name.lstrip("*") for start in starts for name in start.split(", ")}
    for item in node.body:
        is_call = isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name) and isinstance(item.value, ast.Call)
        if is_call and any(keyword.arg == "description" for keyword in item.value.keywords):
            told.add(item.target.id)
    for field, below in zip(node.body, node.body[1:], strict=False):
        is_text = isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant) and isinstance(below.value.value, str)
        if is_text and isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            told.add(field.target.id)
    return told


def lacking(source: str) -> list[tuple[int, str, list[str]]]:
    """The line and the name of whatever lacks lines, and the names that have none."""
    each = [(node, names(node)) for node in public(ast.parse(source).body)]
    missing = [(node, [name for name in of_node if name not in told(node)]) for node, of_node in each if len(of_node) > MOST]
    return [(node.lineno, node.name, without) for node, without in missing if without]


@pytest.mark.parametrize("room", ROOMS)
def test_every_field_and_parameter_has_its_line(room):
    files = sorted((PACKAGE / room).rglob("*.py"))
    assert files, f"no room {room}"
    lines = [
        f"{file.relative_to(PACKAGE.parents[1])}:{line} {name} says nothing of {', '.join(without)}"
        for file in files
        for line, name, without in lacking(file.read_text(encoding="utf-8"))
    ]
    assert not lines, "\n".join(lines)


FIELDS = '''
class Bed:
    """A bed.

    mains: strings along it
    crosses, area: strings across it, and its area [cm2]
    {more}
    """

    mains: int
    crosses: int
    area: float
    gauge: float
    _seen: bool
'''
PARAMETERS = '''
class Bed:
    """A bed."""

    def strung(self, pull, /, mains, *loss, crosses=0, **more):
        """The bed, strung at a pull: with mains and crosses.

        pull [N]: how hard
        mains: how many
        *loss: how much of it is lost
        {more}
        """
'''


@pytest.mark.parametrize(
    ("source", "more", "line", "name", "missing"),
    [
        (FIELDS, "thickness: of a string", 2, "Bed", ["gauge"]),
        (FIELDS, "the gauge of its strings", 2, "Bed", ["gauge"]),
        (FIELDS, "gauge:", 2, "Bed", ["gauge"]),
        (PARAMETERS, "more: what else", 5, "strung", ["crosses"]),
        (PARAMETERS, "said with crosses: how many", 5, "strung", ["crosses", "more"]),
    ],
)
def test_a_missing_line_is_found(source, more, line, name, missing):
    assert lacking(source.format(more=more)) == [(line, name, missing)]


@pytest.mark.parametrize(
    "source",
    [
        FIELDS.format(more="gauge: thickness of a string [mm]"),
        PARAMETERS.format(more="crosses, more: how many, and what else"),
        FIELDS.format(more="").replace("gauge: float", 'gauge: float\n    """Thickness of a string."""'),
        FIELDS.format(more="").replace("class Bed", "class _Bed"),
        "class Bed:\n    def __init__(self, a, b, c, d): ...\n",
        "@app.command('ask')\ndef ask(a, b, c, d): ...\n",
        "def ask(a: Annotated[str, typer.Argument(help='it')], b: JsonOption, c: UnitsOption, d: PackageOption): ...\n",
        "def lay_out(a, b, c): ...\n",
    ],
)
def test_what_needs_no_line_or_has_it_is_passed_over(source):
    assert lacking(source) == []
