"""A strung bed under a ball: its stiffness at points of the bed, its lowest frequency, and the change of both with every
string and with the head.

A model of geometry and tension alone: a pretensioned net (`cable_net`), small deflections, string material only if
stated. The load is shared over the crossings by max(0, 1 - r²/R²) about the loaded point; stiffness = F / Σ w_i z_i.

Gradients are of first order and use solutions already computed. For the compliance C = wᵀK⁻¹w with z = K⁻¹w,
dC = 2 dwᵀz - zᵀdK z; a segment of tension T and length ℓ whose ends differ by Δz gives -zᵀdK z = T·(Δz/ℓ)²·dℓ. For the
lowest mode v with vᵀMv = 1, dω² = vᵀdK v - ω² vᵀdM v (Rayleigh).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.cable_net import Net, PatternStrings, deflections, net_of, shapes, springs
from gapbook.science.grouping import FloatArray
from gapbook.science.outline import cross_shift, main_shift
from gapbook.science.tension import PULL_N, in_bed
from gapbook.science.zones import BALL_MM, MIDDLES, ZONES

LOAD_RADIUS_MM = BALL_MM / 2.0
STRING_DIAMETER_MM = 1.25
STRING_G_CM3 = 1.38
"""Density of the polyester string for which the frequency is stated."""
STRING_KG_MM = STRING_G_CM3 * 1e-6 * np.pi / 4.0 * STRING_DIAMETER_MM**2
"""Its mass per length [kg/mm]."""
MILLI = 1000.0
"""N/m in a N/mm: a stiffness in N/mm over a mass in kg, times this, is in 1/s²."""


class Patch(NamedTuple):
    """How loads about P points are shared over the crossings: raw weights [B, P, c, m] and their sum [B, P]."""

    raw: FloatArray
    total: FloatArray

    @property
    def shared(self) -> FloatArray:
        """Weights that add up to 1 [B, P, c, m]; 0 if no crossing lies under the load."""
        return self.raw / np.where(self.total > 0.0, self.total, 1.0)[:, :, None, None]


def patch(net: Net, points: FloatArray, radius: float = LOAD_RADIUS_MM) -> Patch:
    """Loads about `points` [P, 2] in mm: max(0, 1 - r²/R²) at each crossing inside the hoop."""
    across = (net.x[:, None] - points[:, 0, None, None]) / radius
    along = (net.y[:, None] - points[:, 1, None, None]) / radius
    raw = np.maximum(1.0 - across * across - along * along, 0.0) * net.inside[:, None]
    return Patch(raw, raw.sum(axis=(2, 3)))


class Response(NamedTuple):
    """The response of beds to loads in the five zones, with the solution that `gradient` needs.

    logs: ln stiffness [N/mm] of each zone, then ln frequency [Hz] [B, 6]; NaN in a zone without a crossing under the load
    net: the nets
    load: how the loads are shared over the crossings
    shape: deflections under the loads, then the lowest mode [B, 6, c, m]
    square: squared angular frequency of that mode [B] in 1/s²
    """

    logs: FloatArray
    net: Net
    load: Patch
    shape: FloatArray
    square: FloatArray


RESPONSES = (*ZONES, "frequency")
ZONE_POINTS = np.array([MIDDLES[zone] for zone in ZONES])
"""The point at which each zone is loaded: the middle of its window [5, 2], x and y [mm]."""


def respond(strings: PatternStrings, main_tension: float, cross_tension: float) -> Response:
    """Solve beds of one pattern at these in-bed tensions [N]."""
    net = net_of(strings)
    load = patch(net, ZONE_POINTS)
    shared = load.shared
    solved = shapes(springs(net, main_tension, cross_tension), shared, lumped_mass(net))
    with np.errstate(divide="ignore", invalid="ignore"):
        compliance = np.where(load.total > 0.0, np.einsum("bpcm,bpcm->bp", shared, solved.deflection), np.nan)
        square = solved.eigenvalue * MILLI
        frequency = 0.5 * np.log(square) - np.log(2.0 * np.pi)
        logs = np.concatenate([-np.log(compliance), frequency[:, None]], axis=1)
    return Response(logs, net, load, np.concatenate([solved.deflection, solved.mode[:, None]], axis=1), square)


def lumped_mass(net: Net) -> FloatArray:
    """String mass at each crossing [B, c, m] in kg: half of each of its four segments; 0 if there is no node."""
    down, over = net.main_there * net.main_length, net.cross_there * net.cross_length
    halves = down[:, 1:] + down[:, :-1] + over[:, :, 1:] + over[:, :, :-1]
    return np.asarray(STRING_KG_MM / 2.0 * halves * net.inside)


def stiffness_at(
    strings: PatternStrings, points: FloatArray, pull: tuple[float, float] = (PULL_N, PULL_N), radius: float = LOAD_RADIUS_MM
) -> FloatArray:
    """Stiffness [B, P] in N/mm of beds of one pattern; NaN if no crossing lies under the load.

    strings: the beds
    points: at which they are loaded [P, 2] in mm
    pull: pull tensions of mains and crosses [N]
    radius: of the load [mm]
    """
    net = net_of(strings)
    load = patch(net, points, radius)
    matrix = springs(net, in_bed(pull[0]), in_bed(pull[1]))
    shared = load.shared
    compliance = np.einsum("bpcm,bpcm->bp", shared, deflections(matrix, shared))
    return np.divide(1.0, compliance, out=np.full(compliance.shape, np.nan), where=load.total > 0.0)


def stiffness_map(
    strings: PatternStrings, across: FloatArray, along: FloatArray, pull: tuple[float, float] = (PULL_N, PULL_N)
) -> FloatArray:
    """Stiffness in N/mm over a bed [B, along, across]; NaN if the point lies outside the head or no crossing lies
    under the load.

    strings: the beds
    across: x of the points [mm]
    along: y of the points [mm]
    pull: pull tensions of mains and crosses [N]
    """
    x, y = np.meshgrid(across, along)
    stiffness = stiffness_at(strings, np.stack([x.ravel(), y.ravel()], axis=1), pull).reshape(-1, *x.shape)
    width, length, n = (column[:, None, None] for column in strings.outlines)
    return np.where(np.abs(2.0 * x / width) ** n + np.abs(2.0 * y / length) ** n < 1.0, stiffness, np.nan)


class Gradient(NamedTuple):
    """Change of each of Q logs. Width and length change at constant area of the outline, the area at constant width and length.

    main_at_0: per mm a main lies further right [B, Q, m]
    main_slope: per unit of its slope [B, Q, m]
    cross_y: per mm a cross lies further up [B, Q, c]
    log_width: per unit of ln width [B, Q]
    log_length: per unit of ln length [B, Q]
    log_area: per unit of ln area, through the outline's exponent [B, Q]
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray
    log_width: FloatArray
    log_length: FloatArray
    log_area: FloatArray


