"""What a strung bed does under a ball: stiffness where it is struck, over the whole bed, and the lowest frequency.

A model of geometry and tension alone: a pretensioned net (`nets`), small deflections, string material only where stated.
In-bed tension is the pull tension less a loss of 30 %, which Cross & Bower 2001 (Sports Engineering 4) found just after
stringing. The load is shared over the crossings by max(0, 1 - r²/R²) about the impact point; stiffness = F / Σ w_i z_i.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.cable_net import Net, Strings, deflections, net_of, shapes, springs
from gapbook.science.grouping import FloatArray
from gapbook.science.zones import BALL_MM, MIDDLES, ZONES

PULL_N = 245.0
"""Pull tension of both families that stated stiffness stands for [N]; 220 to 270 N are in common use (Cross 2000, Sports
Engineering 3, 111-122)."""
LOSS = 0.3
"""Part of the pull tension that is gone just after stringing (Cross & Bower 2001)."""
LOAD_RADIUS_MM = BALL_MM / 2.0
STRING_DIAMETER_MM = 1.25
STRING_G_CM3 = 1.38
"""Density of the string whose frequency is stated: polyester."""
STRING_KG_MM = STRING_G_CM3 * 1e-6 * np.pi / 4.0 * STRING_DIAMETER_MM**2
"""Its mass per length [kg/mm]."""
MILLI = 1000.0
"""N/mm in a N/m: a stiffness in N/mm over a mass in kg is this many times smaller than in 1/s²."""


def in_bed(pull: float) -> float:
    """Tension in the bed [N] just after stringing at this pull tension [N]."""
    return pull * (1.0 - LOSS)


class Patch(NamedTuple):
    """How loads about P points are shared over the crossings: raw weights [B, P, c, m] and their sum [B, P]."""

    raw: FloatArray
    total: FloatArray

    @property
    def shared(self) -> FloatArray:
        """Weights that add up to 1 [B, P, c, m]; 0 where no crossing lies under the load."""
        return self.raw / np.where(self.total > 0.0, self.total, 1.0)[:, :, None, None]


def patch(net: Net, points: FloatArray, radius: float = LOAD_RADIUS_MM) -> Patch:
    """Loads about `points` [P, 2] in mm: max(0, 1 - r²/R²) at each crossing inside the hoop."""
    across = (net.x[:, None] - points[:, 0, None, None]) / radius
    along = (net.y[:, None] - points[:, 1, None, None]) / radius
    raw = np.maximum(1.0 - across * across - along * along, 0.0) * net.inside[:, None]
    return Patch(raw, raw.sum(axis=(2, 3)))


class Response(NamedTuple):
    """What beds do when struck in the five zones: ln stiffness [N/mm] of each, then ln frequency [Hz], [B, 6]; NaN in a
    zone without a crossing under the load. Beside it what it was computed from, for `mechanics_gradient`.
    """

    logs: FloatArray
    net: Net
    load: Patch
    shape: FloatArray
    square: FloatArray


RESPONSES = (*ZONES, "frequency")
ZONE_POINTS = np.array([MIDDLES[zone] for zone in ZONES])
"""Where each zone is struck: the middle of its window [5, 2], x and y [mm]."""


def respond(strings: Strings, main_tension: float, cross_tension: float) -> Response:
    """Solve beds of one pattern at these in-bed tensions [N]."""
    net = net_of(strings)
    load = patch(net, ZONE_POINTS)
    shared = load.shared
    found = shapes(springs(net, main_tension, cross_tension), shared, lumped_mass(net))
    with np.errstate(divide="ignore", invalid="ignore"):
        compliance = np.where(load.total > 0.0, np.einsum("bpcm,bpcm->bp", shared, found.deflection), np.nan)
        square = found.eigenvalue * MILLI
        frequency = 0.5 * np.log(square) - np.log(2.0 * np.pi)
        logs = np.concatenate([-np.log(compliance), frequency[:, None]], axis=1)
    return Response(logs, net, load, np.concatenate([found.deflection, found.mode[:, None]], axis=1), square)


def lumped_mass(net: Net) -> FloatArray:
    """String mass at each crossing [B, c, m] in kg: half of each of its four segments; 0 where no node is."""
    down, over = net.main_there * net.main_length, net.cross_there * net.cross_length
    halves = down[:, 1:] + down[:, :-1] + over[:, :, 1:] + over[:, :, :-1]
    return np.asarray(STRING_KG_MM / 2.0 * halves * net.inside)


def stiffness_at(
    strings: Strings,
    points: FloatArray,
    pull: tuple[float, float] = (PULL_N, PULL_N),
    radius: float = LOAD_RADIUS_MM,
) -> FloatArray:
    """Stiffness [B, P] in N/mm of beds of one pattern struck about `points` [P, 2] in mm by a load of this radius [mm], at
    pull tensions [N] of mains and crosses; NaN where no crossing lies under the load.
    """
    net = net_of(strings)
    load = patch(net, points, radius)
    matrix = springs(net, in_bed(pull[0]), in_bed(pull[1]))
    shared = load.shared
    compliance = np.einsum("bpcm,bpcm->bp", shared, deflections(matrix, shared))
    return np.divide(1.0, compliance, out=np.full(compliance.shape, np.nan), where=load.total > 0.0)


def stiffness_map(
    strings: Strings, across: FloatArray, along: FloatArray, pull: tuple[float, float] = (PULL_N, PULL_N)
) -> FloatArray:
    """Stiffness in N/mm over a bed, [B, along, across]: struck at every x of `across` and y of `along` [mm]; NaN where
    the point lies outside the hoop or no crossing lies under the load.
    """
    x, y = np.meshgrid(across, along)
    found = stiffness_at(strings, np.stack([x.ravel(), y.ravel()], axis=1), pull).reshape(-1, *x.shape)
    width, length, n = (column[:, None, None] for column in strings.outlines)
    return np.where(np.abs(2.0 * x / width) ** n + np.abs(2.0 * y / length) ** n < 1.0, found, np.nan)
