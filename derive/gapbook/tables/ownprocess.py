"""What a process that is gapbook's own is spared: threads with nothing to do, and pandas."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from importlib.machinery import ModuleSpec
    from types import ModuleType

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "JE_ARROW_MALLOC_CONF": "background_thread:false"}
"""Matrices here are small, so that idle helpers would only spin; Arrow's memory can do without one that tidies up."""


class _NoPandas:
    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> ModuleSpec | None:
        if name == "pandas":
            raise ImportError("pandas is not needed here")
        return None


def settle(pandas: bool = False) -> None:
    """Before numpy and pyarrow are imported, in a process that is gapbook's own: for good.

    pyarrow imports pandas at the first touch of an array, if it is installed: a third of a second for nothing, unless
    `pandas` are wanted.
    """
    for name, value in ONE_THREAD.items():
        os.environ.setdefault(name, value)
    if not pandas:
        sys.meta_path.insert(0, _NoPandas())
