"""`python -m bench.photo`: how well beds are read off rendered photographs, against what they truly are.

    cd tests && PYTHONPATH=../derive python -m bench.photo --sound 20 --bad 2 --seed 1

Nothing here is a test; the figures are for people. The photographs are those of tests/photographed.py.
"""

from __future__ import annotations

import argparse
import os
import resource
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import numpy as np

import photographed
from gapbook.photo import opening, reading
from gapbook.photo.refusals import RefusedError

WRONG_GAP_MM, WRONG_PITCH = 0.3, 0.006
BALL_MM = 67.0


def pitch(marks: np.ndarray) -> float:
    """Pitch across a ball width about the middle of the outer strings."""
    x = np.asarray(marks) - (marks[0] + marks[-1]) / 2.0
    overlap = np.clip(np.minimum(x[1:], BALL_MM / 2) - np.maximum(x[:-1], -BALL_MM / 2), 0.0, None)
    return float(overlap.sum() / (overlap / np.diff(x)).sum())


def outcome(scene: photographed.Scene, rng: np.random.Generator, count: int = 1) -> dict[str, object]:
    """What is read off `count` photographs of a scene, beside the truth."""
    scenes = [scene]
    for _ in range(count - 1):
        other = {
            "tilt": rng.uniform(0, 12),
            "tilt_way": rng.uniform(0, 360),
            "distance": scene.distance * rng.uniform(0.9, 1.15),
        }
        scenes.append(photographed.replace(scene, **other, aim=tuple(rng.uniform(-12, 12, 2))))
    files = [photographed.saved(photographed.render(one), one) for one in scenes]
    start = time.process_time()
    pictures = [opening.opened(file, "picture") for file in files]
    asked = reading.Asked(len(scene.mains), len(scene.crosses), scene.beam, photographed.bars(scene, rng))
    try:
        read = reading.read(pictures, asked)
    except RefusedError as error:
        return {"refused": error.refusal.code, "seconds": time.process_time() - start}
    mains, crosses = photographed.truth(scene)
    true = [mains[-80], mains[0], mains[80], crosses]
    found = [*read.main, read.cross]
    gaps = np.concatenate([np.diff(a) - np.diff(b) for a, b in zip(found, true, strict=True)])
    pitches = np.array([pitch(a) / pitch(b) - 1.0 for a, b in ((read.main[1], mains[0]), (read.cross, crosses))])
    scales = np.array([np.polyfit(b, a, 1)[0] - 1.0 for a, b in ((read.main[1], mains[0]), (read.cross, crosses))])
    spread = np.concatenate([np.diff(b) * read.u_scale for b in true])
    return {
        "refused": None,
        "seconds": time.process_time() - start,
        "gaps": gaps,
        "pitches": pitches,
        "scale": float(scales.mean()),
        "u_scale": read.u_scale,
        "z_gaps": gaps / np.hypot(spread, 2**0.5 * read.u_position),
        "wrong": bool(np.abs(gaps).max() > WRONG_GAP_MM or np.abs(pitches).max() > WRONG_PITCH),
    }


def rms(values: object) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def told(name: str, results: list[dict[str, object]]) -> None:
    """Print the figures of a set."""
    read = [one for one in results if one["refused"] is None]
    wrong = sum(bool(one["wrong"]) for one in read)
    codes = sorted({str(one["refused"]) for one in results if one["refused"] is not None})
    print(
        f"{name}: {len(results)} photographs, {len(read)} read, {wrong} of them wrong; "
        f"refused as {', '.join(codes) or 'nothing'}"
    )
    if read:
        z = np.array([one["scale"] / one["u_scale"] for one in read])
        gaps, z_gaps = (np.concatenate([one[key] for one in read]) for key in ("gaps", "z_gaps"))
        pitches = np.concatenate([one["pitches"] for one in read])
        seconds = max(float(one["seconds"]) for one in read)
        scale = 100 * rms([one["scale"] for one in read])
        print(f"  gaps {rms(gaps):.3f} mm, pitch {100 * rms(pitches):.3f} %, scale {scale:.3f} % rms")
        print(f"  |error|/u: scale {rms(z):.2f}, gaps {rms(z_gaps):.2f} rms; gaps within U {np.mean(np.abs(z_gaps) < 2):.1%}")
        print(f"  scale within U {np.mean(np.abs(z) < 2):.1%}; longest {seconds:.1f} s of one core", flush=True)


def main() -> None:
    """Render, read, print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sound", type=int, default=20)
    parser.add_argument("--large", type=int, default=2, help="photographs of 12 Mpx")
    parser.add_argument("--pairs", type=int, default=5, help="lays of two photographs")
    parser.add_argument("--bad", type=int, default=2, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = np.random.default_rng(asked.seed)
    told("sound, 3 Mpx", [outcome(photographed.sound(rng), rng) for _ in range(asked.sound)])
    told("sound, two of a lay", [outcome(photographed.sound(rng), rng, 2) for _ in range(asked.pairs)])
    large = {"pixels": (4032, 3024)}
    told(
        "sound, 12 Mpx",
        [outcome(photographed.sound(rng, **large, distance=rng.uniform(500, 900)), rng) for _ in range(asked.large)],
    )
    print(f"  most memory so far {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB, the rendering included")
    for name in photographed.BAD:
        told(f"bad, {name}", [outcome(photographed.bad(rng, name), rng) for _ in range(asked.bad)])


if __name__ == "__main__":
    main()
