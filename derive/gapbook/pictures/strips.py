"""The gaps of a bed printed along its two axes, string by string, with a scale in mm."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from gapbook.pictures.figure import SMALL_PT, Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STEP_MM = 50
NUMBER_PT, GAP_PT = 5.0, 5.4


def along_x(axes: Axes, places: Sequence[float], half: float, colours: Theme) -> None:
    """Gaps of the mains: x of each at the middle line [mm], on axes that reach ±`half`."""
    axes.set(xlim=(-half, half), ylim=(0.0, 1.0), yticks=[], xlabel="x across the head, mm from its centre")
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.set_xticks(_ticks(half))
    axes.tick_params(labelsize=SMALL_PT, length=2.5, pad=1.5)
    axes.xaxis.label.set_fontsize(SMALL_PT)
    for number, place in enumerate(places, 1):
        axes.plot([place, place], [0.62, 1.0], color=colours.quiet, linewidth=0.6)
        axes.text(place, 0.32, str(number), ha="center", va="center", fontsize=NUMBER_PT, color=colours.quiet)
    for left, right in pairwise(places):
        text = axes.text((left + right) / 2.0, 0.8, f"{right - left:.1f}", ha="center", va="center", fontsize=GAP_PT)
        text.set_gid("main-gap")


def along_y(axes: Axes, places: Sequence[float], half: float, colours: Theme) -> None:
    """Gaps of the crosses: y of each [mm], tip to throat, on axes that reach ±`half`."""
    bare_sides(axes)
    axes.set(ylim=(-half, half), xlim=(0.0, 1.0), xticks=[], yticks=[])
    for number, place in enumerate(places, 1):
        axes.plot([0.0, 0.38], [place, place], color=colours.quiet, linewidth=0.6)
        axes.text(0.62, place, str(number), ha="center", va="center", fontsize=NUMBER_PT, color=colours.quiet)
    for upper, lower in pairwise(places):
        text = axes.text(0.19, (upper + lower) / 2.0, f"{upper - lower:.1f}", ha="center", va="center", fontsize=GAP_PT)
        text.set_gid("cross-gap")


def scale_y(axes: Axes, half: float) -> None:
    """A scale in mm at the left of the bed's axes."""
    axes.set_yticks(_ticks(half))
    axes.spines["left"].set_visible(True)
    axes.tick_params(axis="y", labelsize=SMALL_PT, length=2.5, pad=1.5)
    axes.set_ylabel("y towards the tip, mm from the head's centre", fontsize=SMALL_PT)


def bare_sides(axes: Axes) -> None:
    """Take away the frame around axes."""
    for spine in axes.spines.values():
        spine.set_visible(False)


def _ticks(half: float) -> list[int]:
    most = int(half) // STEP_MM
    return [STEP_MM * step for step in range(-most, most + 1)]
