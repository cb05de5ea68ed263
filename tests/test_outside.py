"""The page of outside checks: every figure is within its tolerance, and the page is what the checks give."""

from __future__ import annotations

import re

import pytest

import outside

NUMBER = re.compile(r"(?<=\| )-?\d+(?:\.\d+)?(?:e[-+]?\d+)?(?= \|)")


@pytest.mark.slow
def test_the_page_holds_what_is_computed():
    """Figures may differ in their last digits, as libraries of other machines do."""
    made, kept = outside.text(), outside.kept()
    assert NUMBER.sub("#", made) == NUMBER.sub("#", kept), "python derive/document.py validation"
    for one, other in zip(NUMBER.findall(made), NUMBER.findall(kept), strict=True):
        assert float(one) == pytest.approx(float(other), rel=2e-5)


@pytest.mark.slow
def test_every_check_holds():
    found = list(outside.checks())
    assert len(found) >= 40
    for one in found:
        assert one.computed() == pytest.approx(one.expected, rel=one.tolerance), one.what
        assert (outside.ROOT / "tests" / one.test).is_file()


def test_the_page_is_written_between_its_marks(tmp_path, monkeypatch):
    page = tmp_path / "page.md"
    page.write_text(f"before\n{outside.MARKS[0]}\nold\n{outside.MARKS[1]}\nafter\n", encoding="utf-8")
    monkeypatch.setattr(outside, "text", lambda: "new")
    outside.write(page)
    assert page.read_text(encoding="utf-8") == f"before\n{outside.MARKS[0]}\nnew\n{outside.MARKS[1]}\nafter\n"
    assert outside.kept(page) == "new"
