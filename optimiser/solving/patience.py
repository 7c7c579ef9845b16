"""How long searches may take: a study says so once, and every search in it hears it.

A search is what needs whole numbers; everything else ends by itself. The solver works
in a thread of its own, so that Ctrl-C is heard at once.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from queue import SimpleQueue
from threading import Event, Thread
from typing import Any

import highspy

__all__ = ["left", "searched", "within"]

_END: ContextVar[float] = ContextVar("end", default=math.inf)
LEAST = 0.05  # seconds that a search gets, however late it is
LISTENS = 0.05  # seconds after which Ctrl-C is heard
ENDS = 5.0  # seconds that a search has to end by itself; it takes a tenth of one

_Job = tuple[Callable[[], object], Event]
_waiting: list[SimpleQueue[_Job]] = []


@contextmanager
def within(seconds: float | None) -> Iterator[None]:
    """Let all searches made inside take so long together; None sets no end.

    A search that is cut short answers with the best it has found, and how far that may
    be from the best there is; where it has found nothing it fails.
    """
    end = math.inf if seconds is None else time.monotonic() + seconds
    before = _END.set(min(end, _END.get()))
    try:
        yield
    finally:
        _END.reset(before)


def left() -> float:
    """Return the seconds that are left for searches; infinite where no end is set."""
    return _END.get() - time.monotonic()


def searched(solver: Any) -> None:  # noqa: ANN401 - a HiGHS object, or its C++ part
    """Run a solver on a question with whole numbers, in the time that is left."""
    seconds = left()
    if math.isfinite(seconds):
        limit = solver.getRunTime() + max(seconds, LEAST)
        solver.setOptionValue("time_limit", limit)
    # It lets go of Python while it works, and looks at its time limit on the way.
    done = Event()
    _worker().put((super(highspy.Highs, solver).run, done))
    try:
        while not done.wait(LISTENS):
            pass
    except BaseException:
        solver.setOptionValue("time_limit", 0.0)
        if not done.wait(ENDS):
            _waiting.clear()  # the next search gets a thread of its own
        raise
    finally:
        solver.setOptionValue("time_limit", math.inf)


def _worker() -> SimpleQueue[_Job]:
    """Return where the one thread that searches takes its jobs from.

    It never ends: the solver keeps something for each thread, and takes it down badly
    where a thread ends while the program does.
    """
    if not _waiting:
        _waiting.append(SimpleQueue())
        Thread(target=_work, args=(_waiting[0],), daemon=True).start()
    return _waiting[0]


def _work(jobs: SimpleQueue[_Job]) -> None:
    while True:
        run, done = jobs.get()
        try:
            run()
        finally:
            done.set()
