"""The command line: reads arguments, calls the rest, chooses the exit code.

Only typer is imported here; each command imports what it needs when it runs, so
that help appears at once.
"""

from optimiser.cli.commands import app, main

__all__ = ["app", "main"]
