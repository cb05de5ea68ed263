"""How probable it is that frames are within tolerances of a bed: figure by figure, and in all at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from gapbook.questions.neighbours import BED_ZONES, Part, zones_known
from gapbook.questions.tolerances import Tolerance
from gapbook.questions.traits import unit_factor
from gapbook.science import nearness
from gapbook.science.comparison import shared_effects
from gapbook.science.grouping import FloatArray


class Found(NamedTuple):
    """How near one frame is.

    probability: how probable it is that it is within every tolerance of which it is known.
    probability_bed: the same of the bed alone; None if bed is left out or no zone is known.
    parts: figure by figure.
    unknown: what is not known of it.
    """

    probability: float
    probability_bed: float | None
    parts: list[Part]
    unknown: list[str]


def common(everyone: Sequence[str | None], own: str | None) -> FloatArray:
    """Covariance of ln openness of each frame and of the bed, by zone of BED_ZONES [F, Z]: what instruments and people did to
    both.

    everyone: what each frame shares, as of the column `shared`.
    own: what the bed shares.
    """
    found = np.zeros((len(everyone), len(BED_ZONES)))
    for column, zone in enumerate(BED_ZONES):
        mine = shared_effects(own, zone)
        for row, text in enumerate(everyone if mine else ()):
            theirs = shared_effects(text, zone)
            found[row, column] = sum(effect * mine[cause] for cause, effect in theirs.items() if cause in mine)
    return found


def judged(
    everyone: Sequence[Mapping[str, float | None]],
    figures: Mapping[str, float | None],
    within: Sequence[Tolerance],
    shared: FloatArray,
) -> list[Found]:
    """How near each frame is to a bed.

    everyone: the figures of each frame by column, each with its u_.
    figures: those of the bed.
    within: the tolerances that count.
    shared: the covariance of each frame and the bed, as of `common`.
    """
    probability = np.ones(len(everyone))
    in_bed = np.full(len(everyone), np.nan)
    parts: list[list[Part]] = [[] for _ in everyone]
    unknown: list[list[str]] = [[] for _ in everyone]
    for one in within:
        named = _zones(everyone, figures, one, shared) if one.name == "bed" else _single(everyone, figures, one)
        joint = named.joint
        for name, difference, u, chance in named.columns:
            for place, values in enumerate(zip(difference.tolist(), u.tolist(), chance.tolist(), strict=True)):
                if values[2] == values[2]:
                    pair = {"difference": values[0], "u_difference": values[1], "probability": values[2]}
                    parts[place].append(Part(name=name, unit=one.unit, **pair))
                else:
                    unknown[place].append(name)
        probability *= np.where(np.isnan(joint), 1.0, joint)
        in_bed = joint if one.name == "bed" else in_bed
    each = zip(probability.tolist(), in_bed.tolist(), parts, unknown, strict=True)
    return [Found(whole, zones if zones == zones else None, some, none) for whole, zones, some, none in each]


class _Chances(NamedTuple):
    """Chances of all frames in one measure.

    joint: in all of its figures [F]; NaN if none is known.
    columns: figure by figure: name, difference, its standard uncertainty and the chance [F], in the tolerance's unit.
    """

    joint: FloatArray
    columns: list[tuple[str, FloatArray, FloatArray, FloatArray]]


def _array(everyone: Sequence[Mapping[str, float | None]], column: str) -> FloatArray:
    return np.array([np.nan if one.get(column) is None else one[column] for one in everyone], dtype=float)


def _single(everyone: Sequence[Mapping[str, float | None]], figures: Mapping[str, float | None], one: Tolerance) -> _Chances:
    """Chances in a figure that is compared by its difference."""
    known = _array([figures], one.column)[0], _array([figures], "u_" + one.column)[0]
    difference = _array(everyone, one.column) - known[0]
    u = np.hypot(_array(everyone, "u_" + one.column), known[1])
    chance = nearness.within(difference, u, -one.base, one.base)
    factor = float(unit_factor(one.unit))
    return _Chances(chance, [(one.name, difference / factor, u / factor, chance)])


def _zones(
    everyone: Sequence[Mapping[str, float | None]], figures: Mapping[str, float | None], one: Tolerance, shared: FloatArray
) -> _Chances:
    """Chances in the zones of the bed that are known of it, compared by their ratio; what both share cancels in all zones."""
    zones = zones_known(figures)
    low, high = np.log1p(-one.base), np.log1p(one.base)
    both = [_logs(everyone, zones), _logs([figures], zones)]
    difference = both[0].value - both[1].value
    cancelled = 2.0 * shared[:, [BED_ZONES.index(zone) for zone in zones]]
    variance = np.maximum(both[0].variance + both[1].variance - cancelled, 0.0)
    together = np.maximum(both[0].shared + both[1].shared - cancelled, 0.0)
    joint = nearness.all_within(difference, variance, together, low, high)
    u = np.sqrt(variance)
    chance = nearness.within(difference, u, low, high)
    percent = 100.0 * np.expm1(difference)
    columns = [(zone, percent[:, n], (100.0 + percent[:, n]) * u[:, n], chance[:, n]) for n, zone in enumerate(zones)]
    return _Chances(np.where(np.isnan(chance).all(axis=1), np.nan, joint), columns)


class _Logs(NamedTuple):
    """Logarithms of openness [F, Z], their variances [F, Z], and the part of these that the zones of a bed share [F, Z]."""

    value: FloatArray
    variance: FloatArray
    shared: FloatArray


def _logs(everyone: Sequence[Mapping[str, float | None]], zones: Sequence[str]) -> _Logs:
    names = [f"openness_{zone}" for zone in zones]
    value = np.stack([_array(everyone, name) for name in names], axis=1)
    relative = np.stack([_array(everyone, "u_" + name) for name in names], axis=1) / value
    centre, sides = (
        _array(everyone, f"u_openness_{zone}") / _array(everyone, f"openness_{zone}") for zone in ("centre", "sides")
    )
    ratio = _array(everyone, "u_side_opening") / (1.0 + _array(everyone, "side_opening"))
    part = nearness.correlation(centre**2, sides**2, ratio**2)
    return _Logs(np.log(value), relative**2, part[:, None] * relative**2)
