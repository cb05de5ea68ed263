"""Photographs of invented heads on the printed pages, rendered by ray geometry that shares nothing with the reader's model.

A pixel's ray is found by undoing the lens's distortion, then met with the bowed paper, with mains and crosses at their woven
heights, and with the hoop. Strings are drawn as cylinders seen from above, seven pixels a millimetre. Light is a soft part,
which darkens the paper near strings, and a lamp, whose shadows fall sideways. Then come blur, noise and JPEG, as phones make
them.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field, replace
from functools import cache

import cv2
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from gapbook.photo.layout import PAPERS
from gapbook.pictures import figure
from gapbook.pictures import pages as picture

PAGE_DPI = 200
COLOURS = {  # linear albedo
    "white": (0.80, 0.80, 0.78), "black": (0.03, 0.03, 0.032), "natural": (0.72, 0.62, 0.42), "yellow": (0.75, 0.62, 0.06),
    "red": (0.55, 0.05, 0.06), "blue": (0.13, 0.32, 0.62), "silver": (0.42, 0.42, 0.44),
}  # fmt: skip
PAINTS = ((0.02, 0.02, 0.02), (0.5, 0.04, 0.05), (0.1, 0.25, 0.5), (0.7, 0.7, 0.7), (0.05, 0.3, 0.12))


@dataclass(frozen=True)
class Scene:
    """What is photographed, and how. Lengths in mm, angles in degrees."""

    seed: int = 0
    mains: tuple = ()
    crosses: tuple = ()  # from tip to throat, y up
    slopes: tuple = ()  # of the mains, x per y
    skew: float = 0.0  # of the crosses, y per x
    width: float = 244.0
    length: float = 328.0
    exponent: float = 2.1
    gauge: float = 1.28
    main_colour: str = "white"
    cross_colour: str = "white"
    logos: int = 0
    fray: float = 0.0
    wander: float = 0.05
    crooked: tuple = ()  # (family, number, amplitude)
    missing: tuple = ()  # (family, number): a string that is not there
    beam: float = 23.0
    paint: int = 0
    at: tuple = (3.0, -2.0)
    turn: float = 0.8
    right_page: tuple = (1.0, 0.6, 0.15)  # x, y, angle
    shrink: tuple = (0.998, 0.997, 0.998, 0.996)  # left x, left y, right x, right y
    bow: tuple = (0.3, 0.2)  # of each page, at its strip
    tint: str = "blue"
    focal: float = 27.0  # for 35 mm film
    says_focal: bool = False
    principal: tuple = (0.0, 0.0)  # of the diagonal
    distortion: tuple = (0.01, -0.005)
    distance: float = 600.0
    tilt: float = 3.0
    tilt_way: float = 40.0
    roll: float = 1.0
    aim: tuple = (0.0, 0.0)
    pixels: tuple = (2016, 1512)
    lamp: float = 0.0  # part of light that comes from a lamp
    lamp_way: tuple = (0.6, 0.3)  # shadow's shift over height
    lamp_high: float = 1e9  # above the pages; a near lamp spreads shadows
    lamp_soft: float = 0.6
    glare: float = 0.0
    blur: float = 0.7  # px
    motion: tuple = (0.0, 0.0)  # px
    noise: float = 0.006
    gain: float = 1.0
    white: tuple = (1.0, 0.97, 0.92)
    jpeg: int = 90
    ghost: tuple = ()  # a second bed's strings: offset x, y
    flat: bool = True
    extra: dict = field(default_factory=dict)


def invented(rng, mains=16, crosses=19, **more):
    """A scene of an even but uneven bed, all its particulars drawn."""
    half_m, half_c = rng.uniform(98, 104), rng.uniform(128, 134)

    def spread(count, half, power, opening):
        t = np.linspace(-1, 1, count - 1)
        gaps = 1 + opening * np.abs(t) ** power
        at = np.concatenate([[0.0], np.cumsum(gaps)])
        return (at / at[-1] * 2 - 1) * half + rng.normal(0, 0.3, count)

    xs = spread(mains, half_m, rng.uniform(1.4, 1.8), rng.uniform(0.2, 0.6))
    ys = spread(crosses, half_c, rng.uniform(1.3, 1.6), rng.uniform(0.2, 0.5))
    splay = rng.normal(0.009, 0.012)
    wide = 2 * half_m + 2 * rng.uniform(19, 23)
    base = dict(  # noqa: C408
        seed=int(rng.integers(1 << 30)), mains=tuple(xs), crosses=tuple(-ys),
        slopes=tuple(xs * np.clip(splay, -0.02, 0.03) / 80.0 + rng.normal(0, 0.0007, mains)), skew=rng.normal(0, 0.0008),
        width=wide, length=wide * rng.uniform(1.31, 1.36), gauge=rng.uniform(1.18, 1.36), beam=round(rng.uniform(18, 27), 1),
        paint=int(rng.integers(len(PAINTS))), at=(rng.uniform(-8, 8), rng.uniform(-6, 6)), turn=rng.uniform(-3, 3),
        right_page=(rng.uniform(-1.5, 1.5), rng.uniform(-4, 4), rng.uniform(-0.8, 0.8)),
        shrink=tuple(rng.uniform(0.985, 1.003) + rng.normal(0, 0.001, 4)), bow=tuple(rng.normal(0, 0.5, 2)),
        focal=27.0 * np.exp(rng.normal(0, 0.06)), principal=tuple(rng.normal(0, 0.006, 2)),
        distortion=(rng.normal(0, 0.02), rng.normal(0, 0.01)), distance=rng.uniform(500, 900), tilt=rng.uniform(0, 12),
        tilt_way=rng.uniform(0, 360), roll=rng.uniform(-4, 4), aim=tuple(rng.uniform(-12, 12, 2)),
        white=tuple(np.exp(rng.normal(0, 0.06, 3))), gain=rng.uniform(0.75, 1.05), jpeg=int(rng.integers(80, 96)),
        noise=rng.uniform(0.003, 0.012), blur=rng.uniform(0.5, 1.1), wander=rng.uniform(0.0, 0.12),
    )  # fmt: skip
    return Scene(**{**base, **more})


@cache
def page_texture(side, tint, paper="a4"):
    with figure.style(figure.LIGHT):
        made = picture.page(PAPERS[paper], side, tint)
        made.set_dpi(PAGE_DPI)
        canvas = FigureCanvasAgg(made)
        canvas.draw()
        shown = np.asarray(canvas.buffer_rgba())[..., :3].astype(np.float32) / 255.0
    return 0.03 + 0.80 * linear(shown)


def linear(s):
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4).astype(np.float32)


def encoded(x):
    x = np.clip(x, 0, 1)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


class Bed:
    """Textures of a head in its own coordinates, x to the right and y up, PER_MM pixels a millimetre."""

    def __init__(self, scene, per_mm=7.0):
        self.per, self.scene = per_mm, scene
        self.rng = np.random.default_rng(scene.seed)
        self.x0, self.y0 = -scene.width / 2 - 16, scene.length / 2 + 16
        self.shape = (int((scene.length + 50) * per_mm), int((scene.width + 32) * per_mm))
        ys = self.y0 - (np.arange(self.shape[0]) + 0.5) / per_mm
        xs = self.x0 + (np.arange(self.shape[1]) + 0.5) / per_mm
        self.xs, self.ys = xs.astype(np.float32), ys.astype(np.float32)
        self.main = self._family("main")
        self.cross = self._family("cross")
        self.hoop = self._hoop()

    def _family(self, family):
        s, main = self.scene, family == "main"
        along, across = (self.ys, self.xs) if main else (self.xs, self.ys)
        places = np.array(s.mains if main else s.crosses)
        others = np.sort(np.array(s.crosses if main else s.mains))
        tilt = np.array(s.slopes) if main else np.full(len(places), s.skew)
        reach = s.gauge * 0.75
        shape = (len(along), len(across))
        cover = np.zeros(shape, np.float32)
        shade = np.zeros(shape, np.float32)
        height = np.zeros(shape, np.float32)
        colour = np.zeros((*shape, 3), np.float32)
        index = np.interp(along, others, np.arange(len(others)), left=-0.5, right=len(others) - 0.5)
        base = np.array(COLOURS[s.main_colour if main else s.cross_colour], np.float32)
        step = 1.0 / self.per
        half = s.length / 2 if main else s.width / 2
        order = np.argsort(places)
        rank = np.empty(len(places), int)
        rank[order] = np.arange(len(places))
        for number, place in enumerate(places):
            if (family, number) in s.missing:
                continue
            centre = place + tilt[number] * along
            if s.wander:
                knots = np.linspace(-half - 20, half + 20, 20)
                centre = centre + np.interp(along, knots, self.rng.normal(0, s.wander, 20))
            for which, one, amount in s.crooked:
                if which == family and one == number:
                    centre = centre + amount * np.exp(-0.5 * ((along - 25) / 14) ** 2)
            far = half * np.clip(1 - np.abs(2 * centre / (s.width if main else s.length)) ** s.exponent, 0, 1) ** (
                1 / s.exponent
            )
            inside = np.abs(along) < far + 4
            first = int(np.searchsorted(across * (1 if main else -1), (centre.min() if main else -centre.max()) - reach))
            last = int(np.searchsorted(across * (1 if main else -1), (centre.max() if main else -centre.min()) + reach)) + 1
            t = across[None, first:last] - centre[:, None]
            radius = s.gauge / 2 * (1 + (s.fray * self.rng.normal(0, 1, len(along)) if s.fray else 0))
            radius = np.broadcast_to(radius, along.shape)[:, None]
            here = np.clip((radius - np.abs(t)) / step + 0.5, 0, 1) * inside[:, None]
            round_ = np.sqrt(np.clip(1 - (t / radius) ** 2, 0, 1))
            paint = np.broadcast_to(base, (len(along), 3)).copy()
            for _ in range(s.logos):
                start = self.rng.uniform(-half * 0.6, half * 0.6)
                if self.rng.random() < 0.35:
                    where = (along > start) & (along < start + self.rng.uniform(8, 25))
                    where &= np.floor(along / self.rng.uniform(2, 4)) % 2 == 0
                    paint[where] = np.array(COLOURS["black"] if base.mean() > 0.2 else COLOURS["white"])
            cover[:, first:last] = np.maximum(cover[:, first:last], here)
            mine = here > 0
            shade[:, first:last][mine] = (0.55 + 0.45 * round_ + 0.10 * np.exp(-((t / s.gauge - 0.15) ** 2) / 0.01))[mine]
            colour[:, first:last][mine] = np.broadcast_to(paint[:, None, :], (*here.shape, 3))[mine]
            wave = 0.5 * s.gauge * np.cos(np.pi * (index + rank[number])) * (1 if main else -1)
            block = np.broadcast_to(wave[:, None].astype(np.float32), here.shape)
            wide = 2.5
            a, b = max(first - int(wide * self.per), 0), last + int(wide * self.per)
            height[:, a:b] = block[:, :1]
        fix = (lambda m: m) if main else (lambda m: np.ascontiguousarray(np.swapaxes(m, 0, 1)))
        return {"cover": fix(cover), "shade": fix(shade), "colour": fix(colour), "height": fix(height)}

    def _hoop(self):
        s = self.scene
        x, y = np.abs(self.xs[None, :]), np.abs(self.ys[:, None])

        def shape(extra):
            return (2 * x / (s.width + 2 * extra)) ** s.exponent + (2 * y / (s.length + 2 * extra)) ** s.exponent

        ring = ((shape(0) > 1) & (shape(11) < 1)).astype(np.float32)
        legs = (np.abs(x - np.clip((self.ys[:, None] + s.length / 2 + 90) * 0.45 + 12, 10, 60)) < 7) & (
            self.ys[:, None] < -s.length / 2 + 6
        )
        legs &= shape(0) > 1
        return cv2.GaussianBlur(np.maximum(ring, legs.astype(np.float32)), (0, 0), 0.5)

    def maps(self, x, y):
        """Texture coordinates of head coordinates."""
        return ((x - self.x0) * self.per - 0.5).astype(np.float32), ((self.y0 - y) * self.per - 0.5).astype(np.float32)


def camera(scene):
    """Origin, rays in world coordinates [H, W, 3] of every pixel; world: x right, y up, z to the camera."""
    wide, high = scene.pixels
    diagonal = np.hypot(wide, high)
    f = scene.focal / 43.267 * diagonal
    cx, cy = (wide - 1) / 2 + scene.principal[0] * diagonal, (high - 1) / 2 + scene.principal[1] * diagonal
    v, u = np.mgrid[0:high, 0:wide].astype(np.float32)
    xd, yd = (u - cx) / f, (v - cy) / f
    x, y = xd.copy(), yd.copy()
    for _ in range(8):
        r2 = x * x + y * y
        factor = 1 + scene.distortion[0] * r2 + scene.distortion[1] * r2 * r2
        x, y = xd / factor, yd / factor
    t, a, r = np.deg2rad([scene.tilt, scene.tilt_way, scene.roll])
    axis = np.array([np.cos(a), np.sin(a), 0.0])
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    lean = np.eye(3) + np.sin(t) * k + (1 - np.cos(t)) * k @ k
    spin = np.array([[np.cos(r), -np.sin(r), 0], [np.sin(r), np.cos(r), 0], [0, 0, 1.0]])
    turn = lean @ spin
    direction = (x[..., None] * turn[:, 0] - y[..., None] * turn[:, 1] - turn[:, 2]).astype(np.float32)
    origin = np.array([*scene.aim, 0.0]) + scene.distance * turn[:, 2]
    return origin, direction, f


def per_mm(scene):
    """Pixels a millimetre, in the middle."""
    return scene.focal / 43.267 * np.hypot(*scene.pixels) / scene.distance


def render(scene):
    """The photograph as uint8 RGB [H, W, 3]."""
    origin, whole, _ = camera(scene)
    step = -origin[2] / whole[..., 2]
    near = (np.abs(origin[0] + step * whole[..., 0]) < 232) & (np.abs(origin[1] + step * whole[..., 1]) < 205)
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    way = whole[box]
    del step, near, whole
    bed = Bed(scene)
    coarse = 1.0 / per_mm(scene)  # a pixel gathers light from so many mm
    for family in (bed.main, bed.cross):
        for name in ("cover", "shade", "colour"):
            family[name] = cv2.GaussianBlur(family[name], (0, 0), max(0.4 * coarse * bed.per, 0.3))
    rng = np.random.default_rng(scene.seed + 1)
    turn = np.deg2rad(scene.turn)
    c, s = np.cos(turn), np.sin(turn)

    def at(z):
        step = (z - origin[2]) / way[..., 2]
        return origin[0] + step * way[..., 0], origin[1] + step * way[..., 1]

    def head(x, y):
        x, y = x - scene.at[0], y - scene.at[1]
        return c * x + s * y, -s * x + c * y

    def look(texture, x, y, **more):
        return cv2.remap(texture, *bed.maps(x, y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0, **more)

    plane = scene.beam / 2
    # paper
    x, y = at(0.0)
    for _ in range(2):
        lift = np.where(x < 0, scene.bow[0], scene.bow[1]) * (np.abs(x) / 180) ** 2 * (1 - 0.7 * (y / 140) ** 2)
        x, y = at(np.where(np.abs(x) < 215, lift, 0))
    wood = 0.25 + 0.04 * np.sin(y / 3.0 + 2 * np.sin(x / 60))
    ground = wood[..., None] * np.array([1.0, 0.72, 0.5], np.float32)
    for side in ("left", "right"):
        texture = page_texture(side, scene.tint, scene.extra.get("paper", "a4"))
        texture = cv2.GaussianBlur(texture, (0, 0), max(0.4 * coarse * PAGE_DPI / 25.4, 0.3))
        dx, dy, da = scene.right_page if side == "right" else (0.0, 0.0, 0.0)
        ca, sa = np.cos(np.deg2rad(da)), np.sin(np.deg2rad(da))
        px, py = x - dx, y - dy
        px, py = ca * px + sa * py, -sa * px + ca * py
        sx, sy = scene.shrink[:2] if side == "left" else scene.shrink[2:]
        per = PAGE_DPI / 25.4
        wide, high = texture.shape[1] / per, texture.shape[0] / per
        u = (px / sx + (wide if side == "left" else 0.0)) * per - 0.5
        v = (high / 2 - py / sy) * per - 0.5
        on = (u > -0.5) & (u < texture.shape[1] - 0.5) & (v > -0.5) & (v < texture.shape[0] - 0.5)
        shown = cv2.remap(
            texture, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        ground[on] = shown[on]
    # light on the paper
    hx, hy = head(x, y)
    strings = np.maximum(bed.main["cover"], bed.cross["cover"])
    occluder = np.maximum(strings, bed.hoop)
    small = cv2.resize(occluder, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    soft = cv2.resize(cv2.GaussianBlur(small, (0, 0), 0.55 * plane * bed.per / 4), bed.shape[::-1])
    light = (1 - scene.lamp) * (1 - 0.45 * look(soft, hx, hy))
    if scene.lamp:
        lx = (scene.lamp_way[0] - x / scene.lamp_high) * plane
        ly = (scene.lamp_way[1] - y / scene.lamp_high) * plane
        hard = cv2.GaussianBlur(occluder, (0, 0), max(scene.lamp_soft * bed.per, 0.5))
        sx, sy = head(x + lx, y + ly)
        light = light + scene.lamp * (1 - look(hard, sx, sy))
    colour = ground * light[..., None]
    # strings
    best = np.full(x.shape, -1e9, np.float32)
    for family in (bed.cross, bed.main):
        x, y = at(plane)
        for _ in range(2):
            hx, hy = head(x, y)
            x, y = at(plane + look(family["height"], hx, hy))
        hx, hy = head(x, y)
        z = look(family["height"], hx, hy)
        cover = look(family["cover"], hx, hy)
        front = cover * (z >= best)
        tone = (
            look(family["colour"], hx, hy)
            / np.maximum(cover, 1e-3)[..., None]
            * np.minimum(look(family["shade"], hx, hy) / np.maximum(cover, 1e-3), 1.2)[..., None]
        )
        colour = colour * (1 - front[..., None]) + front[..., None] * np.clip(tone, 0, 1) * (0.95 + 0.05 * ground)
        best = np.where(cover > 0.5, z, best)
        if scene.ghost:
            gx, gy = head(x + scene.ghost[0], y + scene.ghost[1])
            over = look(family["cover"], gx, gy)
            colour = colour * (1 - over[..., None]) + over[..., None] * np.array(COLOURS[scene.main_colour], np.float32) * 0.8
    # hoop
    for part in (0.35, 0.7, 1.0):
        hx, hy = head(*at(scene.beam * part))
        over = look(bed.hoop, hx, hy)[..., None]
        colour = colour * (1 - over) + over * np.array(PAINTS[scene.paint], np.float32) * (0.5 + 0.5 * part)
    x, y = at(0.0)
    fall = 1 + 0.25 * (rng.uniform(-1, 1) * x + rng.uniform(-1, 1) * y) / 200
    colour = colour * fall[..., None] * np.array(scene.white, np.float32) * scene.gain
    if scene.glare:
        spot = np.exp(-((x - 20) ** 2 + (y + 30) ** 2) / (2 * 45**2))
        colour = colour + scene.glare * spot[..., None]
    table = np.full((*scene.pixels[::-1], 3), (0.2, 0.15, 0.1), np.float32)
    table[box] = colour
    return developed(table, scene, rng)


def developed(colour, scene, rng):
    """Blur, noise and tone."""
    colour = cv2.GaussianBlur(colour, (0, 0), scene.blur)
    if any(scene.motion):
        kernel = np.zeros((41, 41), np.float32)
        cv2.line(
            kernel,
            (20 - int(scene.motion[0]), 20 - int(scene.motion[1])),
            (20 + int(scene.motion[0]), 20 + int(scene.motion[1])),
            1.0,
        )
        colour = cv2.filter2D(colour, -1, kernel / kernel.sum())
    colour = colour + rng.normal(0, 1, colour.shape).astype(np.float32) * np.sqrt(scene.noise**2 * np.clip(colour, 0.02, None))
    return (255 * encoded(colour) + 0.5).astype(np.uint8)


def saved(picture, scene):
    """The photograph's file as bytes."""
    out = io.BytesIO()
    image = Image.fromarray(picture)
    exif = Image.Exif()
    if scene.says_focal:
        exif.get_ifd(0x8769)[0xA405] = round(scene.focal)
    image.save(out, "JPEG", quality=scene.jpeg, exif=exif)
    return out.getvalue()


