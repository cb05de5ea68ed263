# %% [markdown]
# # From a question to a trial of your own
#
# A notebook as a script: open it in an editor or notebook program that knows `# %%` cells, or run it whole
# (`python derive/examples/your_own_trial.py`). Results show themselves in a notebook; here they are printed. The demo is
# invented, so the answers are about the method, not about tennis.

# %%
"""What playtests say, how sure that is, and the trial that would settle it."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pyarrow as pa

from gapbook import open_catalogue

catalogue = open_catalogue()

# %% [markdown]
# ## 1. What goes with what, and for whom
#
# Two outcomes and two traits are four slopes, corrected together. The interval is for frames and players like these; the one
# for these testers alone is narrower. The slope corrected for the trait's own uncertainty stands beside the plain one.

# %%
related = catalogue.relate(["openness_centre", "mean_tension_n"], ["launch_angle_deg", "comfort_vs_own"])
print(related)

# %% [markdown]
# ## 2. Which playtests does a slope rest on?
#
# One row a playtest: its residual, its leverage, and the slope without its frame and without its tester.

# %%
launch = related.associations[0]
residuals = launch.residuals()
furthest = sorted(residuals.to_pylist(), key=lambda row: -abs(row["residual"]))[:3]
for row in furthest:
    print(f"{row['playtest_id']}: {row['residual']:+.2f} deg, by {row['tester_id']} with {row['frame_id']}")

# %% [markdown]
# ## 3. Pictures: the slope, and the beds at its two ends

# %%
plot = catalogue.plot(catalogue.relate("openness_centre", "launch_angle_deg"))
ends = catalogue.sql("SELECT arg_min(frame_id, openness_centre) AS tight, arg_max(frame_id, openness_centre) AS open FROM beds")
tight, wide = (catalogue.draw(str(ends[name][0])) for name in ("tight", "open"))
print(plot, tight, wide)

# %% [markdown]
# ## 4. Your own log, joined to the beds
#
# Any frame of pandas or polars, an Arrow table, or the path of a CSV or Parquet file will do. A question mark takes a value.

# %%
log = pa.table({"copy": ["fern-98-a", "moraine-98-a"], "minutes": [95, 40]})
joined = catalogue.sql(
    "SELECT copy, minutes, round(openness_centre, 1) AS openness FROM log JOIN beds ON specimen_id = copy WHERE minutes > ?",
    [60],
    {"log": log},
)
print(joined.to_pylist())

# %% [markdown]
# ## 5. The trial that would settle it
#
# In the demo nobody assigned frames at random, so other causes are possible. How many frames, testers and playtests does it
# take to see 0.05 deg for each unit of openness? The schedule spreads frames over the trait and draws who plays what when.

# %%
design = catalogue.design("openness_centre", "launch_angle_deg", 0.05, testers=6, seed=2027)
print(design)
print(design.to_csv().splitlines()[1])

# %% [markdown]
# ## 6. Take everything along
#
# An export holds tables and views with their units, and opens again as a package of its own.

# %%
with tempfile.TemporaryDirectory() as folder:
    rows = catalogue.export(Path(folder) / "export")
    again = open_catalogue(Path(folder) / "export").relate("openness_centre", "launch_angle_deg").associations[0]
print(f"{rows['playtests_with_beds']} playtests; the same slope from the export: {again.slope == launch.slope}")
