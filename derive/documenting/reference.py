"""The pages of the reference, made from the code when the documents are built, so that they cannot drift from it."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import typer.main

from gapbook.commands.app import build
from gapbook.commands.documents import DOCUMENTS, schema_of
from gapbook.commands.groups import grouped
from gapbook.intake.rules import RULES
from gapbook.questions.examples import PHRASES
from gapbook.science.units import ALIASES
from gapbook.screens.findings import rules_markdown
from gapbook.tables.package import Package
from gapbook.tables.views import views

PUBLIC = {
    "Open and ask": ("gapbook.catalogue", ("open_catalogue", "Catalogue")),
    "What is asked": ("gapbook.questions.question", ("Question",)),
    "What `ask` and `find` answer": ("gapbook.questions.answer", ("Answer", "Entry", "Reference")),
    "What `compare` gives": ("gapbook.questions.comparing", ("Comparison", "Contrast", "Bed")),
    "What `show` gives": ("gapbook.questions.portrait", ("Portrait",)),
    "Errors": ("gapbook.errors", ("GapbookError", "Problem", "Place")),
}
"""What the page of the Python interface holds, by heading: module and names."""
SOURCES = {
    "NIST SP 811": r"NIST SP 811",
    "NIST/SEMATECH e-Handbook": r"e-Handbook",
    "NIST StRD": r"StRD",
    "JCGM 100 (GUM)": r"JCGM 100|\bGUM\b",
    "JCGM 101 (Monte Carlo)": r"JCGM 101",
    "JCGM 106": r"JCGM 106",
    "ISO 9044": r"ISO 9044",
    "ISO 13528": r"ISO 13528",
    "ITF Rules of Tennis": r"\bITF\b",
    "AIAG MSA manual": r"\bAIAG\b",
    "Data Package v2": r"Data Package v2|frictionless",
    "RFC 4180": r"RFC 4180",
    "ORCID": r"ORCID",
    "Timoshenko": r"Timoshenko",
    "Cross & Bower 2001": r"Cross & Bower",
    "Fuller 1987": r"Fuller 1987",
    "Holm 1979": r"Holm 1979",
    "Grubbs & Beck 1972": r"Grubbs & Beck",
    "Spurr et al. 2014": r"Spurr et al",
    "WCAG by axe": r"axe_playwright",
    "scipy": r"from scipy|import scipy",
    "statsmodels": r"from statsmodels|import statsmodels",
    "uncertainties": r"from uncertainties|by_ufloats",
    "shapely": r"from shapely",
    "pint": r"import pint",
    "pandas": r"import pandas",
    "polars": r"import polars",
    "plain loops": r"bench import plain|plain_bed|plain_scores|plain_net",
    "worked by hand": r"[Bb]y hand|[Hh]and arithmetic",
    "from memory": r"[Ff]rom memory",
    "common practice, no source": r"[Cc]ommon practice",
}
"""Sources that tests name, and how they are found in a test."""
INDEX = """# Reference

Made from the code when the documents are built.

