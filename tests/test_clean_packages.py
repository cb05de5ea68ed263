"""What a check says where nothing is amiss: of the demo, and of invented packages of other seeds."""

from __future__ import annotations

import datetime
from collections import Counter
from pathlib import Path

import pytest

from bench.clean import findings_over
from gapbook.intake.check import check
from gapbook.intake.rules import RULES

ROOT = Path(__file__).resolve().parents[1]
TODAY = datetime.date(2026, 11, 25)
EXPLAINED: dict[tuple[str, str], str] = {}
"""Why each warning about the demo is right, by code and row key. At present there is none."""
MOST = 5
"""Warnings about the demo."""
SEEDS, COPIES = range(20), 40
"""`python -m tests.bench --clean 200` looks at more and larger ones."""
PACKAGES_A_WARNING = 2


@pytest.fixture(scope="module")
def demo():
    """What all rules say of the demo."""
    return check(ROOT, today=TODAY).report


def test_the_demo_has_no_error_and_few_warnings_all_explained(demo):
    assert demo.broken == ()
    assert demo.rules == RULES
    rows = sum(path.read_bytes().count(b"\n") - 1 for path in (ROOT / "catalogue").glob("*.csv"))
    assert demo.rows == rows  # no cell of the demo is of two lines
    assert demo.errors == ()
    warnings = {(finding.code, finding.row_key) for finding in demo.findings}
    assert warnings == set(EXPLAINED)
    assert len(demo.findings) <= MOST


@pytest.mark.slow
def test_packages_of_other_seeds_have_no_error_and_few_warnings():
    found = [finding for _, finding in findings_over(SEEDS, COPIES)]
    counts = Counter(str(finding.severity) for finding in found)
    listed = [f"{finding.code} {finding.row_key}: {finding.found}; {finding.expected}" for finding in found]
    assert counts["error"] == counts["note"] == 0, listed
    assert counts["warning"] <= len(SEEDS) / PACKAGES_A_WARNING, listed
