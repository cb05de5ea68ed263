"""How often the truth lies within what is stated, where people, defaults and small samples decide: see truth_cases."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from beds_of_truth import Heads, Rack, Way, derived, inside, new_bed
from small import NAMES
from truth_cases import BEDS, CASES, FEW, measure

ROOM = 0.03
"""Two standard errors of a share of 95 % of 240 beds, which the fast tests look at."""
QUICK = (
    "gaps, one station", "marks, three stations", "people differ by 0.05 mm, two sessions by two", "rule of 1 mm, no repeats",
    "size from the area alone", "stations 0 and 5 mm",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_the_truth_lies_within_what_is_stated(case):
    for name, found in measure(case, BEDS, 1).items():
        assert len(found) >= BEDS
        assert np.isfinite(found).all(), name
        assert case.low <= inside(found) <= case.high, name
        assert np.sqrt(np.mean(found**2)) > 0.75, name


@pytest.mark.parametrize("case", [case for case in CASES if case.name in QUICK], ids=QUICK)
@pytest.mark.slow_after(2)
def test_it_does_so_in_a_few_beds(case):
    for name, found in measure(case, FEW, 2).items():
        assert case.low - ROOM <= inside(found) <= 1.0, name
        assert np.sqrt(np.mean(found**2)) > 0.7, name  # no wider than need be


def tips(folder: Path) -> tuple[list[dict[str, object]], list[dict[str, object]]]:
    """Rows of the same beds: from their readings at station 0 alone, and from those and readings of the same strings, as they
    lay, at 5 mm.
    """
    rack, beds = Rack(4), np.random.default_rng(40)
    for number in range(40):
        bed = new_bed(beds, Heads())
        rack.frame(f"f{number}", bed)
        rack.specimen(f"f{number}-a", f"f{number}", bed)
        rack.read(f"f{number}-a", Way(stations=(0.0, 5.0)))
    close = derived(rack.write(folder / "close"))["beds"]
    station = NAMES["spacings"].index("station_mm")
    rack.rows["spacings"] = [row for row in rack.rows["spacings"] if row[station] == "0"]
    return list(derived(rack.write(folder / "one"))["beds"].values()), list(close.values())


def test_close_stations_are_never_worse_than_one(tmp_path):
    """Stations 0 and 5 mm tell no slope: what strings are read apart by must not be taken for splay, sixteen times enlarged.

    Their mean lies 2.5 mm nearer to the tip: what is lost at the throat, at most 82.5/80, is won at the tip. The 2 % are for
    strings that lie at the very edge of a window, which count with the gap on either side.
    """
    one, close = tips(tmp_path)
    assert len(one) == len(close) == 40
    tip, throat = (
        np.array([float(str(b[f"u_{name}"])) / float(str(a[f"u_{name}"])) for a, b in zip(one, close, strict=True)])
        for name in ("openness_tip", "openness_throat")
    )
    assert tip.max() <= 1.0
    assert throat.max() <= 1.02 * 82.5 / 80.0
    assert np.sqrt(tip * throat).max() <= 1.02
    assert np.median(np.sqrt(tip * throat)) <= 1.0
    for name in ("openness_tip", "openness_throat"):
        apart = [float(str(b[name])) / float(str(a[name])) - 1 for a, b in zip(one, close, strict=True)]
        assert 0.0 < np.max(np.abs(apart)) < 0.005
