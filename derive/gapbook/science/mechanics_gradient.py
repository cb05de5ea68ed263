"""How stiffness and frequency change with every string and with the head: first order, from solutions already there.

For the compliance C = wᵀK⁻¹w with z = K⁻¹w, dC = 2 dwᵀz - zᵀdK z; a segment of tension T and length ℓ whose ends differ
by Δz gives -zᵀdK z = T·(Δz/ℓ)²·dℓ. For the lowest mode v with vᵀMv = 1, dω² = vᵀdK v - ω² vᵀdM v (Rayleigh). No system is
solved again.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.cable_net import Net, Strings
from gapbook.science.grouping import FloatArray
from gapbook.science.mechanics import LOAD_RADIUS_MM, MILLI, STRING_KG_MM, ZONE_POINTS, Response
from gapbook.science.outline import cross_shift, main_shift


class Gradient(NamedTuple):
    """Change of each of Q logs per mm a main lies further right [B, Q, m], per unit of its slope [B, Q, m], per mm a cross
    lies further up [B, Q, c], and per unit of ln width and of ln length [B, Q]; the outline keeps its area.
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray
    log_width: FloatArray
    log_length: FloatArray


def gradient(found: Response, strings: Strings, tensions: tuple[float, float], exponent_per_log_size: FloatArray) -> Gradient:
    """Gradients of `found.logs`, which came of these in-bed tensions [N] of mains and crosses.

    exponent_per_log_size: [B], change of the outline's exponent per unit of ln width or ln length at the head's area.
    """
    net = found.net
    down, over = _by_segment(found, tensions)
    by_x, by_y = _by_crossing_under_load(found)
    by_x += (over[..., :-1] - over[..., 1:]) * net.inside[:, None]
    stretch = np.sqrt(1.0 + strings.main_slope**2)
    own = down * stretch[:, None, None, :]
    by_y += (own[:, :, 1:] - own[:, :, :-1]) * net.inside[:, None]
    drawn = np.einsum("bqem,bem->bqm", down, net.main_top - net.main_bottom)
    drawn *= (strings.main_slope / stretch)[:, None]
    at_crossings = Gradient(
        main_at_0=by_x.sum(axis=2),
        main_slope=np.einsum("bqcm,bcm->bqm", by_x, net.y) + drawn,
        cross_y=by_y.sum(axis=3) + np.einsum("bqcm,bm->bqc", by_x, strings.main_slope),
        log_width=np.zeros(by_x.shape[:2]),
        log_length=np.zeros(by_x.shape[:2]),
    )
    at_hoop = _by_ends(_held(net, own, over), net, strings, exponent_per_log_size)
    return Gradient(*(here + there for here, there in zip(at_crossings, at_hoop, strict=True)))


def _by_segment(found: Response, tensions: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Gradient of the logs by the length of each segment: of mains [B, Q, c + 1, m] and of crosses [B, Q, c, m + 1]."""
    net = found.net
    shape = np.nan_to_num(found.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.concatenate([-np.exp(found.logs[:, :-1]), -MILLI / (2.0 * found.square[:, None])], axis=1)
    scale = np.nan_to_num(scale)[:, :, None, None]
    sag = shape * shape * net.inside[:, None]
    both = []
    for axis, length, there, tension in (
        (2, net.main_length, net.main_there, tensions[0]),
        (3, net.cross_length, net.cross_there, tensions[1]),
    ):
        rise = np.diff(shape, axis=axis, prepend=0.0, append=0.0)
        by_length = scale * (tension * there / length**2)[:, None] * rise * rise
        mode = by_length[:, -1:]
        first, last = (np.insert(sag[:, -1:], at, 0.0, axis=axis) for at in (0, sag.shape[axis]))
        mode -= STRING_KG_MM / 4.0 * (first + last) * there[:, None]
        both.append(by_length)
    return both[0], both[1]


def _by_crossing_under_load(found: Response) -> tuple[FloatArray, FloatArray]:
    """Gradient of the logs by each crossing's x and y [B, Q, c, m] through its share of the load alone."""
    net, load = found.net, found.load
    deflection = found.shape[:, :-1]
    stiffness = np.nan_to_num(np.exp(found.logs[:, :-1]))
    total = np.where(load.total > 0.0, load.total, 1.0)
    factor = (4.0 / LOAD_RADIUS_MM**2 * stiffness / total)[:, :, None, None]
    compliance = np.divide(1.0, stiffness, out=np.zeros_like(stiffness), where=stiffness > 0.0)
    pull = factor * (deflection - compliance[:, :, None, None]) * (load.raw > 0.0)
    by_x, by_y = np.zeros(found.shape.shape), np.zeros(found.shape.shape)
    by_x[:, :-1] = pull * (net.x[:, None] - ZONE_POINTS[:, 0, None, None])
    by_y[:, :-1] = pull * (net.y[:, None] - ZONE_POINTS[:, 1, None, None])
    return by_x, by_y


class _Held(NamedTuple):
    """Gradient by the place at which strings end: mains at tip and throat by y [B, Q, m], crosses by x [B, Q, c]."""

    tip: FloatArray
    throat: FloatArray
    right: FloatArray


def _held(net: Net, down: FloatArray, over: FloatArray) -> _Held:
    above, below = net.main_there.copy(), net.main_there.copy()
    above[:, 1:] &= ~net.inside
    below[:, :-1] &= ~net.inside
    right, left = net.cross_there.copy(), net.cross_there.copy()
    left[:, :, 1:] &= ~net.inside
    right[:, :, :-1] &= ~net.inside
    return _Held(
        np.einsum("bqem,bem->bqm", down, above.astype(float)),
        -np.einsum("bqem,bem->bqm", down, below.astype(float)),
        np.einsum("bqce,bce->bqc", over, right.astype(float) + left.astype(float)),
    )


def _by_ends(held: _Held, net: Net, strings: Strings, exponent_per_log_size: FloatArray) -> Gradient:
    """What the ends' moving adds to the gradient."""
    at_0, slope, outlines = strings.main_at_0, strings.main_slope, strings.outlines
    main_at_0, main_slope = np.zeros_like(held.tip), np.zeros_like(held.tip)
    ends = []
    for by_y, end in ((held.tip, net.tip), (held.throat, net.throat)):
        moved = main_shift(outlines, end, at_0, slope)
        main_at_0 += by_y * moved.aside[:, None]
        main_slope += by_y * moved.slope[:, None]
        ends.append((by_y, moved))
    moved = cross_shift(outlines, net.right, strings.cross_y)
    ends.append((held.right, moved))
    sizes = []
    for side in ("log_width", "log_length"):
        moves = [getattr(shift, side) + shift.exponent * exponent_per_log_size[:, None] for _, shift in ends]
        sizes.append(sum(np.einsum("bqs,bs->bq", by, move) for (by, _), move in zip(ends, moves, strict=True)))
    return Gradient(main_at_0, main_slope, held.right * moved.aside[:, None], *sizes)
