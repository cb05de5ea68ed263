"""Work for a pool that takes long, fails, or ends its process: importable by the processes of the pool."""

from __future__ import annotations

import multiprocessing
import os
import time
from pathlib import Path


def doubled(item: int) -> int:
    return 2 * item


def asleep(*given: object, **more: object) -> None:
    """Leave a file named after the process, in the folder that the environment names, and sleep."""
    (Path(os.environ["GAPBOOK_TEST_TOLD"]) / str(os.getpid())).touch()
    time.sleep(60)


def dies(item: int) -> int:
    """As `doubled`, but a process of the pool ends at item 3, as one does that the system kills."""
    if item == 3 and multiprocessing.parent_process() is not None:
        os._exit(9)
    return 2 * item


def refuses(item: int) -> int:
    if item == 2:
        raise ValueError("no twos")
    return item


def threads(item: int) -> tuple[int, int]:
    """Threads that Arrow would use, and those of linear algebra, as the environment has it."""
    import pyarrow

    return pyarrow.cpu_count(), int(os.environ["OPENBLAS_NUM_THREADS"])
