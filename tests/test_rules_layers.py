"""A contribution is checked together with the catalogue: what the two say against each other stands at its own rows."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from checked import LOOKING, TODAY, Checked, good
from gapbook.intake.check import check_layers
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rule import Rule
from gapbook.intake.rules import RULES
from gapbook.tables.opening import open_package
from small import NAMES


def findings(tmp_path: Path, table: str, rows: list[dict[str, str]]) -> list[tuple[str, str, int | None, str | None]]:
    """What the good package's catalogue and a contribution of one table give."""
    package = Checked(tmp_path / "package")
    folder = tmp_path / "mine"
    folder.mkdir()
    with (folder / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, NAMES[table], lineterminator="\n")
        out.writeheader()
        out.writerows(rows)
    report = check_layers(open_package(package.path), contribution_layer(folder), today=TODAY, rules=LOOKING).report
    assert report.broken == ()
    return [(one.code, one.table, one.line, one.column) for one in report.findings]


def reading(quantity: str, value: str, unit: str, instrument: str) -> dict[str, str]:
    return {
        "specimen_id": "one-b", "quantity": quantity, "strung": "true", "contributor_id": "ida", "instrument_id": instrument,
        "taken_on": "2026-05-05", "repeat": "1", "value": value, "unit": unit,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (reading("head_width", "243", "mm", "rule"), None),
        (reading("head_width", "251", "mm", "rule"), "misclosure"),
        (reading("head_length", "316", "mm", "rule"), "misclosure"),
        (reading("head_area", "700", "cm2", "wheel"), "declared-area"),
        (reading("mass", "450", "g", "scale"), "unusual-body"),
        (reading("mass", "11.3", "g", "scale"), "likely-unit"),
    ],
)
def test_readings_of_a_bed_in_the_catalogue(tmp_path: Path, row: dict[str, str], code: str | None) -> None:
    found = findings(tmp_path, "readings", [row])
    assert found == ([(code, "readings", 2, "value")] if code else [])


def test_what_is_amiss_in_the_catalogue_is_not_the_contributors(tmp_path: Path) -> None:
    package = Checked(tmp_path / "package")
    package.edit("readings", package.line("readings", quantity="head_width"), value="260")
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "contributors.csv").write_text("contributor_id,name,since,orcid\nuna,Una,2026-01-01,\n", encoding="utf-8")
    report = check_layers(open_package(package.path), contribution_layer(folder), today=TODAY, rules=LOOKING).report
    assert report.findings == ()
    assert [one.code for one in check_layers(open_package(package.path), None, today=TODAY, rules=LOOKING).report.findings]


def followed(code: str, seen: frozenset[str] = frozenset()) -> set[str]:
    """Every code that a code may be a consequence of, however far back."""
    rules = {rule.code: rule for rule in RULES}
    found: set[str] = set()
    for other in rules[code].follows if code in rules else ():
        if other not in seen:
            found |= {other} | followed(other, seen | {code, other})
    return found


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_no_finding_can_vanish_under_its_own_consequence(rule: Rule) -> None:
    assert rule.code not in followed(rule.code)
    assert set(rule.follows) <= {other.code for other in RULES}


@pytest.mark.parametrize("kept", [(), ("frames",), ("frames", "specimens"), ("frames", "specimens", "readings"), ("readings",)])
def test_empty_tables(tmp_path: Path, kept: tuple[str, ...]) -> None:
    small = good()
    for name in small.tables:
        if name not in (*kept, "instruments", "contributors"):
            small.tables[name] = []
    codes = {place[0] for place in Checked(tmp_path / "package", small).places()}
    assert codes <= {"reference"}
    assert bool(codes) == (kept == ("readings",))
