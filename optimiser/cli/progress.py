"""A bar on stderr for runs that take longer than a moment."""

from __future__ import annotations

import sys
import time

__all__ = ["Bar"]

WIDTH = 30
WAIT, PAUSE = 0.7, 0.1  # seconds before the first sight, and between two


class Bar:
    """How much is done, on one line of a terminal; nothing where there is none.

    Parameters
    ----------
    what : str
        What is counted, in a word.
    keeps : bool
        Whether what is done is shown when the keyboard ends it.
    """

    def __init__(self, what: str, *, keeps: bool = True) -> None:
        self._what = what
        self._end = "keeps them" if keeps else "ends it"
        self._shows = sys.stderr.isatty()
        self._next = time.monotonic() + WAIT
        self._drawn = False

    def __call__(self, done: int, of: int) -> None:
        """Show that so many are done."""
        now = time.monotonic()
        if not self._shows or now < self._next:
            return
        self._next = now + PAUSE
        self._drawn = True
        full = WIDTH * done // max(1, of)
        bar = "#" * full + "." * (WIDTH - full)
        sys.stderr.write(f"\r{bar} {done} of {of} {self._what}, Ctrl-C {self._end}")
        sys.stderr.flush()

    def close(self) -> None:
        """Take the bar away."""
        if self._drawn:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()
