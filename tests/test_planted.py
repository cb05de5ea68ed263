"""Faults planted by editing bytes: each is found with its code, file, line and column, and nothing else is blamed for it.

The demo is the clean package; part of it, taken out by its bytes, is the clean contribution. Where a fault must be found
follows from the edit alone (see planting.py), never from what a check says.
"""

from __future__ import annotations

import datetime
import shutil
from collections import Counter
from pathlib import Path

import pytest

import planted_bodies
import planted_cells
import planted_closing
import planted_copies
import planted_files
import planted_keys
import planted_quality
import planted_sent
import planted_spacings
import planted_things
import planted_units
from gapbook.errors import GapbookError
from gapbook.intake.check import check
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rules import RULES
from gapbook.tables.opening import open_package
from parting import parted
from planting import CATALOGUE, CONTRIBUTION, Files, Plant

ROOT = Path(__file__).resolve().parents[1]
TODAY = datetime.date(2026, 11, 25)
"""After every day in the demo."""
FAMILIES = (
    planted_files, planted_cells, planted_keys, planted_units, planted_spacings, planted_bodies, planted_quality, planted_sent,
    planted_closing, planted_things, planted_copies,
)  # fmt: skip
PLANTS = [one for family in FAMILIES for one in family.PLANTS]
HARMLESS = [one for family in FAMILIES for one in getattr(family, "HARMLESS", ())]
LEAST = 150
"""Faults there must be."""
WARNINGS = frozenset(
    {
        "misclosure", "mirror", "gap-out-of-line", "head-area", "declared-area", "unusual-body", "strung-shift", "frame-size",
        "outer-density", "resolution", "repeats-scatter", "sessions-disagree", "same-spacings", "before-joining", "same-marks",
        "others-specimen", "others-instrument", "close-stations", "edge-to-edge", "rule-origin", "width-above-length",
        "station-misclosure", "release-year", "strung-not-stated", "instrument-plausible", "twin-frame", "twin-person",
        "same-session", "too-regular", "copies-differ", "unsteady-person",
    }
)  # fmt: skip
NOTES = frozenset({"exception-stale", "own-exception"})
"""What only asks for a look, or tells (in a contribution an unneeded exception is an error); everything else must be mended."""


class Bench:
    """A package in a folder, and a contribution beside it, that faults are planted in one after the other."""

    def __init__(self, root: Path, base: dict[str, bytes], own: bool) -> None:
        self.root, self.base, self.own = root, base, own
        for path, content in base.items():
            (root / path).parent.mkdir(parents=True, exist_ok=True)
            (root / path).write_bytes(content)
        shutil.copyfile(ROOT / "datapackage.json", root / "datapackage.json")
        shutil.copytree(ROOT / "schema", root / "schema")

    def files(self) -> Files:
        """What there is to be edited."""
        return Files(self.base, CONTRIBUTION if self.own else CATALOGUE)

    def findings(self, files: Files) -> tuple[Finding, ...]:
        """What a check finds with the edits made. No rule may break."""
        try:
            files.write(self.root)
            where = self.root / CONTRIBUTION if self.own else self.root
            report = check(where, open_package(self.root), today=TODAY).report
        finally:
            files.restore(self.root)
        assert report.broken == ()
        return report.findings


@pytest.fixture(scope="module")
def benches(tmp_path_factory):
    """The bench of the catalogue and that of a contribution, by whether a fault is the contributor's own."""
    whole = {f"{CATALOGUE}/{path.name}": path.read_bytes() for path in sorted((ROOT / "catalogue").glob("*.csv"))}
    bases = {False: whole, True: parted(whole)}
    return {own: Bench(tmp_path_factory.mktemp("bench"), base, own) for own, base in bases.items()}


def told(finding: Finding) -> str:
    return f"{finding.code} {finding.table} {Path(finding.file).name}:{finding.line} {finding.column} ({finding.found})"


