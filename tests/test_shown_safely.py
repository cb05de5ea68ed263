"""Every text of every table, schema and descriptor, with signs in it that a terminal obeys, through every command: on a
terminal, in JSON, in SVG and in the page of the atlas they are only shown.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from contributed import even_bed, sent
from fuzzing import ran, wrong_files, wrong_texts
from gapbook.commands.app import COMMANDS
from gapbook.signs import markdown, safe, safe_json
from opens import commands
from spoiling import Case

MARK = "\x1b]0;x\x07\x9b2J\u202e\u2028\x85\u200b"
SIGNS = set(MARK) - set("]0;x2J")
OFTEN = ("ask", "show", "compare", "sql", "history")
"""Commands that the fast run tries with every kind of text."""
RUNS = [(name, [*words]) for name in COMMANDS for words in ((), ("--json",)) if name != "forget" or not words]
MORE = [("sql", ["--views"]), ("check", ["--markdown"]), ("check", ["--annotations"]), ("show", ["two"])]


def of_tables(package: Path, is_wanted: Callable[[dict], bool]) -> None:
    """Mark the cells of the columns that are wanted, in all tables alike."""
    for path in sorted((package / "catalogue").rglob("*.csv")):
        fields = json.loads((package / "schema" / f"{path.stem}.json").read_text(encoding="utf-8"))["fields"]
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
        for place, field in enumerate(fields):
            if field["type"] == "string" and path.stem != "digests" and is_wanted(field):
                for row in rows[1:]:
                    row[place] += MARK if row[place] else ""
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        path.write_bytes(out.getvalue().encode())


def is_id(field: dict) -> bool:
    return "pattern" in field.get("constraints", {})


def is_word(field: dict) -> bool:
    return "enum" in field.get("constraints", {}) or field["name"] in ("unit", "tension_unit", "shared")


def free_texts(package: Path) -> None:
    of_tables(package, lambda field: not is_id(field) and not is_word(field))


def ids(package: Path) -> None:
    of_tables(package, is_id)


def words(package: Path) -> None:
    of_tables(package, is_word)


def schemas(package: Path) -> None:
    for path in (package / "schema").glob("*.json"):
        schema = json.loads(path.read_text(encoding="utf-8"))
        for item in (schema, *schema["fields"]):
            for name in ("title", "description"):
                item[name] = item.get(name, "") + MARK
        schema["missingValues"] = [{"value": "", "label": MARK}]
        path.write_text(json.dumps(schema), encoding="utf-8")


def descriptor(package: Path) -> None:
    path = package / "datapackage.json"
    stated = json.loads(path.read_text(encoding="utf-8"))
    for name in ("name", "title", "description", "version", "homepage", "created"):
        stated[name] = str(stated.get(name, "")) + MARK
    for name in ("contributors", "sources", "licenses"):
        stated[name] = [{"title": MARK, "name": MARK, "path": MARK}]
    stated["keywords"] = [MARK]
    for resource in stated["resources"]:
        resource["title"] = resource["description"] = MARK
    path.write_text(json.dumps(stated), encoding="utf-8")


KINDS = (free_texts, ids, words, schemas, descriptor)


def cases() -> list[object]:
    listed = []
    for kind in KINDS:
        for command, more in [*RUNS, *MORE]:
            marks = () if command in OFTEN else pytest.mark.slow
            listed.append(pytest.param(kind, command, more, marks=marks, id=" ".join((kind.__name__, command, *more))))
    return listed


@pytest.mark.parametrize(("kind", "command", "more"), cases())
@pytest.mark.slow_after(3)
def test_what_a_terminal_would_obey_is_only_shown(tmp_path, derived, kind, command, more):
    package, out = shutil.copytree(derived, tmp_path / "package"), tmp_path / "out"
    kind(package)
    mine = sent(even_bed("three", "three-a"), tmp_path / "mine")
    out.mkdir()
    arguments = commands(str(package), str(mine), out)[command]
    if kind is ids:  # so that the frames are found
        arguments = [one + MARK if one in ("one", "two", "one-a", "two-a") else one for one in arguments]
    if more == ["two"]:
        arguments[0] = arguments[0].replace("one", "two")
    elif more == ["--views"]:
        arguments[0] = "--views"
    else:
        arguments += more
    run = ran(Case([command, *arguments], [], package, False, "utf-8", True, False, None))
    assert run.status in (0, 1, 2), run
    assert list(wrong_texts(Case([command, *arguments], [], package, False, "utf-8", True, False, None), run)) == []
    assert not [wrong for wrong in wrong_files(out, run) if not wrong.startswith("half")]
    for path in (*out.rglob("*.svg"), *out.rglob("*.html")):
        assert not SIGNS & set(path.read_text(encoding="utf-8")), path
    if kind in (free_texts, schemas, descriptor) and command in OFTEN:
        assert run.status == 0, run


# a text; how it is shown
SHOWN = [
    ("plain ünï 中文", "plain ünï 中文"),
    ("\x1b[2J", "\\u{1b}[2J"),
    ("a\u202eb", "a\\u{202e}b"),
    ("\u2028", "\\u{2028}"),
    ("\x9b", "\\u{9b}"),
    ("\u3164", "\\u{3164}"),
    ("\U000e0041", "\\u{e0041}"),
]


@pytest.mark.parametrize(("text", "shown"), SHOWN)
def test_one_function_makes_texts_safe(text, shown):
    assert safe(text) == shown


@pytest.mark.parametrize("text", ["plain", "ünï", *(text for text, _ in SHOWN), MARK, "\U000e0041", "\x7f"])
def test_a_json_document_stays_the_same_document(text):
    document = safe_json(json.dumps({"x": text}, ensure_ascii=False))
    assert json.loads(document) == {"x": text}
    assert safe(document) == document


# a text; how it stands in Markdown. GitHub Flavored Markdown (0.29) links bare addresses (6.9), GitHub mentions and numbers.
INERT = [
    ("@name", "@<!-- -->name"),
    ("see http://example.org", "see http:<!-- -->//example.org"),
    ("www.example.org", "www<!-- -->.example.org"),
    ("ann@example.org", "ann@<!-- -->example.org"),
    ("#12", "\\#<!-- -->12"),
    ("GH-12", "GH<!-- -->-12"),
    ("<b>", "\\<b\\>"),
    ("12.5 mm: fine", "12.5 mm: fine"),
]


@pytest.mark.parametrize(("text", "inert"), INERT)
def test_nothing_is_live_in_markdown(text, inert):
    assert markdown(text) == inert
