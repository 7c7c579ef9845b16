"""The command line: reads arguments, calls the rest, chooses the exit code.

Nothing is imported here before something is asked for; each command imports what it
needs when it runs, so that help appears at once.
"""

from __future__ import annotations

import errno
import sys
from collections.abc import Sequence
from typing import NoReturn

__all__ = ["lacks_memory", "main"]

INTERRUPTED, ATTENTION = 130, 1
NO_MEMORY = "there is not enough memory for it"
CLOSE = "close other programs, or ask for fewer ingredients, rules or cases"
# What a library that cannot be loaded for want of memory is refused with.
UNLOADED = ("failed to map segment", "annot allocate memory", "bad_alloc")


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line; Ctrl-C ends it quietly, also while it is loading.

    Parameters
    ----------
    arguments : sequence of str, optional
        By default those that the program was started with.
    """
    try:
        from optimiser.cli.starting import main as run  # noqa: PLC0415

        run(arguments)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception as error:
        if not lacks_memory(error):
            raise
        sys.stderr.write(f"{NO_MEMORY}.\n  To fix: {CLOSE}.\n")
        sys.exit(ATTENTION)


def lacks_memory(error: BaseException) -> bool:
    """Whether something failed, or could not be loaded, for want of memory."""
    if isinstance(error, (MemoryError, OSError)):
        return isinstance(error, MemoryError) or error.errno == errno.ENOMEM
    unloaded = isinstance(error, ImportError)
    return unloaded and any(each in str(error) for each in UNLOADED)