def bars(scene, rng=None, paper="a4"):
    """What a rule shows at the scale bars, to a tenth of a millimetre."""
    nominal = PAPERS[paper].bar_mm
    off = rng.normal(0, 0.1, 2) if rng is not None else (0.0, 0.0)
    return round(nominal * scene.shrink[1] + off[0], 1), round(nominal * scene.shrink[3] + off[1], 1)


def truth(scene):
    """Marks from the first string: mains at -80, 0, 80 about the middle of the outer crosses, crosses at 0 on the axis."""
    m, c = np.array(scene.mains), np.array(scene.crosses)
    middle = (c[0] + c[-1]) / 2
    slopes = np.array(scene.slopes)
    mains = {h: m + slopes * (middle + h) for h in (-80, 0, 80)}
    return {h: one - one[0] for h, one in mains.items()}, c[0] - c


@cache
def example():
    """A photograph's file, always the same, to be read with the options PHOTO of tests/opens.py."""
    more = {"distance": 540.0, "tilt": 4.0, "beam": 23.0, "shrink": (1.0, 1.0, 1.0, 1.0), "bow": (0.2, -0.1)}
    scene = invented(np.random.default_rng(21), 16, 19, **more)
    return saved(render(scene), scene)


STRINGS = ("white", "black", "natural", "yellow", "red", "silver")
PATTERNS = ((16, 19), (16, 18), (18, 20), (16, 20), (14, 18))