```{toctree}
:maxdepth: 1

commands
json
tables
rules
phrases
python
sources
glossary
```
"""


def write_all(package: Package, root: Path, folder: Path) -> None:
    """Write every page of the reference into `folder`, which holds nothing else.

    package: whose tables are described
    root: of the checkout, with DEVELOPERS.md, which has the glossary, and the tests
    folder: is emptied, or made
    """
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    made = {
        "index": INDEX,
        "commands": commands_page(),
        "json": json_page(),
        "tables": tables_page(package),
        "rules": rules_page(),
        "phrases": phrases_page(),
        "python": python_page(),
        "sources": sources_page(root / "tests"),
        "glossary": glossary_page((root / "DEVELOPERS.md").read_text(encoding="utf-8")),
    }
    for name, text in made.items():
        (folder / f"{name}.md").write_text(text, encoding="utf-8")
    (folder / "schemas").mkdir()
    for command in DOCUMENTS:
        text = json.dumps(schema_of(command), ensure_ascii=False, indent=2) + "\n"
        (folder / "schemas" / f"{command}.json").write_text(text, encoding="utf-8")


def row(cells: Iterable[object]) -> str:
    """A row of a Markdown table; signs that would end a cell are escaped."""
    return "| " + " | ".join(" ".join(str(cell).split()).replace("|", "\\|") for cell in cells) + " |\n"


def table(heads: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    """A Markdown table."""
    return row(heads) + row("---" for _ in heads) + "".join(row(cells) for cells in rows) + "\n"


def escaped(text: str) -> str:
    """A text in which Markdown finds no markup."""
    return re.sub(r"([\\`*_{}\[\]<>#|$~])", r"\\\1", text)


# Commands


def commands_page() -> str:
    """Every command with its help, arguments and options, as the command line itself has them."""
    group: Any = typer.main.get_command(build())
    context = group.make_context("gapbook", [], resilient_parsing=True)
    parts = ["# Commands\n\n", "Made from the help of each command. `gapbook COMMAND --help` prints the same.\n\n"]
    for title, names in _groups(group):
        parts.append(f"## {title}\n\n")
        for name in names:
            parts.append(_command(name, group.commands[name], context))
    return "".join(parts)


def _groups(group: Any) -> list[tuple[str, list[str]]]:
    """The commands by what they are for."""
    return grouped(list(group.commands))


def _command(name: str, command: Any, parent: Any) -> str:
    context = command.make_context(name, [], parent=parent, resilient_parsing=True)
    usage = " ".join(["gapbook", name, *command.collect_usage_pieces(context)])
    records = [record for one in command.get_params(context) if (record := one.get_help_record(context))]
    described = "\n\n".join(escaped(part) for part in (command.help or "").split("\n\n"))
    options = table(("argument or option", "what it is"), ((f"`{names}`", escaped(text)) for names, text in records))
    return f"### {name}\n\n```text\n{usage}\n```\n\n{described}\n\n{options}"


# JSON


def json_page() -> str:
    """The document of each command, key by key, with its JSON Schema to download."""
    parts = [
        "# JSON of each command\n\n",
        "With `--json` a command prints one document on stdout. Its keys are stable: they are added to, and not renamed. Each "
        "document has a JSON Schema (draft 2020-12), and the tests hold what commands print to it.\n\n",
    ]
    for command in DOCUMENTS:
        schema = schema_of(command)
        parts.append(f"## {command}\n\n{{download}}`{command}.json <schemas/{command}.json>`\n\n")
        kinds = [_resolved(kind, schema) for kind in schema.get("anyOf", [schema])]
        for kind in kinds:
            parts.append(f"A document may be {kind['title']}:\n\n" if len(kinds) > 1 else "")
            parts.append(_keys(kind, schema))
        for name, part in schema.get("$defs", {}).items():
            if part not in kinds and "properties" in part:
                parts.append(f"{escaped(name)}{_first(part)}\n\n{_keys(part, schema)}")
    return "".join(parts)


def _resolved(part: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = schema["$defs"][part["$ref"].rpartition("/")[2]] if "$ref" in part else part
    return found


def _first(part: dict[str, Any]) -> str:
    text = str(part.get("description", "")).split("\n\n")[0]
    return f": {escaped(text)}" if text else ":"


def _keys(part: dict[str, Any], schema: dict[str, Any]) -> str:
    """The keys of an object as a table; what is said of one in the model's docstring stands beside it."""
    said = dict(re.findall(r"^(\w+): (.+)$", str(part.get("description", "")), re.MULTILINE))
    needed = part.get("required", [])
    rows = (
        (
            f"`{key}`",
            _type(kind),
            "" if key in needed else "may be missing",
            escaped(said.get(key, kind.get("description", ""))),
        )
        for key, kind in part.get("properties", {}).items()
    )
    return table(("key", "type", "", "what it is"), rows)


def _type(kind: dict[str, Any]) -> str:
    """A type in words."""
    if "$ref" in kind:
        return escaped(kind["$ref"].rpartition("/")[2])
    if "anyOf" in kind:
        return " or ".join(dict.fromkeys(map(_type, kind["anyOf"])))
    if "enum" in kind:
        return " or ".join(f"`{json.dumps(one)}`" for one in kind["enum"])
    if "const" in kind:
        return f"`{json.dumps(kind['const'])}`"
    if kind.get("type") == "array":
        return f"list of {_type(kind['items'])}" if kind.get("items") else "list"
    if kind.get("type") == "object" and isinstance(kind.get("additionalProperties"), dict):
        return f"by name, {_type(kind['additionalProperties'])}"
    return str(kind.get("type", "anything"))


# Tables


