"""The command line: reads arguments, calls the rest, chooses the exit code.

Nothing is imported here before something is asked for; each command imports what it
needs when it runs, so that help appears at once.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import NoReturn

__all__ = ["main"]

INTERRUPTED = 130


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
