"""Room for linear algebra, looked for before it is needed.

The library that NumPy solves equations with takes its room once, when it is first
asked, and where it finds none it ends the program without a word to Python.
"""

from __future__ import annotations

import mmap
import sys
from functools import lru_cache

import numpy as np

__all__ = ["need_room"]

ROOM = 40 << 20  # bytes: what it takes is 32 MB


@lru_cache(maxsize=1)
def need_room() -> None:
    """Have linear algebra take the room that it works in, if it has not yet.

    Raises
    ------
    MemoryError
        If there is none.
    """
    if sys.platform != "linux":
        return
    import resource  # noqa: PLC0415 - not on every system

    if resource.getrlimit(resource.RLIMIT_AS)[0] == resource.RLIM_INFINITY:
        return
    try:
        mmap.mmap(-1, ROOM).close()
    except OSError as error:
        raise MemoryError from error
    np.linalg.solve(np.eye(2), np.ones(2))