def sound(rng, **more):
    """A photograph as a careful person takes it: any strings, soft or not too hard light, 3 Mpx near or 12 Mpx further off."""
    mains, crosses = PATTERNS[int(rng.integers(len(PATTERNS)))]
    one = STRINGS[int(rng.integers(len(STRINGS)))]
    drawn = {
        "main_colour": one,
        "cross_colour": one if rng.random() < 0.6 else STRINGS[int(rng.integers(len(STRINGS)))],
        "logos": int(rng.integers(3)) if rng.random() < 0.4 else 0,
        "fray": 0.06 if rng.random() < 0.2 else 0.0,
        "says_focal": bool(rng.random() < 0.3),
        "distance": rng.uniform(500, 680),
    }
    if rng.random() < 0.3:
        drawn |= {
            "lamp": rng.uniform(0.2, 0.6),
            "lamp_way": tuple(rng.uniform(-1.0, 1.0, 2)),
            "lamp_soft": rng.uniform(0.4, 1.5),
            "lamp_high": rng.choice([900.0, 2000.0]),
        }
    return invented(rng, mains, crosses, **(drawn | more))


def _lamp(rng, colour):
    near = {"lamp_way": tuple(rng.uniform(-0.5, 0.5, 2)), "lamp_high": rng.choice([350.0, 500.0, 800.0])}
    return {
        "main_colour": colour,
        "cross_colour": colour,
        "lamp": rng.uniform(0.4, 0.85),
        "lamp_soft": rng.uniform(0.1, 0.5),
    } | near


