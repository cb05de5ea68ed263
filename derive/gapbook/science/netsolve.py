"""Nets solved bed by bed: one banded Cholesky factor each (LAPACK pbtrf) serves every load and the lowest mode.

Nodes are numbered cross by cross, so the band is as wide as there are mains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray
from gapbook.science.nets import Springs

TURNS = 4
"""Inverse iterations behind the lowest mode."""
_NOTHING = 1e-13
"""Shapes this nearly alike, by the part of their energy in which they differ, count as one."""

Solve = Callable[[FloatArray], None]
"""Turns loads [P, nodes] in N into deflections in mm, in place."""


class Shapes(NamedTuple):
    """What nets do: deflections [B, P, c, m] in mm under loads in N, the lowest mode [B, c, m] and its eigenvalue [B],
    stiffness over mass in the units both were given in; NaN where a net has no node.
    """

    deflection: FloatArray
    mode: FloatArray
    eigenvalue: FloatArray


def deflections(matrix: Springs, load: FloatArray) -> FloatArray:
    """Deflections [B, P, c, m] in mm under loads in N of that shape; [1, P, c, m] loads every net alike."""
    beds = len(matrix.diagonal)
    found = np.array(np.broadcast_to(load, (beds, *load.shape[1:])))
    flat = found.reshape(beds, load.shape[1], -1)
    for bed, solve in enumerate(_factors(matrix)):
        solve(flat[bed])
    return found


def shapes(matrix: Springs, load: FloatArray, mass: FloatArray) -> Shapes:
    """Deflections under loads [B, P, c, m] in N, and the lowest mode with lumped masses [B, c, m] (0 where no node is),
    scaled to Σ mass·mode² = 1.

    The mode is the best one (Rayleigh-Ritz) among the deflections and TURNS inverse iterations from the shape the net takes
    under its own weight.
    """
    beds, loads = load.shape[:2]
    force = np.concatenate([load.reshape(beds, loads, -1), np.empty((beds, TURNS, mass[0].size))], axis=1)
    found, lumped = force.copy(), mass.reshape(beds, -1)
    for bed, solve in enumerate(_factors(matrix)):
        solve(found[bed, :loads])
        pull = lumped[bed]
        for turn in range(loads, loads + TURNS):
            force[bed, turn] = pull / max(pull.sum(), np.finfo(float).tiny)
            found[bed, turn] = force[bed, turn]
            solve(found[bed, turn : turn + 1])
            pull = lumped[bed] * found[bed, turn]
    mode, eigenvalue = _lowest(force, found, lumped)
    return Shapes(found[:, :loads].reshape(load.shape), mode.reshape(mass.shape), eigenvalue)


def _lowest(force: FloatArray, shape: FloatArray, mass: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The combination of shapes [B, S, nodes] with the least stiffness over mass [B, nodes], and that ratio [B].

    `force` is what holds each shape. Scaled to unit energy, shapes whose differences vanish drop out.
    """
    energy = shape @ force.transpose(0, 2, 1)
    unit = np.sqrt(np.einsum("bss->bs", energy))
    unit = np.divide(1.0, unit, out=np.zeros_like(unit), where=unit > 0.0)
    weight = (shape * mass[:, None]) @ shape.transpose(0, 2, 1)
    size, turn = np.linalg.eigh(energy * unit[:, :, None] * unit[:, None])
    whole = np.divide(1.0, np.sqrt(np.abs(size)), out=np.zeros_like(size), where=size > _NOTHING)
    turn = unit[:, :, None] * turn * whole[:, None]
    ratio, best = np.linalg.eigh(turn.transpose(0, 2, 1) @ weight @ turn)
    most = ratio[:, -1]
    with np.errstate(divide="ignore", invalid="ignore"):
        blend = np.einsum("bst,bt->bs", turn, best[:, :, -1]) / np.sqrt(most)[:, None]
        return np.einsum("bs,bsn->bn", blend, shape), np.where(most > 0.0, 1.0 / most, np.nan)


def _factors(matrix: Springs) -> Iterator[Solve]:
    """For each net, in order, what solves it; good until the next is asked for. LAPACK Users' Guide: pbtrf, pbtrs."""
    from scipy.linalg.lapack import dpbtrf, dpbtrs

    beds, crosses, mains = matrix.diagonal.shape
    band = np.zeros((crosses * mains, mains + 1))
    next_main = np.zeros((beds, crosses, mains))
    next_main[:, :, :-1] = matrix.next_main
    for bed in range(beds):
        band[:] = 0.0
        band[:, 0] = matrix.diagonal[bed].ravel()
        band[:, 1] = next_main[bed].ravel()
        band[:-mains, mains] += matrix.next_cross[bed].ravel()
        factor, failed = dpbtrf(band.T, lower=1, overwrite_ab=1)

        def solve(load: FloatArray, factor: FloatArray = factor, failed: int = failed) -> None:
            if failed:
                load[:] = np.nan
            else:
                load[:] = dpbtrs(factor, load.T, lower=1, overwrite_b=1)[0].T

        yield solve
