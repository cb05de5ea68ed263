"""The lowest versions that pyproject.toml states are those that .ci/run installs and tests."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[1]
PINNED = dict(re.findall(r"^([a-z-]+)==(\S+)$", (ROOT / ".ci" / "lowest.txt").read_text(encoding="utf-8"), re.MULTILINE))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
NEEDED = [Requirement(text) for text in PROJECT["dependencies"]]
TESTED = [Requirement(text) for text in PROJECT["optional-dependencies"]["test"]]


def lowest(requirement: Requirement) -> Version:
    (bound,) = requirement.specifier
    assert bound.operator == ">="
    return Version(bound.version)


@pytest.mark.parametrize("requirement", NEEDED, ids=str)
def test_what_the_program_needs_is_tried_at_its_lowest(requirement):
    assert Version(PINNED[requirement.name]) == lowest(requirement)


@pytest.mark.parametrize("name", sorted(set(PINNED) - {one.name for one in NEEDED}))
def test_what_tests_need_is_tried_at_its_lowest(name):
    assert [lowest(one) for one in TESTED if one.name == name] == [Version(PINNED[name])]


def test_the_lock_of_sql_needs_duckdb_2():
    """With 1.4 and 1.5 a locked connection ran `enable_logging(storage='file')`, which writes files."""
    assert next(lowest(one) for one in NEEDED if one.name == "duckdb") >= Version("2.0")
