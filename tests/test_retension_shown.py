"""`gapbook retension` on screen and as JSON: by how much two beds differ, windows of every width, limits as they are shown."""

from __future__ import annotations

import json

import pytest

from demo_rows import derived
from running import gapbook

KG = 9.80665  # N in a kgf, exact (NIST SP 811, B.8)
LB = 4.4482216152605  # N in a lbf (NIST SP 811, B.8)


def shown(*arguments: str, **environment: str) -> str:
    run = gapbook("retension", *arguments, **environment)
    assert (run.returncode, run.stderr) == (0, "")
    return run.stdout


def at_pull(frame: str, newtons: float) -> tuple[float, float]:
    """Stiffness and its standard uncertainty, linear from the 245 N of mechanics.csv."""
    row = derived("mechanics")[frame]
    value, u = float(row["stiffness_centre_n_per_mm"]), float(row["u_stiffness_centre_n_per_mm"])
    return value * newtons / 245, u * newtons / 245


# Asked about, and its whole N: 300.08, 179.95, 179.71, 300.25; the limits as they are shown 180.4, 180.2, 299.8.
LIMITS = [
    ("30.6kg", 300), ("18.35kg", 180), ("40.4lb", 180), ("67.5lb", 300), ("18.4kg", 180), ("40.5lb", 180), ("67.4lb", 300),
]  # fmt: skip


@pytest.mark.parametrize(("at", "whole"), LIMITS)
@pytest.mark.slow_after(1)
def test_a_limit_as_it_is_shown_is_allowed(at, whole):
    told = " ".join(shown("fern-98", "fern-98", "--at", at).split())
    assert "is not within" not in told
    assert f"fern-98 has at {whole} N (" in told


@pytest.mark.parametrize(("at", "whole"), [("18.3kg", 179), ("30.7kg", 301), ("40.3lb", 179), ("67.6lb", 301)])
def test_the_next_beyond_is_not(at, whole):
    told = " ".join(shown("fern-98", "fern-98", "--at", at).split())
    assert f"No tension is given: {whole} N (" in told


# From, to, pull, how the second is and the pull it would take: by arithmetic with mechanics.csv, kept apart from the sentence.
BEYOND = [
    ("fern-98", "moraine-98", 180, "stiffer", "lower"),
    ("moraine-98", "fern-98", 300, "softer", "higher"),
    ("fern-98", "burdock-89", 185, "stiffer", "lower"),
    ("burdock-89", "fern-98", 290, "softer", "higher"),
]


@pytest.mark.parametrize(("source", "target", "at", "outside", "way"), BEYOND)
@pytest.mark.slow_after(1)
def test_a_pull_beyond_the_range_is_told_with_the_difference_and_both_stiffnesses(source, target, at, outside, way):
    told = " ".join(shown(source, target, "--at", f"{at}N").split())
    (first, u_first), (second, u_second) = at_pull(source, at), at_pull(target, at)
    percent = 100 * abs(second / first - 1)
    expanded = 200 * second / first * ((u_first / first) ** 2 + (u_second / second) ** 2) ** 0.5
    sentence = (
        f"No tension is given: {target} is {percent:.1f} ± {expanded:.1f} % {outside} than {source} and would take a {way}"
    )
    assert sentence in told
    assert f"{source} {first:.2f} ± {2 * u_first:.2f} {target} " in told or f"{source} {first:.1f} ± {2 * u_first:.1f} " in told
    assert "centre stiffness as asked, N/mm" in told
    assert "so much" not in told
    document = json.loads(shown(source, target, "--at", f"{at}N", "--json"))
    assert (document["tension_n"], document["u_tension_n"], document["crosses_tension_n"]) == (None, None, None)
    assert document["outside"] == outside
    assert document["stiffness_from_n_per_mm"] == pytest.approx(first)
    assert document["stiffness_to_n_per_mm"] == pytest.approx(second)


@pytest.mark.parametrize("columns", ["30", "50", "80"])
@pytest.mark.parametrize(("source", "target"), [("fern-98", "moraine-98"), ("fern-98-a", "sorrel-98-club")])
@pytest.mark.slow_after(1)
def test_every_figure_name_and_unit_is_whole(source, target, columns):
    lines = shown(source, target, "--at", "235N", COLUMNS=columns).splitlines()
    assert max(map(len, lines)) <= max(int(columns), 40)
    assert any(line.endswith("N/mm") for line in lines)
    document = json.loads(shown(source, target, "--at", "235N", "--json"))
    for name, key in ((source, "stiffness_from_n_per_mm"), (target, "stiffness_to_n_per_mm")):
        rows = [line.split() for line in lines if line.split()[:1] == [name] and "±" in line]
        assert [row[2] for row in rows if len(row) == 4] == ["±"]
        assert float(rows[0][1]) == pytest.approx(document[key], abs=0.06)
        assert float(rows[0][3]) > 0.0
    words = " ".join(lines).split()
    assert "…" not in "".join(words)
    assert {source, target} <= {word.strip(",") for word in words}


# Pulls asked about; what JSON gives of the crosses [N], and their ratio to the mains.
CROSSES = [(("--at", "24kg"), 24 * KG, 1.0), (("--at", "53lb", "--crosses", "51 lb"), 51 * LB, 51 / 53)]


@pytest.mark.parametrize(("options", "crosses", "ratio"), CROSSES)
@pytest.mark.slow_after(1)
def test_json_tells_of_the_crosses(options, crosses, ratio):
    document = json.loads(shown("fern-98", "moraine-98", *options, "--json"))
    assert document["crosses_at_n"] == pytest.approx(crosses)
    assert document["crosses_tension_n"] == pytest.approx(document["tension_n"] * ratio)
    assert document["outside"] is None


def test_help_names_every_key():
    document = json.loads(shown("fern-98", "moraine-98", "--at", "24kg", "--json"))
    help_text = shown("--help", COLUMNS="100")
    for key in document:
        assert f'"{key}"' in help_text, key