def gradient(
    response: Response, strings: PatternStrings, tensions: tuple[float, float], exponent_per_log_size: FloatArray
) -> Gradient:
    """Gradients of the logs of a response.

    response: the response
    strings: of the beds that were solved
    tensions: their in-bed tensions [N], mains and crosses
    exponent_per_log_size: change of the outline's exponent per unit of ln width or ln length at the head's area [B]
    """
    net = response.net
    down, over = _by_segment(response, tensions)
    by_x, by_y = _by_crossing_under_load(response)
    by_x += (over[..., :-1] - over[..., 1:]) * net.inside[:, None]
    stretch = np.sqrt(1.0 + strings.main_slope**2)
    per_height = down * stretch[:, None, None, :]
    by_y += (per_height[:, :, 1:] - per_height[:, :, :-1]) * net.inside[:, None]
    drawn = np.einsum("bqem,bem->bqm", down, net.main_top - net.main_bottom)
    drawn *= (strings.main_slope / stretch)[:, None]
    at_crossings = Gradient(
        main_at_0=by_x.sum(axis=2),
        main_slope=np.einsum("bqcm,bcm->bqm", by_x, net.y) + drawn,
        cross_y=by_y.sum(axis=3) + np.einsum("bqcm,bm->bqc", by_x, strings.main_slope),
        log_width=np.zeros(by_x.shape[:2]),
        log_length=np.zeros(by_x.shape[:2]),
        log_area=np.zeros(by_x.shape[:2]),
    )
    at_hoop = _by_ends(_held(net, per_height, over), net, strings, exponent_per_log_size)
    return Gradient(*(here + there for here, there in zip(at_crossings, at_hoop, strict=True)))


def _by_segment(response: Response, tensions: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Gradient of the logs by the length of each segment: of mains [B, Q, c + 1, m] and of crosses [B, Q, c, m + 1]."""
    net = response.net
    shape = np.nan_to_num(response.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.concatenate([-np.exp(response.logs[:, :-1]), -MILLI / (2.0 * response.square[:, None])], axis=1)
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


def _by_crossing_under_load(response: Response) -> tuple[FloatArray, FloatArray]:
    """Gradient of the logs by each crossing's x and y [B, Q, c, m], only through its share of the load."""
    net, load = response.net, response.load
    deflection = response.shape[:, :-1]
    stiffness = np.nan_to_num(np.exp(response.logs[:, :-1]))
    total = np.where(load.total > 0.0, load.total, 1.0)
    factor = (4.0 / LOAD_RADIUS_MM**2 * stiffness / total)[:, :, None, None]
    compliance = np.divide(1.0, stiffness, out=np.zeros_like(stiffness), where=stiffness > 0.0)
    pull = factor * (deflection - compliance[:, :, None, None]) * (load.raw > 0.0)
    by_x, by_y = np.zeros(response.shape.shape), np.zeros(response.shape.shape)
    by_x[:, :-1] = pull * (net.x[:, None] - ZONE_POINTS[:, 0, None, None])
    by_y[:, :-1] = pull * (net.y[:, None] - ZONE_POINTS[:, 1, None, None])
    return by_x, by_y


class _Held(NamedTuple):
    """Gradient by the ends of strings: of mains at tip and throat by y [B, Q, m], of crosses by x [B, Q, c]."""

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


def _by_ends(held: _Held, net: Net, strings: PatternStrings, exponent_per_log_size: FloatArray) -> Gradient:
    """The part of the gradient due to the moving of the ends."""
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
    width, length, exponent = (
        sum(np.einsum("bqs,bs->bq", by, getattr(shift, name)) for by, shift in ends)
        for name in ("log_width", "log_length", "exponent")
    )
    by_exponent = exponent * exponent_per_log_size[:, None]
    across = held.right * moved.aside[:, None]
    return Gradient(main_at_0, main_slope, across, width + by_exponent, length + by_exponent, -by_exponent)
