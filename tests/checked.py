"""A good package that every rule lets pass, and what a check finds once one thing in it is broken."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from damaged import Folder, line_of
from gapbook.intake.check import check_layers
from gapbook.intake.findings import Finding
from gapbook.intake.rules import OWNERSHIP, QUALITY, RULES
from gapbook.tables.opening import open_package
from small import Small, marks

TODAY = datetime.date(2026, 12, 1)
LOOKING = tuple(rule for rule in RULES if rule not in (*OWNERSHIP, *QUALITY))
"""The rules that look: one fault may well be bad reading, or in somebody else's bed, too: they have their own tests."""
MAINS = (16.0, 14.5, 13.3, 12.3, 11.5, 10.9, 10.6, 10.5, 10.6, 10.9, 11.5, 12.3, 13.3, 14.5, 16.0)
CROSSES = (19.0, 17.1, 15.5, 14.2, 13.2, 12.45, 11.9, 11.55, 11.4, 11.4, 11.55, 11.9, 12.45, 13.2, 14.2, 15.5, 17.1, 19.0)
WIDTH, LENGTH = 243.0, 325.0
"""Inner width and length of a 98 sq in head [mm]: 632.3 cm² of them makes a superellipse of exponent 2.08."""
MORE_TOOLS = (
    ("rig", "swing_rig", "0.5", "1.5", "kg.cm2"),
    ("board", "balance_board", "0.5", "0.5", "mm"),
    ("wheel", "planimeter", "0.5", "2", "cm2"),
)


def between_edges(gaps: Sequence[float], across: float, scale: float = 1.003) -> list[float]:
    """Gaps with those to the inner edges, `across` [mm] in all, rounded as a calliper shows them."""
    inner = [round(gap * scale, 2) for gap in gaps]
    end = round((across - sum(inner)) / 2.0, 2)
    return [end, *inner, end]


def good(mains: Sequence[float] = MAINS, crosses: Sequence[float] = CROSSES) -> Small:
    """One frame with a copy read as gaps (one-a) and one read as marks (one-b); bodies of a dozen more frames."""
    small = Small()
    for tool in MORE_TOOLS:
        small.add("instruments", **dict(zip(("instrument_id", "kind", "resolution", "max_error", "unit"), tool, strict=True)))
    body = {"length_mm": 685, "mass_g": 320, "balance_mm": 321, "swingweight_kgcm2": 322, "strung": "true"}
    small.frame("one", 16, 19, 632.3, **body)
    for number in range(12):
        off = number - 6
        more = {"mass_g": 318 + off, "balance_mm": 322 - off, "swingweight_kgcm2": 320 + off, "strung": "true"}
        small.frame(f"other-{number}", 16, 19, 632.3, length_mm=685, **more)
    small.copy("one-a", "one")
    small.copy("one-b", "one")
    small.run("one-a", "main", between_edges(mains, WIDTH), edges=True)
    small.run("one-a", "cross", between_edges(crosses, LENGTH), edges=True)
    for repeat in (1, 2):
        for family, gaps, across in (("main", mains, WIDTH), ("cross", crosses, LENGTH)):
            run = [round(2.0 * mark) / 2.0 for mark in marks(between_edges(gaps, across, 1.01), 11.0 + repeat)]
            small.run("one-b", family, run, edges=True, kind="mark", contributor_id="ole", repeat=repeat)
    small.reading("one-a", "head_width", WIDTH)
    small.reading("one-a", "head_length", LENGTH)
    small.reading("one-a", "head_area", 630.5, "cm2", instrument_id="wheel")
    for strung, mass, balance, swing in (("true", 319.3, 321.5, 321.0), ("false", 303.5, 311.5, 294.0)):
        small.reading("one-a", "mass", mass, "g", instrument_id="scale", strung=strung)
        small.reading("one-a", "balance", balance, instrument_id="board", strung=strung)
        small.reading("one-a", "swingweight", swing, "kg.cm2", instrument_id="rig", strung=strung)
    small.reading("one-a", "length", 685.0)
    small.add("testers", tester_id="ann", style="flat", own_frame="none")
    tension = {"main_tension": 52, "cross_tension": 50, "tension_unit": "lb"}
    marked = {"control_vs_own": 0, "lift_vs_own": 1, "comfort_vs_own": -1}
    small.add(
        "playtests", playtest_id="hit-1", specimen_id="one-a", tester_id="ann", played_on="2026-05-01",
        string_material="natural", **tension, **marked,
    )  # fmt: skip
    return small


class Checked(Folder):
    """A package in a folder, to be damaged and checked."""

    def __init__(self, path: Path, small: Small | None = None) -> None:
        self.small = small or good()
        self.path = self.small.write(path)

    def line(self, table: str, **cells: object) -> int:
        """The physical line of the first row with these cells, as the package was before it was damaged."""
        return line_of(self.small, table, **cells)

    def every(self, table: str, column: str, value: object, **cells: object) -> None:
        """Set a column in all rows with these cells."""
        for number, row in enumerate(self.small.tables[table], 2):
            if all(row[name] == str(cell) for name, cell in cells.items()):
                self.edit(table, number, **{column: value})

    def findings(self) -> tuple[Finding, ...]:
        """What all rules but those of reading quality find; nothing may break."""
        report = check_layers(open_package(self.path), None, today=TODAY, rules=LOOKING).report
        assert report.broken == ()
        return report.findings

    def places(self) -> list[tuple[str, str, int | None, str | None]]:
        """Code, table, line and column of each finding."""
        return [(one.code, one.table, one.line, one.column) for one in self.findings()]


def causes(finding: Finding) -> set[str]:
    """The codes listed under a finding."""
    return {one.code for one in finding.causes}
