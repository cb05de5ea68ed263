"""How much a run tries: a few examples of each property, or with `--hypothesis-profile=whole` all."""

from __future__ import annotations

from hypothesis import settings

WHOLE, FEW = 60, 15
"""Examples of a property that says no number of its own, in the whole run and in the fast one."""


def examples(whole: int) -> settings:
    """Settings with this many examples in the whole run, and as much fewer in the fast one as there are of others."""
    return settings(max_examples=max(1, whole * settings.default.max_examples // WHOLE))
