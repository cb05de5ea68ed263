"""Makes verdicts.json: pairs of figures and what must be said of them, worked out to 40 digits.

Run by hand, with mpmath at hand: `python tests/cases/make_verdicts.py`. Python and the atlas page are both held to the
file it writes (`tests/test_verdicts.py`). It uses nothing of gapbook; the definitions are written out here:
δ = ln(A/B), u² = (u_A/A)² + (u_B/B)², P(A tighter) = Φ(-δ/u), and "tighter" if that is at least the confidence, "more
open" if 1 - P is (JCGM 106:2012, 8.3).
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


def main() -> None:
    """Write the file."""
    cases = [one for pair, sure in product(PAIRS, CONFIDENCES) if (one := case(pair, sure)) is not None]
    source = "made by make_verdicts.py with mpmath, 40 digits"
    lines = ",\n".join(json.dumps(one) for one in cases)
    text = f'{{"source": {json.dumps(source)}, "cases": [\n{lines}\n]}}\n'
    Path(__file__).with_name("verdicts.json").write_text(text, encoding="utf-8")


main()
