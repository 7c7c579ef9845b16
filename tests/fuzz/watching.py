"""What must hold of a run on any file: an answer or a message, soon, and no more."""

import gc
import signal
import sys
import threading
import unicodedata
from contextlib import contextmanager

from optimiser.cli import main
from optimiser.errors import InputError

SECONDS = 20  # of the processor: far above what any of these small files takes
CODES = {0, 1, 2, 3}
INSIDE = "something went wrong inside the program"
PROOF = "did not pass its own check"
UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn"}


def unseen(text):
    """Return the signs of a text that are not seen, but for the ends of lines."""
    return {x for x in text if x != "\n" and unicodedata.category(x) in UNSEEN}


class HangError(BaseException):
    """A run took longer than any of these files may take."""


@contextmanager
def no_hang(seconds=SECONDS):
    """Raise where what runs inside does not end; elsewhere than on POSIX, let it."""
    if sys.platform == "win32" or threading.current_thread().name != "MainThread":
        yield
        return

    def stop(*_):
        raise HangError

    # The second one is for what waits and does nothing, as on a pipe.
    timers = (
        (signal.SIGPROF, signal.ITIMER_PROF, seconds),
        (signal.SIGALRM, signal.ITIMER_REAL, 10 * seconds),
    )
    before = [signal.signal(number, stop) for number, _, _ in timers]
    for _, timer, length in timers:
        signal.setitimer(timer, length)
    try:
        yield
    finally:
        for (number, timer, _), handler in zip(timers, before, strict=True):
            signal.setitimer(timer, 0)
            signal.signal(number, handler)


def problems_of(read):
    """Return the problems that reading ends in; whatever else is raised goes on."""
    with no_hang():
        try:
            read()
        except InputError as error:
            for each in error.problems:
                assert str(each)
                assert each.wrong.strip()
            return error.problems
    return ()


def run(arguments, capsys):
    """Return exit code, output and messages of a run that breaks nothing."""
    with no_hang():
        try:
            main([str(each) for each in arguments])
        except SystemExit as left:
            code = left.code
        finally:
            gc.enable()  # one test makes many runs
    told = capsys.readouterr()
    assert code in CODES
    for text in (told.out, told.err):
        assert "Traceback" not in text
        assert INSIDE not in text
        assert PROOF not in text
        assert not unseen(text), "steers a terminal"
    assert code in {0, 3} or told.err.strip() or told.out.strip()
    return code, told.out, told.err
