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
        _load_plainly()
        from optimiser.cli.starting import main as run  # noqa: PLC0415

        run(arguments)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception as error:
        if not lacks_memory(error):
            raise
        sys.stderr.write(f"{NO_MEMORY}.\n  To fix: {CLOSE}.\n")
        sys.exit(ATTENTION)


def _load_plainly() -> None:
    """Load msgspec without a library of typing that it does as well without.

    What it takes from there Python has itself, and all else that there is takes a
    fortieth of a short run to load. Whoever asks for that library later gets it.
    """
    name = "typing_extensions"
    loaded = sys.modules.get(name)
    if loaded is None:
        sys.modules[name] = None  # type: ignore[assignment] # as if not installed
    try:
        import msgspec  # noqa: F401, PLC0415
    finally:
        if loaded is None:
            del sys.modules[name]


def lacks_memory(error: BaseException) -> bool:
    """Whether something failed, or could not be loaded, for want of memory."""
    if isinstance(error, (MemoryError, OSError)):
        return isinstance(error, MemoryError) or error.errno == errno.ENOMEM
    unloaded = isinstance(error, ImportError)
    return unloaded and any(each in str(error) for each in UNLOADED)
