"""The photograph flattened, with the fitted strings over it: what was used in green, what was doubted in orange rings."""

from __future__ import annotations

from typing import Any

from gapbook.photo.flatten import Pixels
from gapbook.photo.library import opencv
from gapbook.photo.lines_shown import doubted, fitted
from gapbook.photo.reading import Reading

GREEN, ORANGE, INK = (60, 170, 40), (20, 110, 255), (25, 25, 25)
"""Blue, green and red, as OpenCV orders them."""
LARGEST = 2400
BAND = 30


def overlay(flat: Pixels, reading: Reading | None, said: str) -> bytes:
    """The picture as PNG. Only pixels are written: nothing of the photograph's metadata.

    flat: the flattened photograph, or one that could not be flattened [H, W, 3]
    reading: of it; None if it was refused
    said: a line of words beneath it
    """
    cv2 = opencv()
    scale = min(1.0, LARGEST / max(flat.shape))
    made = cv2.cvtColor(flat, cv2.COLOR_RGB2BGR)
    if reading is not None:
        _lines(cv2, made, reading)
    made = cv2.resize(made, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1.0 else made
    made = cv2.copyMakeBorder(made, 0, BAND, 0, 0, cv2.BORDER_CONSTANT, value=(255, 255, 255))
    plain = said.encode("ascii", "replace").decode()
    size = min(0.6, 0.6 * made.shape[1] / max(1, cv2.getTextSize(plain, cv2.FONT_HERSHEY_SIMPLEX, 0.6, 1)[0][0] + 20))
    cv2.putText(made, plain, (8, made.shape[0] - 9), cv2.FONT_HERSHEY_SIMPLEX, size, INK, 1, cv2.LINE_AA)
    return bytes(cv2.imencode(".png", made)[1].tobytes())


def _lines(cv2: Any, made: Any, reading: Reading) -> None:
    found, good = reading.located[0], reading.good[0]
    for start, end in fitted(found, good):
        cv2.line(made, start, end, GREEN, 1, cv2.LINE_AA)
    for at in doubted(found, good):
        cv2.circle(made, at, max(4, round(found.grid.per_mm)), ORANGE, 1, cv2.LINE_AA)