def severity(code: str, own: bool) -> Severity:
    return Severity.warning if code in WARNINGS else Severity.note if code in NOTES and not own else Severity.error


def is_at(finding: Finding, one: Plant, line: int | None) -> bool:
    """Whether a finding is the planted fault's."""
    folder = CONTRIBUTION if one.own else CATALOGUE
    is_file = "." in one.table or not one.table
    name = one.table if is_file else f"{one.table}.csv"
    return (
        (finding.code, finding.line, finding.column) == (one.code, line, one.column)
        and finding.table == ("" if is_file else one.table)
        and Path(finding.file).parts[-2 if name else -1 :] == ((folder, name) if name else (folder,))
        and finding.severity is severity(one.code, one.own)
    )


def soonest() -> list[object]:
    """All planted faults; those beyond the first of a rule are slow."""
    seen: Counter[str] = Counter()
    found: list[object] = []
    for one in PLANTS:
        seen[one.code] += 1
        found.append(pytest.param(one, marks=pytest.mark.slow if seen[one.code] > 1 else ()))
    return found


@pytest.mark.parametrize("one", soonest(), ids=str)
def test_a_planted_fault_is_found_where_it_is_and_nothing_else_is_blamed(one, benches):
    files = benches[one.own].files()
    for edit in one.edits:
        edit(files)
    line = files.line_of(one.table, one.at, one.nth) if isinstance(one.at, str) else one.at
    found = benches[one.own].findings(files)
    if one.under:
        mine = [
            finding
            for finding in found
            if finding.code == one.under and any(is_at(cause, one, line) for cause in finding.causes)
        ]
    else:
        mine = [finding for finding in found if is_at(finding, one, line)]
    listed = "\n".join(f"{told(finding)} <- {[told(cause) for cause in finding.causes]}" for finding in found)
    assert len(mine) == 1, f"expected {one.code} at {one.table} line {line}, column {one.column}; found:\n{listed}"
    others = [finding for finding in found if finding not in mine]
    assert not [told(finding) for finding in others if finding.severity is Severity.error]
    assert not [told(finding) for finding in others if finding.code not in one.beside]
    assert {finding.code for finding in others} == one.beside, "a warning named beside the fault did not come"
    assert all(finding.fix and finding.expected for finding in mine)


@pytest.mark.parametrize("one", HARMLESS, ids=str)
def test_what_is_no_fault_is_not_found(one, benches):
    files = benches[one.own].files()
    for edit in one.edits:
        edit(files)
    assert files.changed
    assert [told(finding) for finding in benches[one.own].findings(files)] == []


@pytest.mark.parametrize("one", planted_files.REFUSED, ids=str)
def test_a_package_with_a_link_in_it_is_refused(one, benches):
    files = benches[False].files()
    for edit in one.edits:
        edit(files)
    with pytest.raises(GapbookError) as refusal:
        benches[False].findings(files)
    assert [problem.code for problem in refusal.value.problems] == [one.code]
    assert f"{one.table}.csv" in str(refusal.value)


@pytest.mark.parametrize("own", [False, True], ids=["catalogue", "contribution"])
def test_nothing_is_found_before_anything_is_planted(own, benches):
    assert benches[own].findings(benches[own].files()) == ()


def test_every_rule_has_at_least_two_planted_faults():
    planted = Counter(one.code for one in PLANTS)
    codes = {rule.code for rule in RULES} - {"stale", "descriptor"}  # test_freshness.py and test_start.py have their faults
    assert not [code for code in codes if planted[code] < 2]
    assert set(planted) == codes
    assert len(PLANTS) >= LEAST
    assert len({(str(one), one.table, one.own) for one in PLANTS}) == len(PLANTS)


def test_a_warning_beside_a_fault_is_explained():
    assert not [str(one) for one in PLANTS if bool(one.beside or one.under) != bool(one.because)]
    assert not [str(one) for one in PLANTS if one.beside - WARNINGS - NOTES]
