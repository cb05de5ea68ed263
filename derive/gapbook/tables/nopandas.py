"""pyarrow imports pandas at the first touch of an array, if it is installed: a third of a second for nothing."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from importlib.machinery import ModuleSpec
    from types import ModuleType


class _NoPandas:
    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> ModuleSpec | None:
        if name == "pandas":
            raise ImportError("pandas is not needed here")
        return None


def without_pandas() -> None:
    """Keep pandas from being imported by this process, for good: for one that is gapbook's own."""
    sys.meta_path.insert(0, _NoPandas())
