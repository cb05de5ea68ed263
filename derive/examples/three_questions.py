# %% [markdown]
# # Three questions to the demo
#
# A script with cells: run it whole (`python derive/examples/three_questions.py`) or cell by cell in an editor that knows
# `# %%`. Every frame, person and playtest of the demo is invented, so the answers are about the method, not about tennis.

# %%
"""Three questions an analyst may ask of the demo, answered with gapbook alone."""

from __future__ import annotations

from gapbook import open_catalogue

catalogue = open_catalogue()
print(catalogue)

# %% [markdown]
# ## 1. Does the ball leave a more open bed higher?
#
# A playtest belongs to a tester, who has habits, and to a frame, of which several playtests tell the same story. `relate`
# knows that each tester has their own baseline, and counts frames and testers, not playtests. Head size goes with openness, and
# tension may go with both, so the two are held.

# %%
launch = catalogue.relate("openness_centre", "launch_angle_deg", given=["head_area_cm2", "mean_tension_n"])
print(launch)
(found,) = launch.associations
print(f"partial correlation {found.partial_correlation:.2f}, over {found.frames} frames and {found.playtests} playtests")
if found.leave_one_out is not None:
    print(f"without any one frame the slope stays within {found.leave_one_out.low:.3f} and {found.leave_one_out.high:.3f}")

# %% [markdown]
# ## 2. What goes with comfort: the bed, its tension, or the weight of the frame?
#
# Three traits are tried, so one of them may look like something by chance: the verdicts are by Holm's correction.

# %%
comfort = catalogue.relate(["openness_centre", "mean_tension_n", "mass_g"], "comfort_vs_own")
for one in comfort.associations:
    print(f"{one.trait}: {one.verdict} (p {one.p:.2g}, Holm's {one.p_holm:.2g})")
for row in comfort.to_arrow().select(["trait", "slope", "low", "high"]).to_pylist():
    print(row)

# %% [markdown]
# ## 3. How far do two copies of one frame differ, set against what the readings can tell?
#
# `beds` has a row a measured copy with its standard uncertainty. For each frame with two copies and more: the spread of
# their openness, and the uncertainty one would expect to see from measurement alone. Where the spread is plainly the larger,
# copies do differ.

# %%
copies = catalogue.sql(
    """
    SELECT frame_id, count(*) AS copies,
           100 * stddev_samp(ln(openness_centre)) AS spread_percent,
           100 * sqrt(avg(power(u_openness_centre / openness_centre, 2))) AS u_percent
    FROM beds GROUP BY frame_id HAVING count(*) >= 2 ORDER BY spread_percent DESC
    """
)
for row in copies.slice(0, 5).to_pylist():
    print(row)
pooled = catalogue.sql(
    """
    WITH one AS (
        SELECT ln(openness_centre) - avg(ln(openness_centre)) OVER same AS off, count(*) OVER same AS copies,
               u_openness_centre / openness_centre AS u
        FROM beds WINDOW same AS (PARTITION BY frame_id)
    )
    SELECT 100 * sqrt(sum(power(off, 2)) / sum(1 - 1 / copies)) AS spread_percent, 100 * sqrt(avg(power(u, 2))) AS u_percent
    FROM one WHERE copies >= 2
    """
).to_pylist()[0]
print(f"all frames together: copies spread by {pooled['spread_percent']:.2f} %, the readings allow {pooled['u_percent']:.2f} %")
