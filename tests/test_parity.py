"""The structure rules and frictionless agree on which cells are bad, for every Table Schema property that the schemas use.

Packages with random faults are judged by both. Where frictionless lets pass what the rules do not, the gap has a name below;
there is none the other way round.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
from frictionless import Package as Peer

from damaged import good
from gapbook.intake.check import Checked, check_layers
from gapbook.intake.rules.structure import RULES as STRUCTURE
from gapbook.tables.opening import open_package
from gapbook.tables.package import RAW_TABLES
from gapbook.tables.schemas import Field
from small import NAMES, ROOT, Small

SEEDS = range(24)
FAULTS = 30
TEXTS = (
    "", "NA", "N/A", "null", "12.5", "+12.5", "-0", ".5", "5.", "1E+1", "1e", "--1", "1.2.3", "12.5f", " 12.5",
    "12.5 ", "1e-400", "1e400", "infinity", "nan", "-inf", "0x10", "1,5", "7", "07", "+7", "7.0", "7e0", "1_0",
    "٧", "１２", "9" * 30, "-1", "0", "1000", "1000.0001", "170", "-170.5", "99", "100", "2026-03-01",
    "2026-02-30", "2026-3-1", "20260301", "2026/03/01", "10000-01-01", "true", "True", "TRUE", "false", "tRUE",
    "yes", " true", "main", "Main", "mains", "main ", "retail", "calliper", "one-a", "One", "one_a", "-one",
    "one-a\n", "two lines\nof it", 'a "quoted" word', "x" * 16, "x" * 17, "x" * 64, "x" * 65, "x" * 80,
    "x" * 81, "x" * 401, "é" * 64, "é" * 81, "on e", "=1+1", "@one", "a\x07", "\u202ea",
)  # fmt: skip
"""Cells on which readers could differ, near limits, lengths, patterns and lists."""
LIKE = (
    (r"20\d\d-.*", tuple(text for text in TEXTS if text.startswith("20"))),
    (r"\d+", ("+7", "1_0", "٧", "１２", "07", "7.0", "9" * 30, "-1", "100", "9")),
    (r"[a-z-]+", ("one-a\n", "One", "x" * 64, "x" * 65, "one_a", "a", "")),
)
"""Cells on which readers could differ, for cells of a kind."""

GAPS = {
    "formula-like text": lambda field, text, code: code == "formula",
    "control characters": lambda field, text, code: code == "control-character",
    "blanks around a number": lambda field, text, code: field.type == "number" and text != text.strip(),
    "underscores between digits": lambda field, text, code: bool(re.fullmatch(r"\d+(_\d+)+", text)),
    "digits of other scripts": lambda field, text, code: text.isdecimal() and not text.isascii(),
    "a plus before a whole number": lambda field, text, code: field.type == "integer" and text.startswith("+"),
    "months and days of one digit": lambda field, text, code: field.type == "date" and bool(re.fullmatch(r"\d+-\d-\d", text)),
    "a pattern's end before a line break": lambda field, text, code: code == "pattern" and text.endswith("\n"),
}
"""What frictionless 5.21 lets pass, by name: the field, the cell, and the code it has here."""


SCHEMAS = {name: json.loads((ROOT / "schema" / f"{name}.json").read_text(encoding="utf-8")) for name in RAW_TABLES}
CODES: dict[int, set[str]] = {}
KEYS = {name: schema["primaryKey"] for name, schema in SCHEMAS.items()}
PARENTS = {
    (name, key["fields"][0]): key["reference"]["resource"]
    for name, schema in SCHEMAS.items()
    for key in schema.get("foreignKeys", ())
}


class Bad(NamedTuple):
    """What one of the two calls bad. Rows are numbered by record, the header is 1."""

    cells: set[tuple[str, int, str]]
    widths: set[tuple[str, int]]
    keys: set[tuple[str, int]]
    named: set[tuple[str, int, str]]


def drawn(seed: int) -> tuple[dict[str, list[list[str]]], random.Random]:
    """The rows of every table of a good package, and the dice that break them."""
    small: Small = good()
    for number in range(4):
        small.add(
            "playtests", playtest_id=f"hit-{number}", specimen_id="one-a", tester_id="ann", played_on="2026-03-02",
            string_material="natural", main_tension=25, cross_tension=24.5, tension_unit="kgf", spin_rpm=2000,
            comfort_vs_own=-1,
        )  # fmt: skip
        small.add("exceptions", rule=f"rule-{number}", row_key="one-a", reason="so it is", who="ida", decided_on="2026-03-03")
    return {name: [list(row.values()) for row in rows] for name, rows in small.tables.items()}, random.Random(seed)


def broken(seed: int) -> dict[str, list[list[str]]]:
    """The same with random faults: cells, row widths, repeated keys."""
    tables, dice = drawn(seed)
    for _ in range(FAULTS):
        rows = tables[dice.choice([*RAW_TABLES, "spacings", "spacings", "readings", "frames"])]
        number = dice.randrange(len(rows))
        kind = dice.random()
        if kind < 0.04:
            rows[number] = [*rows[number], "more"]
        elif kind < 0.08:
            rows[number] = rows[number][:-1]
        elif kind < 0.2:
            rows.insert(dice.randrange(number, len(rows)) + 1, list(rows[number]))
        else:
            place = dice.randrange(len(rows[number]))
            like = next((texts for form, texts in LIKE if re.fullmatch(form, rows[number][place])), TEXTS)
            rows[number][place] = dice.choice(dice.choice([TEXTS, like]))
    return tables


def written(folder: Path, tables: dict[str, list[list[str]]]) -> Path:
    """The package in a folder, of raw tables only."""
    root = good().write(folder)
    descriptor = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
    descriptor["resources"] = [item for item in descriptor["resources"] if item["name"] in RAW_TABLES]
    (root / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    for name, rows in tables.items():
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows([NAMES[name], *rows])
        (root / "catalogue" / f"{name}.csv").write_bytes(out.getvalue().encode())
    return root


def record_of(rows: list[list[str]], line: int) -> int:
    """The number of the record on a physical line, the header being 1."""
    at = 2
    for number, row in enumerate(rows, 2):
        if at == line:
            return number
        at += 1 + sum(text.count("\n") for text in row)
    raise LookupError(line)


def ours(checked: Checked, tables: dict[str, list[list[str]]]) -> tuple[Bad, dict[tuple[str, int, str], str]]:
    """What the rules call bad, and the code of each cell."""
    bad, codes = Bad(set(), set(), set(), set()), {}
    every = [item for top in checked.report.findings for item in (top, *top.causes)]
    for item in every:
        record = record_of(tables[item.table], item.line)
        if item.code == "width":
            bad.widths.add((item.table, record))
        elif item.code == "repeated-key":
            bad.keys.add((item.table, record))
        elif item.code == "reference":
            bad.named.add((item.table, record, item.column))
        else:
            bad.cells.add((item.table, record, item.column))
            codes[item.table, record, item.column] = item.code
    return bad, codes


def theirs(root: Path) -> Bad:
    """What frictionless calls bad."""
    bad = Bad(set(), set(), set(), set())
    for task in Peer(str(root / "datapackage.json")).validate(limit_errors=1000).tasks:
        assert len(task.errors) < 1000
        for error in task.errors:
            row = error.row_number
            if error.type in ("missing-cell", "extra-cell"):
                bad.widths.add((task.name, row))
            elif error.type == "primary-key":
                bad.keys.add((task.name, row))
            elif error.type == "foreign-key":
                bad.named.add((task.name, row, *error.field_names))
            else:
                assert error.type in ("type-error", "constraint-error"), error.type
                bad.cells.add((task.name, row, error.field_name))
    return bad


def gaps_of(field: Field, text: str, code: str) -> list[str]:
    """The gaps that a cell falls in."""
    return [name for name, holds in GAPS.items() if holds(field, text, code)]


@cache
def judged(seed: int) -> tuple[Bad, Bad, dict[tuple[str, int, str], list[str]], dict[str, list[list[str]]]]:
    """What the rules and frictionless call bad, the gaps that each cell bad here falls in, and the tables."""
    tables = broken(seed)
    with tempfile.TemporaryDirectory() as folder:
        root = written(Path(folder) / "package", tables)
        package = open_package(root)
        checked = check_layers(package, None, rules=STRUCTURE)
        assert checked.report.broken == ()
        here, codes = ours(checked, tables)
        CODES[seed] = set(codes.values())
        gaps = {
            cell: gaps_of(package.schema(cell[0]).field(cell[2]), text_of(tables, *cell), code) for cell, code in codes.items()
        }
        return here, theirs(root), gaps, tables


def text_of(tables: dict[str, list[list[str]]], table: str, record: int, column: str) -> str:
    """A cell as written."""
    return tables[table][record - 2][NAMES[table].index(column)]


@pytest.mark.slow_after(6)
@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_cells_and_widths_are_bad(seed):
    here, there, gaps, _ = judged(seed)
    assert here.cells
    assert here.widths == there.widths
    cells = {cell for cell in there.cells if cell[:2] not in there.widths}
    assert cells - here.cells == set()
    assert {cell for cell in here.cells - cells if not gaps[cell]} == set()


@pytest.mark.slow_after(6)
@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_keys_repeat(seed):
    """Where all rows have a sound key; of others no key is compared here, and frictionless compares what it makes of them."""
    here, there, _, tables = judged(seed)
    unsound = {(table, record) for table, record, column in here.cells if column in KEYS[table]} | there.widths
    clear = set(RAW_TABLES) - {table for table, _ in unsound}
    assert {key for key in here.keys if key[0] in clear} == {key for key in there.keys if key[0] in clear}
    assert here.keys >= set(twins(tables, unsound))


def twins(tables: dict[str, list[list[str]]], unsound: set[tuple[str, int]]) -> Iterator[tuple[str, int]]:
    """Sound rows whose key is written as that of an earlier one."""
    for table, rows in tables.items():
        seen = set()
        for record, row in enumerate(rows, 2):
            if (table, record) not in unsound:
                key = tuple(row[NAMES[table].index(name)] for name in KEYS[table])
                if key in seen:
                    yield table, record
                seen.add(key)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.slow_after(4)
def test_the_same_ids_are_unknown(seed):
    """Of sound cells, each id of a parent once: frictionless names every row."""
    here, there, _, tables = judged(seed)
    found = {(PARENTS[table, column], text_of(tables, table, record, column)) for table, record, column in here.named}
    sound = {cell for cell in there.named if cell not in here.cells and cell[:2] not in there.widths}
    assert found == {(PARENTS[table, column], text_of(tables, table, record, column)) for table, record, column in sound}


@pytest.mark.slow
def test_every_gap_is_met():
    met = {name for seed in SEEDS for names in judged(seed)[2].values() for name in names}
    assert met == set(GAPS)


def test_every_property_is_met():
    """The dice throw each thing that a property of the schemas forbids."""
    assert set().union(*(CODES[seed] for seed in SEEDS if judged(seed))) >= {
        "required", "type", "enum", "pattern", "limit", "too-long",
    }  # fmt: skip
    assert any(judged(seed)[0].keys for seed in SEEDS)
    assert any(judged(seed)[0].named for seed in SEEDS)
