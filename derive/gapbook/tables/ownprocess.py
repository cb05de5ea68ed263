"""What a process that is gapbook's own is spared: threads with nothing to do, pandas, and memory given back to be asked for."""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from importlib.machinery import ModuleSpec
    from types import ModuleType

SPARED = {
    "OPENBLAS_NUM_THREADS": "1",
    "JE_ARROW_MALLOC_CONF": "background_thread:false",
    "MIMALLOC_PURGE_DELAY": "-1",
}
"""Matrices here are small, so that idle helpers would only spin; Arrow's memory can do without one that tidies up, and what
is freed is soon needed again.
"""
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Parameters of mallopt (glibc, mallopt(3))."""


class _NoPandas:
    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> ModuleSpec | None:
        if name == "pandas":
            raise ImportError("pandas is not needed here")
        return None


def settle(pandas: bool = False) -> None:
    """Before numpy and pyarrow are imported, in a process that is gapbook's own: for good.

    What it makes is seldom garbage that has to be looked for, and looking would copy the pages of a fork. pyarrow imports
    pandas at the first touch of an array, if it is installed: a third of a second for nothing, unless `pandas` are wanted.
    """
    gc.disable()
    for name, value in SPARED.items():
        os.environ.setdefault(name, value)
    if not pandas:
        sys.meta_path.insert(0, _NoPandas())


def keep_memory() -> None:
    """Keep what numpy and the interpreter free for what comes next, where the C library can be told. For a process that does
    the like again and again.
    """
    if sys.platform != "linux":
        return
    import ctypes  # numpy takes it along; a question does not wait for it

    library = ctypes.CDLL(None)
    if hasattr(library, "mallopt"):  # glibc
        library.mallopt(_TRIM_THRESHOLD, 1 << 30)
        library.mallopt(_MMAP_THRESHOLD, 1 << 25)
