"""A Table Schema compiled into DuckDB SQL over the distinct texts of its columns: which of them it does not allow, and what the
others are worth where keys are compared.

Columns are known by their place, so that no name of a schema enters SQL; every value of a schema is bound.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from gapbook.tables.schemas import TRUE_VALUES, Field, Schema
from gapbook.tables.store import FORMS

CODES = ("", "required", "type", "formula", "control-character", "enum", "pattern", "limit", "too-long")
"""What a cell's number stands for; 0 is a sound one."""
FORMULA = r"^[=+\-@\t\r]"
"""How a text starts that a spreadsheet takes for a formula."""
CONTROL = (
    r"[\x00-\x09\x0B\x0C\x0E-\x1F\x7F-\x{9F}\x{061C}\x{200E}\x{200F}\x{2028}-\x{202E}"
    r"\x{2066}-\x{2069}\x{FEFF}\x{FFF9}-\x{FFFB}]"
)
"""Control characters but line breaks, and the invisible ones that turn the direction of text."""
_CASTS = {"number": "DOUBLE", "integer": "BIGINT", "date": "DATE"}


@dataclass
class Query:
    """SQL and the values bound to its numbered places."""

    sql: str = ""
    values: list[object] = field(default_factory=list)

    def bind(self, value: object) -> str:
        """The place of one more value."""
        self.values.append(value)
        return f"${len(self.values)}"

    def bind_all(self, values: tuple[str, ...]) -> str:
        """The places of a list, as SQL writes it."""
        return "(" + ", ".join(self.bind(value) for value in values) + ")"


def texts_query(schema: Schema) -> Query:
    """Of `texts` (place of the column, number of the text in it, the text c): place, number, the number of the code of what is
    wrong with it (0: nothing), and its value as a key, which is the same for 0 and 0.0 and null where nothing was stated.

    One query a table; constraints stand in the schema alone.
    """
    query = Query()
    verdicts = [f"WHEN {place} THEN {_verdict(query, item, schema)}" for place, item in enumerate(schema.fields)]
    values = [f"WHEN {place} THEN {_value(query, item, schema)}" for place, item in enumerate(schema.fields)]
    query.sql = (
        f"SELECT place, number, CAST(CASE place {' '.join(verdicts)} END AS TINYINT) AS verdict, "
        f"CASE place {' '.join(values)} END AS value FROM texts ORDER BY place, number"
    )
    return query


def _verdict(query: Query, item: Field, schema: Schema) -> str:
    """SQL for the number of the first thing wrong with a text, 0 where nothing is."""
    number = {code: place for place, code in enumerate(CODES)}
    missing = number["required"] if item.required else 0
    cases = [(f"c IN {query.bind_all(schema.missing)}", missing)] if schema.missing else []
    cases += [(test, number[code]) for test, code in (_text if item.type == "string" else _typed)(query, item)]
    return f"CASE {' '.join(f'WHEN {test} THEN {code}' for test, code in cases)} ELSE 0 END"


def _value(query: Query, item: Field, schema: Schema) -> str:
    """SQL for what a text is worth as a part of a key."""
    value = "c"
    if item.type in _CASTS:
        plus = " + 0.0" if item.type == "number" else ""  # -0 is 0
        value = f"CAST(TRY_CAST(c AS {_CASTS[item.type]}){plus} AS VARCHAR)"
    elif item.type == "boolean":
        value = f"CAST(c IN {query.bind_all(TRUE_VALUES)} AS VARCHAR)"
    return f"CASE WHEN c IN {query.bind_all(schema.missing)} THEN NULL ELSE {value} END" if schema.missing else value


def _typed(query: Query, item: Field) -> list[tuple[str, str]]:
    tests = [(f"NOT regexp_full_match(c, {query.bind(FORMS[item.type])})", "type")]
    if item.type in ("number", "integer"):
        value = "TRY_CAST(c AS DOUBLE)"
        tests.append((f"NOT coalesce(isfinite({value}), false)", "type"))
        for limit, relation in ((item.minimum, "<"), (item.maximum, ">")):
            if limit is not None:
                tests.append((f"{value} {relation} {query.bind(float(limit))}", "limit"))
    if item.type in ("integer", "date"):
        tests.append((f"TRY_CAST(c AS {_CASTS[item.type]}) IS NULL", "type"))
    if item.type == "date":  # no calendar has a year 0
        tests.append(("starts_with(c, '0000')", "type"))
    return tests


def _text(query: Query, item: Field) -> list[tuple[str, str]]:
    tests = [
        (f"regexp_matches(c, {query.bind(FORMULA)})", "formula"),
        (f"regexp_matches(c, {query.bind(CONTROL)})", "control-character"),
    ]
    if item.enum:
        tests.append((f"c NOT IN {query.bind_all(item.enum)}", "enum"))
    if item.pattern is not None:
        tests.append((f"NOT regexp_full_match(c, {query.bind(item.pattern)})", "pattern"))
    if item.max_length is not None:
        tests.append((f"length(c) > {query.bind(item.max_length)}", "too-long"))
    return tests
