"""Makes verdicts.json: pairs of figures and what must be said of them, worked out to 40 digits.

Run by hand, with mpmath at hand: `python tests/cases/make_verdicts.py`. Python and the atlas page are both held to the
file it writes (`tests/test_verdicts.py`). It uses nothing of gapbook; the definitions are written out here:
δ = ln(A/B), u² = (u_A/A)² + (u_B/B)², P(A tighter) = Φ(-δ/u), and "tighter" if that is at least the confidence, "more
open" if 1 - P is (JCGM 106:2012, 8.3). Where both were read with one instrument, or by one person, what that does to both
cancels: u² less 2·Σ e_A·e_B, e the change of the logarithm by one standard uncertainty of each cause (JCGM 100:2008, 5.2.2).
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

from mpmath import erfc, log, mp, mpf, sqrt

mp.dps = 40
CONFIDENCES = ("0.51", "0.8", "0.9", "0.95", "0.99", "0.999999")
PAIRS = [
    (a, u_a, b, u_b)
    for a, (u_a, b, u_b) in product(
        ("82.5", "97.031", "99.9", "100", "100.4", "102", "104.75", "113", "141.2"),
        (("0.9", "100", "1.1"), ("0.004", "100", "0.003"), ("2.5", "100", "0"), ("3.75", "104.75", "2.2"), ("0", "100", "0")),
    )
]
CALLIPERS = (
    "cal 1300 1 2 3 4 5 6; ida/calliper 4400 1 2 3 4 5 6",
    "cal-2 900 1 2 3 4 5 6; ida/calliper 4100 1 2 3 4 5 6",
    "cal 1250 1 2 3 4 5 6; ida/calliper 4500 1 2 3 4 5 6",
)
SHARING = [
    ("nothing in common", "cal 1300 0 0 0 0 0 0; ida/calliper 4400 0 0 0 0 0 0", "rule 200 0 0 0 0 0 0", "centre"),
    ("nothing known of one", "cal 1300 0 0 0 0 0 0", None, "centre"),
    (
        "one person",
        "cal 1300 1 2 3 4 5 6; ida/calliper 4400 1 2 3 4 5 6",
        "cal-2 900 1 2 3 4 5 6; ida/calliper 4100 1 2 3 4 5 6",
        "centre",
    ),
    (
        "instrument and person",
        "cal 1300 1 2 3 4 5 6; ida/calliper 4400 1 2 3 4 5 6",
        "cal 1250 1 2 3 4 5 6; ida/calliper 4500 1 2 3 4 5 6",
        "centre",
    ),
    ("one person in the sides", "ida/rule 1 2 3 4 5 6200 7", "ole/rule 1 2 3 4 5 6000 7; ida/rule 1 2 3 4 5 3100 7", "sides"),
    ("against each other", "cal 1 2 3 4 5 6 3000", "cal 1 2 3 4 5 6 -2000", "even"),
    ("all of it", "ida/photo 1 9000 3 4 5 6 7", "ida/photo 1 9000 3 4 5 6 7", "left"),
]
"""Name, what A shares, what B shares, zone: by cause the effects in each of ZONES in millionths."""
ZONES = ("centre", "left", "right", "tip", "throat", "sides", "even")
CLEAR = mpf("1e-9")
"""A probability nearer to the confidence than this is no case: doubles may fall on either side."""


def case(pair: tuple[str, ...], confidence: str) -> dict[str, object] | None:
    """One case, or nothing if it is not clear."""
    a, u_a, b, u_b = map(mpf, pair)
    delta, u = log(a / b), sqrt((u_a / a) ** 2 + (u_b / b) ** 2)
    sign = (delta > 0) - (delta < 0)
    tighter = erfc(delta / u / sqrt(2)) / 2 if u else mpf(1 - sign) / 2
    sure = mpf(confidence)
    if u and min(abs(tighter - sure), abs(1 - tighter - sure)) < CLEAR:
        return None
    verdict = "tighter" if tighter >= sure else "more open" if 1 - tighter >= sure else "too close to call"
    figures = {"a": [float(a), float(u_a)], "b": [float(b), float(u_b)], "confidence": float(sure)}
    return {**figures, "tighter": float(tighter), "percent": float(100 * (a / b - 1)), "verdict": verdict}


def effects(text: str | None, zone: str) -> dict[str, mpf]:
    """The effects on ln openness in a zone, by cause."""
    parts = [part.split(" ") for part in text.split("; ")] if text else []
    return {cause: mpf(numbers[ZONES.index(zone)]) / 10**6 for cause, *numbers in parts}


def sharing(name: str, mine: str | None, theirs: str | None, zone: str) -> dict[str, object]:
    """A pair of 100.9 ± 2·0.9 and 100 ± 2·1.1 that share something."""
    a, u_a, b, u_b = mpf("100.9"), mpf("0.9"), mpf(100), mpf("1.1")
    one, other = effects(mine, zone), effects(theirs, zone)
    common = sum((effect * other[cause] for cause, effect in one.items() if cause in other), mpf(0))
    u = sqrt((u_a / a) ** 2 + (u_b / b) ** 2 - 2 * common)
    figures = {"a": [float(a), float(u_a)], "b": [float(b), float(u_b)], "shared": [mine, theirs], "zone": zone}
    tighter = erfc(log(a / b) / u / sqrt(2)) / 2
    return {"name": name, **figures, "u": float(u), "tighter": float(tighter)}


def main() -> None:
    """Write the file."""
    cases = [one for pair, sure in product(PAIRS, CONFIDENCES) if (one := case(pair, sure)) is not None]
    source = "made by make_verdicts.py with mpmath, 40 digits"
    lines = ",\n".join(json.dumps(one) for one in cases)
    shared = ",\n".join(json.dumps(sharing(*one)) for one in SHARING)
    text = f'{{"source": {json.dumps(source)}, "cases": [\n{lines}\n],\n"sharing": [\n{shared}\n]}}\n'
    Path(__file__).with_name("verdicts.json").write_text(text, encoding="utf-8")


main()
