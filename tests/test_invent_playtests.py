"""The effects planted in the invented playtests are found, and no others."""

from __future__ import annotations

import math

import numpy as np

from demo_rows import TO_N, demo
from inventing import play


def within_testers(outcome: str, trait: dict[str, float] | None) -> tuple[float, float]:
    """Slope of an outcome on a trait of the copy (None: on the mean tension, N) with a level a tester, and its s.e."""
    tests = [row for row in demo("playtests") if row[outcome]]
    y = np.array([float(row[outcome]) for row in tests])
    tension = [(float(r["main_tension"]) + float(r["cross_tension"])) / 2 * TO_N[r["tension_unit"]] for r in tests]
    x = np.array(tension if trait is None else [trait[row["specimen_id"]] for row in tests])
    testers = np.array([row["tester_id"] for row in tests])
    for name in set(testers):
        own = testers == name
        y[own] -= y[own].mean()
        x[own] -= x[own].mean()
    slope = (x @ y) / (x @ x)
    freedom = len(tests) - len(set(testers)) - 1
    return slope, math.sqrt(((y - slope * x) ** 2).sum() / freedom / (x @ x))


def test_planted_effects_are_found_and_ball_speed_has_none(world):
    percent = dict(zip(world.copy_ids, 100 * np.log(world.scores()["openness_centre"]), strict=True))
    for outcome, planted in (
        ("launch_angle_deg", play.LAUNCH_DEG_PER_PERCENT),
        ("spin_rpm", play.SPIN_RPM_PER_PERCENT),
        ("lift_vs_own", play.LIFT_PER_PERCENT),
        ("control_vs_own", play.CONTROL_PER_PERCENT),
    ):
        slope, error = within_testers(outcome, percent)
        assert abs(slope) > 5 * error, f"{outcome} goes with openness"
        # Three standard errors, and a tenth for marks rounded and held to ±3.
        assert abs(slope - planted) < 3 * error + 0.1 * abs(planted), outcome
    slope, error = within_testers("comfort_vs_own", None)
    assert slope < -5 * error
    assert abs(slope - play.COMFORT_PER_N) < 3 * error + 0.1 * abs(play.COMFORT_PER_N)
    slope, error = within_testers("ball_speed_kmh", percent)
    assert abs(slope) < 2.5 * error, "ball speed does not go with the bed"
