"""Makes own_beds.json: what somebody types of a bed across one ball width, and the openness and uncertainty that follow.

Run by hand, with mpmath at hand: `python tests/cases/make_own_beds.py`. Python and the atlas page are both held to the file
it writes (`tests/test_own_beds.py`). It uses nothing of gapbook; the definitions are written out here, as the contract has
them: pitch = covered / N over a window of 67 mm about the middle of the outer strings, N = sum of overlap / gap; openness is
10·√(pitch of mains · pitch of crosses). Uncertainty (JCGM 100:2008, 5.1.2) by numerical differentiation to 40 digits, with
the contract's components for one reading of each string: a mark by a rule 0.25 mm and a gap by a calliper 0.10 mm, with
resolution²/12 added; resolution and largest error of 0.5 and 0.3 mm (rule), 0.02 and 0.04 mm (calliper); the largest error
over √3 stretches all marks over their span or grows all gaps; a person's offset of 0.05 mm grows all gaps, or stretches all
marks as much; each string out of place by 0.3 mm; and the origin, 1 mm for mains, 3 mm for crosses.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

from mpmath import diff, log, mp, mpf, sqrt

mp.dps = 40
BALL = mpf(67)
PLACEMENT, PERSON = mpf("0.3"), mpf("0.05")
ORIGIN = {"main": mpf(1), "cross": mpf(3)}
READING = {"mark": mpf("0.25") ** 2 + mpf("0.5") ** 2 / 12, "gap": mpf("0.1") ** 2 + mpf("0.02") ** 2 / 12}
ERROR = {"mark": mpf("0.3") / sqrt(3), "gap": mpf("0.04") / sqrt(3)}
CASES = [
    ("marks of a 16x19", "2 13.5 24.5 35 44.5 54 64.5 75.5", "0 12 23 34.5 45.5 57 69"),
    ("gaps of the same", "11.52 11.01 10.48 9.55 9.5 10.46 11.03", "12.02 11.03 11.52 11.01 11.49 12.03"),
    ("a dense bed by gaps", "8.6 8.2 7.9 7.7 7.9 8.3 8.5 8.8 9", "9.9 9.4 9.1 9 9.3 9.6 9.8 10.1"),
    ("an open bed by marks", "0 14 27.5 41 54.5 68.5", "1 16 30.5 45 59 73.5"),
    ("few strings, which still cover 80 %", "0 13.2 26.9 40.6 54.1", "10.8 11.2 11.5 11.9 11.1"),
    ("marks across, gaps along", "0.5 10.5 20 29.5 39.5 49 59 69.5", "12.5 12.1 11.8 11.9 12.2 12.6"),
    ("evenly spaced", "10 10 10 10 10 10 10 10", "0 10 20 30 40 50 60 70 80"),
    ("too narrow", "0 10 20 30 40 50", "12 12 12 12 12 12"),
]


def kind_of(values: list[mpf]) -> str:
    """Marks rise by what a gap may be, 4 to 30 mm; else they are gaps."""
    return "mark" if all(4 <= b - a <= 30 for a, b in pairwise(values)) else "gap"


def places(values: list[mpf], kind: str) -> list[mpf]:
    found = [mpf(0)]
    for value in values:
        found.append(found[-1] + value)
    return values if kind == "mark" else found


def covered_and_pitch(at: list[mpf], origin: mpf) -> tuple[mpf, mpf]:
    middle = (at[0] + at[-1]) / 2 + origin
    low, high = middle - BALL / 2, middle + BALL / 2
    parts = [(min(b, high) - max(a, low), b - a) for a, b in pairwise(at) if min(b, high) > max(a, low)]
    covered = sum(part for part, _ in parts)
    return covered / BALL, covered / sum(part / gap for part, gap in parts)


def family(text: str, name: str) -> dict[str, object]:
    """ln pitch, coverage, kind, independent variance, and the changes by instrument and person."""
    values = [mpf(word) for word in text.split()]
    kind = kind_of(values)
    at = places(values, kind)
    last = len(at) - 1

    def log_pitch(read: list[mpf], moved: list[mpf], origin: mpf) -> mpf:
        return log(covered_and_pitch([x + d for x, d in zip(places(read, kind), moved, strict=True)], origin)[1])

    still = [mpf(0)] * len(at)

    def by(change) -> mpf:  # type: ignore[no-untyped-def]
        return diff(change, 0)

    def one(values: list[mpf], number: int, step: mpf) -> list[mpf]:
        return [value + step if place == number else value for place, value in enumerate(values)]

    reading = sum(by(lambda t, k=k: log_pitch(one(values, k, t), still, mpf(0))) ** 2 for k in range(len(values)))
    placed = sum(by(lambda t, k=k: log_pitch(values, one(still, k, t), mpf(0))) ** 2 for k in range(len(at)))
    origin = by(lambda t: log_pitch(values, still, t))
    span, middle = at[-1] - at[0], (at[0] + at[-1]) / 2
    stretch = [(x - middle) / span for x in at]
    grow = [mpf(k) for k in range(len(at))]
    by_instrument = stretch if kind == "mark" else grow
    by_person = [last * part for part in stretch] if kind == "mark" else grow
    moved = [by(lambda t, d=d: log_pitch(values, [t * x for x in d], mpf(0))) for d in (by_instrument, by_person)]
    coverage, pitch = covered_and_pitch(at, mpf(0))
    variance = READING[kind] * reading + PLACEMENT**2 * placed + (ORIGIN[name] * origin) ** 2
    return {
        "kind": kind, "coverage": coverage, "log": log(pitch), "variance": variance,
        "instrument": moved[0] * ERROR[kind], "person": moved[1] * PERSON,
    }  # fmt: skip


def case(name: str, mains: str, crosses: str) -> dict[str, object]:
    main, cross = family(mains, "main"), family(crosses, "cross")
    typed = {"name": name, "mains": mains, "crosses": crosses, "kinds": [main["kind"], cross["kind"]]}
    coverage = min(main["coverage"], cross["coverage"])  # type: ignore[type-var]
    if coverage < mpf("0.8"):
        return {**typed, "coverage": float(coverage), "openness": None, "u_openness": None}
    instrument = [main["instrument"], cross["instrument"]]
    shared = sum(instrument) ** 2 if main["kind"] == cross["kind"] else sum(one**2 for one in instrument)  # type: ignore[operator]
    variance = main["variance"] + cross["variance"] + shared + (main["person"] + cross["person"]) ** 2  # type: ignore[operator]
    openness = 10 * mp.exp((main["log"] + cross["log"]) / 2)  # type: ignore[operator]
    without = (main["variance"] + cross["variance"] + shared) / 4  # type: ignore[operator]
    return {
        **typed, "coverage": float(coverage), "openness": float(openness), "u_openness": float(openness * sqrt(variance) / 2),
        "u_without_person": float(openness * sqrt(without)),
    }  # fmt: skip


def main() -> None:
    """Write the file."""
    source = "made by make_own_beds.py with mpmath, 40 digits"
    lines = ",\n".join(json.dumps(case(*one)) for one in CASES)
    text = f'{{"source": {json.dumps(source)}, "cases": [\n{lines}\n]}}\n'
    Path(__file__).with_name("own_beds.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