BAD = {
    "hard lamp, black": lambda rng: _lamp(rng, "black"),
    "hard lamp, white": lambda rng: _lamp(rng, "white"),
    "hard lamp, silver": lambda rng: _lamp(rng, "silver"),
    "crooked": lambda rng: {
        "crooked": ((str(rng.choice(["main", "cross"])), int(rng.integers(4, 11)), rng.uniform(1.2, 2.5)),)
    },
    "a string missing": lambda rng: {"missing": ((str(rng.choice(["main", "cross"])), int(rng.integers(0, 14))),)},
    "strings of the tint": lambda rng: {"main_colour": "blue", "cross_colour": "blue"},
    "a second bed": lambda rng: {"ghost": (rng.uniform(2, 7), rng.uniform(2, 7))},
    "moved": lambda rng: {"motion": (rng.uniform(4, 8), rng.uniform(-7, 7))},
    "flash": lambda rng: {"glare": rng.uniform(1, 3)},
    "bowed": lambda rng: {"bow": (rng.uniform(4, 9), rng.uniform(2, 6))},
    "off the pages": lambda rng: {"at": tuple(rng.uniform([40, 20], [70, 50]) * rng.choice([-1, 1], 2))},
    "far off": lambda rng: {"distance": rng.uniform(800, 1000)},
}
"""What makes a photograph bad, by name."""


def bad(rng, name):
    """A photograph that is bad in this way, and sound else."""
    mains, crosses = PATTERNS[int(rng.integers(2)) * 2]
    return invented(rng, mains, crosses, **({"distance": rng.uniform(500, 640)} | BAD[name](rng)))


__all__ = ["BAD", "Scene", "bad", "bars", "example", "invented", "render", "replace", "saved", "sound", "truth"]
