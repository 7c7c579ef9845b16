"""How long searches may take: a study says so once, and every search in it hears it.

A search is what needs whole numbers; everything else ends by itself. The solver works
in a thread of its own, so that Ctrl-C is heard at once. Beside seconds a search has so
many nodes: its tree is as large on any machine, however busy.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from queue import SimpleQueue
from threading import Event, Thread
from typing import Any

import highspy

__all__ = ["MOST_NODES", "Patience", "left", "now", "searched", "to_the_end", "within"]

LEAST = 0.05  # seconds that a search gets, however late it is
LISTENS = 0.05  # seconds after which Ctrl-C is heard
ENDS = 5.0  # seconds that a search has to end by itself; it takes a tenth of one
# Seconds that pass while one is counted: more where no answer may depend on how fast or
# how busy a machine is, as in the tests.
PACE = 1.0
MOST_NODES = 2**31 - 1  # what the solver takes for no end

_Job = tuple[Callable[[], object], Event, list[BaseException]]
_waiting: list[SimpleQueue[_Job]] = []
if hasattr(os, "register_at_fork"):  # a copy of this process has no such thread
    os.register_at_fork(after_in_child=_waiting.clear)


class Patience:
    """What searches may still take, and whether one of them was cut short.

    Attributes
    ----------
    end : float
        When the time is up, as `now` counts it; infinite without an end.
    nodes : float
        Nodes of search trees that are left.
    cut : bool
        Whether a search ended before it had proved what it found, or found nothing.
    """

    def __init__(self, end: float, nodes: float, outer: Patience | None) -> None:
        self.end, self.nodes, self.cut = end, nodes, False
        self._outer = outer

    def used(self, nodes: int, *, cut: bool) -> None:
        """Count a search, here and in what is around."""
        self.nodes -= nodes
        self.cut = self.cut or cut
        if self._outer is not None:
            self._outer.used(nodes, cut=cut)


_PATIENCE: ContextVar[Patience | None] = ContextVar("patience", default=None)
_TO_THE_END: ContextVar[bool] = ContextVar("to the end", default=False)


def _patience() -> Patience:
    """Return what searches may take here; without end where nobody has said."""
    return _PATIENCE.get() or Patience(math.inf, math.inf, None)


def now() -> float:
    """Return the seconds of a steady clock, as searches count them."""
    return time.monotonic() / PACE


@contextmanager
def within(seconds: float | None, nodes: float = math.inf) -> Iterator[Patience]:
    """Let all searches made inside take so much together; None sets no end.

    A search that is cut short answers with the best it has found, and how far that may
    be from the best there is; where it has found nothing it fails. What is yielded
    tells whether that happened.
    """
    around = _patience()
    if _TO_THE_END.get():
        seconds, nodes = None, math.inf
    end = math.inf if seconds is None else now() + seconds
    here = Patience(min(end, around.end), min(nodes, around.nodes), around)
    before = _PATIENCE.set(here)
    try:
        yield here
    finally:
        _PATIENCE.reset(before)


@contextmanager
def to_the_end() -> Iterator[None]:
    """Let searches made inside take as long as they need, whatever `within` says."""
    before = _TO_THE_END.set(True)
    try:
        yield
    finally:
        _TO_THE_END.reset(before)


def left() -> float:
    """Return the seconds that are left for searches; infinite where no end is set."""
    return _patience().end - now()


def searched(
    solver: Any,  # noqa: ANN401 - a HiGHS object, or its C++ part
    most: float = math.inf,
) -> bool:
    """Run a solver on a question with whole numbers, in what is left for searches.

    Parameters
    ----------
    most : float
        Nodes that this search may take, whatever is left.

    Returns
    -------
    bool
        Whether it came to its own end, not to that of nodes or of time. One that has
        had its ``most`` is no search cut short: it can be begun again.
    """
    patience, seconds = _patience(), left()
    if patience.nodes < 1.0:
        seconds = 0.0
    if math.isfinite(seconds):
        limit = solver.getRunTime() + max(seconds, LEAST) * PACE
        solver.setOptionValue("time_limit", limit)
    nodes = max(1.0, min(patience.nodes, MOST_NODES))
    solver.setOptionValue("mip_max_nodes", int(min(nodes, most)))
    # The thread that searches has had no other number of threads for the solver.
    _, usual = solver.getOptionValue("threads")
    solver.setOptionValue("threads", 1)
    # It lets go of Python while it works, and looks at its time limit on the way.
    done, failed = Event(), list[BaseException]()
    _worker().put((super(highspy.Highs, solver).run, done, failed))
    try:
        while not done.wait(LISTENS):
            pass
        for error in failed:
            raise error
    except BaseException:
        solver.setOptionValue("time_limit", 0.0)
        if not done.wait(ENDS):
            _waiting.clear()  # the next search gets a thread of its own
        raise
    finally:
        solver.setOptionValue("time_limit", math.inf)
        solver.setOptionValue("threads", usual)
    kinds = highspy.HighsModelStatus
    status = solver.getModelStatus()
    ended = status not in {kinds.kTimeLimit, kinds.kSolutionLimit}
    again = status == kinds.kSolutionLimit and most < nodes
    taken = max(0, int(solver.getInfo().mip_node_count))
    patience.used(taken, cut=not ended and not again)
    return ended


def _worker() -> SimpleQueue[_Job]:
    """Return where the one thread that searches takes its jobs from.

    It never ends: the solver keeps something for each thread, and takes it down badly
    where a thread ends while the program does.
    """
    if not _waiting:
        jobs: SimpleQueue[_Job] = SimpleQueue()
        try:
            Thread(target=_work, args=(jobs,), daemon=True).start()
        except RuntimeError as error:  # there is no room for another thread
            raise MemoryError from error
        _waiting.append(jobs)
    return _waiting[0]


def _work(jobs: SimpleQueue[_Job]) -> None:
    while True:
        run, done, failed = jobs.get()
        try:
            run()
        except BaseException as error:  # told to the one who waits
            failed.append(error)
        finally:
            done.set()
