"""The invented world is what it says: its scores follow the definitions, its spreads are those asked for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import Polygon

from definitions import pitch
from inventing.truth import draw_designs


def test_true_scores_follow_the_definitions(world):
    scores, beds = world.scores(), world.beds
    for row in range(0, len(world.copy_ids), 7):
        mains = beds.mains[row, : beds.m[row]]
        down = sorted(-beds.crosses[row, : beds.c[row]])
        fan = {"centre": 0, "left": 0, "right": 0, "tip": beds.splay[row], "throat": -beds.splay[row]}
        middles = {"centre": (0, 0), "left": (-60, 0), "right": (60, 0), "tip": (0, -80), "throat": (0, 80)}
        for zone, (across, along) in middles.items():
            main, covered_main = pitch(sorted(mains * (1 + fan[zone])), across)
            cross, covered_cross = pitch(down, along)
            assert scores[f"openness_{zone}"][row] == pytest.approx(10 * math.sqrt(main * cross), rel=1e-9)
            assert scores[f"coverage_{zone}"][row] == pytest.approx(min(covered_main, covered_cross) / 67)


def test_true_beds_look_like_beds(many):
    designs, beds, scores = many.designs, many.beds, many.scores()
    for zone in ("centre", "left", "right", "tip", "throat"):
        assert scores[f"coverage_{zone}"].min() >= 0.8
    assert scores["uniformity"].max() < 0.97, "nowhere denser than in the centre"
    gaps, rungs = np.diff(designs.mains, axis=1), -np.diff(designs.crosses, axis=1)
    assert np.nanmin(gaps) > 7
    assert np.nanmax(gaps) < 23
    assert np.nanmin(rungs) > 8.5
    assert np.nanmax(rungs[designs.c >= 19]) < 23
    outermost = np.nanmax(beds.mains, axis=1)
    assert np.all((beds.width / 2 - outermost > 12) & (beds.width / 2 - outermost < 32))
    for y in (-80.0, 80.0):
        assert np.all(beds.edge_at(y) - np.nanmax(np.abs(beds.mains_at(y)), axis=1) > 1.5)
    ends = designs.length / 2 - np.nanmax(np.abs(designs.crosses), axis=1)
    assert np.all((ends > 15) & (ends <= 36))
    normal = many.frame_scores()["openness_centre"][np.isin(designs.m, (16, 18)) & (designs.c >= 18)]
    assert np.all((normal > 90) & (normal < 138))


def test_true_heads_have_the_declared_area(world):
    # Area by shapely from 2,000 points of the outline; declared heads are whole square inches (6.4516 cm², NIST).
    turn = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    designs = world.designs
    for row in range(0, len(world.frame_ids), 9):
        power = 2 / designs.exponent[row]
        x, y = (np.sign(f(turn)) * np.abs(f(turn)) ** power for f in (np.cos, np.sin))
        outline = Polygon(np.column_stack([x * designs.width[row] / 2, y * designs.length[row] / 2]))
        assert outline.area / 100 / 6.4516 == pytest.approx(world.models[row].square_inches, abs=0.45)
        assert 1.28 <= designs.length[row] / designs.width[row] <= 1.38


def test_spreads_are_those_asked_for(many):
    design = many.frame_scores()["openness_centre"][many.frame_of]
    assert np.std(np.log(many.scores()["openness_centre"] / design)) == pytest.approx(0.008, abs=0.001)
    scores = many.frame_scores()
    fan = np.log(scores["main_pitch_tip_mm"] / scores["main_pitch_centre_mm"])
    assert np.sqrt(np.mean(fan**2)) == pytest.approx(0.015, abs=0.001)
    assert fan.mean() > 0.004, "mains fan out towards the tip"
    assert np.nanstd(many.placed[0]) == pytest.approx(0.3, abs=0.01)


def test_a_design_has_the_pitch_it_is_drilled_for():
    rng = np.random.RandomState(1)
    beds = draw_designs(rng, [16, 18], [19, 20], [98, 95], [10.7, 9.4], [11.6, 11.2])
    for row, (main, cross) in enumerate([(10.7, 11.6), (9.4, 11.2)]):
        assert pitch(sorted(beds.mains[row, : beds.m[row]]), 0)[0] == pytest.approx(main, abs=1e-6)
        assert pitch(sorted(-beds.crosses[row, : beds.c[row]]), 0)[0] == pytest.approx(cross, abs=1e-6)
