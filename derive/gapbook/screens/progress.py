"""What a long run is doing, on stderr, once it has become long."""

from __future__ import annotations

import sys
import time

PATIENCE_S = 2.0
"""Nothing is said before, nor more often."""


class Progress:
    """Told what is being done, it says so where that has taken long."""

    def __init__(self) -> None:
        self._start = self._last = time.monotonic()

    def __call__(self, doing: str) -> None:
        """Say what is being done now."""
        now = time.monotonic()
        if now - self._last >= PATIENCE_S:
            self._last = now
            sys.stderr.write(f"gapbook: {doing} ({now - self._start:.0f} s)\n")
            sys.stderr.flush()
