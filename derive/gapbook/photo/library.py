"""OpenCV, which only reading photographs needs: an extra, so that nobody else has to install it."""

from __future__ import annotations

from typing import Any

from gapbook.errors import fail


def opencv() -> Any:
    """The module cv2. GapbookError if it is not installed."""
    try:
        import cv2  # late: an extra
    except ImportError:
        fix = "Install the extra: pip install 'gapbook[photo]'"
        raise fail("no-opencv", "photographs need OpenCV, which is not installed", fix=fix) from None
    return cv2
