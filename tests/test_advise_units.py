"""`gapbook advise` in the units asked for."""

from __future__ import annotations

import re

import pytest

from running import gapbook

# 24 kgf = 235.36 N = 52.91 lbf; 245 N = 24.98 kgf = 55.08 lbf [NIST SP 811].
UNITS = [
    ((), "98 sq in, 632 cm²)", "235 N (24.0 kg, 52.9 lb)", "245 N (25.0 kg, 55.1 lb)"),
    (("--units", "metric"), "632 cm²)", "235 N (24.0 kg)", "245 N (25.0 kg)"),
    (("--units", "imperial"), "98 sq in)", "235 N (52.9 lb)", "245 N (55.1 lb)"),
]


@pytest.mark.parametrize(("units", "head", "pull", "model"), UNITS)
def test_a_screen_speaks_in_the_units_asked_for(units, head, pull, model):
    text = " ".join(gapbook("advise", "fern-98", "--arm", "sore", "--tension", "24kg", *units).stdout.split())
    assert f"fern-98 (16×19, {head}, against the middle" in text
    assert f"You said: sore arm, {pull}." in text
    assert f"Tension: {pull} -" in text
    assert f"Stiffness is a model of geometry and tension, both beds pulled at {model} in mains and crosses." in text
    assert "mechanics.csv" not in text


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_the_middle_has_as_many_decimals_as_the_value_beside_it(units):
    text = " ".join(gapbook("advise", "fern-98", "--units", units).stdout.split())
    beside = re.findall(r": \+?\d+\.(\d+) ± [\d.]+ (?:mm|in|%|N/mm) against \+?\d+\.(\d+) ", text)
    assert len(beside) == 3
    assert all(len(value) == len(middle) for value, middle in beside)
