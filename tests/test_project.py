"""What a project keeps beside its code: a citation, a changelog, hooks and forms that are sound and say the same version."""

from __future__ import annotations

import tomllib

import pytest
import yaml

from small import ROOT

STATED = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
FORMS = sorted((ROOT / ".github" / "ISSUE_TEMPLATE").glob("*.yml"))


def test_the_citation_is_of_this_version():
    citation = yaml.safe_load((ROOT / ".github" / "CITATION.cff").read_text(encoding="utf-8"))
    # Citation File Format 1.2.0 requires these four.
    assert {"cff-version", "message", "title", "authors"} <= set(citation)
    assert citation["version"] == STATED["version"]
    assert " AND ".join(citation["license"]) == STATED["license"]


def test_the_changelog_has_this_version():
    changes = (ROOT / "derive" / "docs" / "project" / "changelog.md").read_text(encoding="utf-8")
    assert f"\n## {STATED['version']}\n" in changes


def test_hooks_run_what_the_tests_install():
    hooks = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"))["repos"][0]["hooks"]
    installed = {"ruff", "mypy", "lint-imports", "gapbook"}
    assert {hook["entry"].split()[0] for hook in hooks} == {f".venv/bin/{name}" for name in installed}


@pytest.mark.parametrize("form", [one for one in FORMS if one.name != "config.yml"], ids=lambda one: one.stem)
def test_a_form_asks_for_something(form):
    asked = yaml.safe_load(form.read_text(encoding="utf-8"))
    assert {"name", "description", "body"} <= set(asked)
    ids = [field["id"] for field in asked["body"]]
    assert len(ids) == len(set(ids)) >= 2


def test_python_is_told_that_there_are_types():
    assert (ROOT / "derive" / "gapbook" / "py.typed").is_file()
    assert "Typing :: Typed" in STATED["classifiers"]