def tables_page(package: Package) -> str:
    """Every table and field, from the schemas; and the views of SQL."""
    parts = [
        "# Tables and fields\n\n",
        "Made from `schema/`. Units are UCUM codes. A package is a Frictionless data package; `gapbook sql` has all of these "
        "tables, and the views at the end.\n\n",
    ]
    for name in package.resources:
        described = package.schema_descriptor(name)
        key = ", ".join(f"`{one}`" for one in _listed(described.get("primaryKey")))
        said = escaped(str(described.get("description") or package.resource(name).get("description", "")))
        parts.append(f"## {name}\n\n{said}{' Key: ' + key + '.' if key else ''}\n\n")
        parts.append(table(("field", "type", "unit", "what it holds", "limits"), map(_field, described["fields"])))
    parts.append("## Views of SQL\n\n")
    for view in views(package):
        if view.sql is not None:
            rows = ((f"`{one.name}`", one.type, one.unit and f"`{one.unit}`", escaped(one.description)) for one in view.columns)
            parts.append(f"### {view.name}\n\n{escaped(view.description)}\n\n")
            parts.append(table(("column", "type", "unit", "what it holds"), rows))
    parts.append("## Words for units\n\nA unit may also be written as one of these words.\n\n")
    parts.append(table(("word", "UCUM code"), ((f"`{word}`", f"`{code}`") for word, code in sorted(ALIASES.items()))))
    return "".join(parts)


def _listed(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else list(value or ())


def _field(field: dict[str, Any]) -> tuple[str, ...]:
    limits = dict(field.get("constraints", {}))
    words = ["required"] if limits.pop("required", False) else []
    if allowed := limits.pop("enum", None):
        words.append("one of " + ", ".join(f"`{one}`" for one in allowed))
    low, high = limits.pop("minimum", None), limits.pop("maximum", None)
    if low is not None or high is not None:
        words.append(f"{'' if low is None else low} to {'' if high is None else high}")
    if (longest := limits.pop("maxLength", None)) is not None:
        words.append(f"at most {longest} characters")
    limits.pop("pattern", None)
    words += [f"{name} {value}" for name, value in limits.items()]
    unit = field.get("unit")
    return (
        f"`{field['name']}`",
        field["type"],
        f"`{unit}`" if unit else "",
        escaped(field.get("description", "")),
        "; ".join(words),
    )


# Rules, phrases, words


def rules_page() -> str:
    """The rules of the check."""
    return (
        "# Rules of the check\n\nMade by `gapbook check --rules --markdown`. "
        "An **error** must be mended before rows are admitted; a **warning** asks a reviewer to look, and "
        "is then accepted with a reason; a **note** is information.\n\n" + rules_markdown(RULES)
    )


def phrases_page() -> str:
    """The phrases of the question language."""
    parts = [
        "# Phrases of the question language\n\n",
        "Every phrase here is understood by `gapbook ask`; a test holds that. FRAME stands for the id of a frame, or for its "
        'name as its maker writes it. Join phrases with commas or "and", in any order. What is not understood is refused and '
        "pointed at.\n\n",
    ]
    for topic, phrases in PHRASES.items():
        parts.append(f"## {topic}\n\n" + "".join(f"- `{phrase}`\n" for phrase in phrases) + "\n")
    return "".join(parts)


def glossary_page(developers: str) -> str:
    """The glossary of DEVELOPERS.md, which is the one place where words are explained."""
    found = re.search(r"^## Glossary\n(.*?)(?=^## )", developers, re.MULTILINE | re.DOTALL)
    if found is None:
        raise ValueError("DEVELOPERS.md has no glossary")
    return "# Glossary\n" + found[1]


def sources_page(tests: Path) -> str:
    """Which file of tests is held against which source."""
    rows = []
    for path in sorted(tests.glob("test_*.py")):
        text = path.read_text(encoding="utf-8")
        if named := [title for title, pattern in SOURCES.items() if re.search(pattern, text)]:
            first = (text.split('"""')[1].strip().splitlines() or [""])[0] if text.startswith('"""') else ""
            rows.append((f"`{path.name}`", escaped(first), ", ".join(named)))
    return (
        "# Sources of the tests\n\nEvery file of tests that names a source outside the code, with its first line. The figures "
        "stand in the tests beside their sources; [Validation](../validation.md) shows some of them.\n\n"
        + table(("file", "what it tests", "held against"), rows)
    )


def python_page() -> str:
    """The public Python interface."""
    parts = [
        "# Python\n\n",
        "`from gapbook import open_catalogue, Question`. Lengths are in mm, areas in cm², masses in g, inertias in kg·cm² and "
        "tensions in N, as names say (`_mm`); `u_NAME` is the standard uncertainty of NAME. Input that cannot be used raises "
        "`GapbookError`.\n\n",
    ]
    for title, (module, names) in PUBLIC.items():
        parts.append(f"## {title}\n\n```{{eval-rst}}\n.. currentmodule:: {module}\n\n")
        for name in names:
            kind = "class" if name[0].isupper() else "function"
            more = "\n   :members:" if kind == "class" else ""
            parts.append(f".. auto{kind}:: {name}{more}\n\n")
        parts.append("```\n\n")
    return "".join(parts)
