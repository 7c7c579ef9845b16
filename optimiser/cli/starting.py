"""A run from arguments to exit code; the one place where failures become words."""

from __future__ import annotations

import atexit
import errno
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from functools import cache
from typing import NoReturn

from optimiser.cli import CLOSE, NO_MEMORY, lacks_memory
from optimiser.cli.answering import Plain, answered, plain_question
from optimiser.cli.running import (
    ANSWERED,
    ATTENTION,
    lenient_streams,
    tell,
    tell_problems,
    unwritten,
)
from optimiser.errors import InputError, Problem, ProofError

__all__ = ["main"]

LEAST_ROOM = 110 << 20  # bytes: what loading NumPy takes, and what comes before it
M_ARENA_MAX = -8  # of glibc's malloc.h
FULL = {errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EBADF}


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit code; never with a traceback.

    Parameters
    ----------
    arguments : sequence of str, optional
        By default those that the program was started with.
    """
    # A run is short and its matrices small: no collecting of garbage, no search for
    # plugins, no threads for linear algebra (decision 12).
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    given = list(sys.argv[1:] if arguments is None else arguments)
    code = ANSWERED
    plain: Plain | None = None
    try:
        lenient_streams()
        _within_limits()
        _deaf_to_libraries()
        plain = plain_question(given)
        if plain is None:
            from optimiser.cli.commands import parsed  # noqa: PLC0415

            parsed(given)
        else:
            code = answered(plain)
    except SystemExit:
        if not type(sys.stdout).__name__.endswith("PacifyFlushWrapper"):
            raise  # else whoever read the help has gone away, which is no error
    except Exception as error:
        if "OPTIMISER_TRACEBACK" in os.environ:
            raise
        code = _told(error, as_json="--json" in given)
    finally:
        gc.freeze()  # nothing is collected on the way out either
    if arguments is None and plain is not None:
        _leave(code)
    sys.exit(code)


def _leave(code: int) -> NoReturn:
    """End the program at once; what it holds is given back by the system as a whole.

    To take down modules and values one by one takes a thirtieth of a short run. What
    others have asked to be done at the end is done.
    """
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):  # there may be none
            stream.flush()
    os._exit(code)


def _within_limits() -> None:
    """Let all threads share one heap where the memory of a process is limited.

    The C library of Linux sets room aside for a heap of each thread that works. Where
    a limit leaves no room for that, it asks the system for every small piece by
    itself, and a search takes fifty times as long (``mallopt`` of glibc). With less
    than the libraries need one of them would end the program as it is loaded.

    Raises
    ------
    MemoryError
        If there is not even room to load what every command needs.
    """
    if sys.platform != "linux":
        return
    import resource  # noqa: PLC0415 - not on every system

    if resource.getrlimit(resource.RLIMIT_AS)[0] == resource.RLIM_INFINITY:
        return
    import ctypes  # noqa: PLC0415 - seldom needed
    import mmap  # noqa: PLC0415 - seldom needed

    with suppress(AttributeError, OSError):  # another C library has no such thing
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)
    try:
        mmap.mmap(-1, LEAST_ROOM).close()
    except OSError as error:
        raise MemoryError from error


@cache
def _deaf_to_libraries() -> None:
    """Let what libraries print by themselves go nowhere: an answer is read by programs.

    HiGHS 1.16 prints a line of its own in some searches, told to be silent or not. What
    this program says does not go through the C library. Only glibc's stream can be
    put elsewhere.
    """
    if sys.platform != "linux":
        return
    import ctypes  # noqa: PLC0415 - NumPy needs it, but help does not

    library = ctypes.CDLL(None)
    if not hasattr(library, "gnu_get_libc_version"):
        return
    library.fopen.restype = ctypes.c_void_p
    nowhere = library.fopen(os.devnull.encode(), b"w")
    if nowhere:
        ctypes.c_void_p.in_dll(library, "stdout").value = nowhere


def _told(error: Exception, as_json: bool) -> int:
    """Tell a failure in words and return the exit code."""
    if isinstance(error, OSError) and error.filename is None and error.errno in FULL:
        error = unwritten(error)  # help and usage are written past say()
    problems = error.problems if isinstance(error, InputError) else [_problem(error)]
    if lacks_memory(error) and not as_json:  # what tells it well has to be loaded
        tell(str(problems[0]))
        return ATTENTION
    try:
        tell_problems(problems, as_json)
    except (ImportError, MemoryError):  # not even enough to tell it well
        tell(str(problems[0]))
    return ATTENTION


def _problem(error: Exception) -> Problem:
    """Return what went wrong as a problem with a way forward."""
    if lacks_memory(error):
        return Problem(NO_MEMORY, fix=CLOSE)
    if isinstance(error, OSError):
        file = None if error.filename is None else str(error.filename)
        return Problem(error.strerror or str(error), file=file)
    report = "please report this as a bug, with the files and the command you used"
    if isinstance(error, ProofError):
        wrong = f"the answer did not pass its own check, so it is not shown ({error})"
        return Problem(wrong, fix=report)
    wrong = f"something went wrong inside the program ({type(error).__name__}: {error})"
    return Problem(wrong, fix=report)
