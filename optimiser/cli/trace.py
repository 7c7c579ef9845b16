"""``optimiser trace``: from a unit or a batch to its lots, and from a lot onwards."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.cli.bookkeeping import place_of_workshop
from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import (
    AsJson,
    Full,
    show,
)

__all__ = ["trace"]


def trace(
    name: Annotated[str, typer.Argument(help="A batch, a unit (BATCH/7) or a lot.")],
    workshop: Annotated[
        str | None, typer.Option("--workshop", help="Whose book; else as remembered.")
    ] = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Say which lots are in a unit or batch, or where a lot went.

    Example: optimiser trace 2026-11-26-1/7
    """
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting.bench import tracing as shown  # noqa: PLC0415
    from optimiser.workshop import tracing  # noqa: PLC0415

    place = place_of_workshop(workshop)
    found = tracing.trace(place.book(), place.catalogue(lenient=True), name)
    if json:
        say(as_json(shown.trace_data(found)))
    else:
        show(shown.trace_page(found, full=full))
    raise typer.Exit(ANSWERED)
