"""``optimiser pour``: until when to stir, when to add what, when to pour."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.making import formula_made
from optimiser.cli.running import ANSWERED, say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


__all__ = ["pour"]

LEAST_ROOM, MOST_ROOM = -10.0, 45.0


def pour(
    formula: Annotated[
        Path,
        typer.Argument(help="Formula file, or a scenario whose answer is poured."),
    ],
    depth: Annotated[
        float, typer.Option("--depth", help="Depth of the mould, mm.", min=1.0)
    ] = 30.0,
    room: Annotated[
        float,
        typer.Option(
            "--room", help="Room, degrees Celsius.", min=LEAST_ROOM, max=MOST_ROOM
        ),
    ] = 20.0,
    workshop: Annotated[
        str | None,
        typer.Option("--workshop", help="Use this workshop's own figures too."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Say how far to stir, when to add scent, when to pour.

    Example: optimiser pour scenarios/foot_scrub_bar.toml
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.cli.studying import show_clash  # noqa: PLC0415
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import pouring_text as shown  # noqa: PLC0415
    from optimiser.science.melting import Kitchen, solids  # noqa: PLC0415
    from optimiser.workshop.pouring import pouring_advice  # noqa: PLC0415

    made = formula_made(formula, workshop)
    if isinstance(made, explaining.Clash):
        raise typer.Exit(show_clash(made, json))
    title, amounts, catalogue = made

    def solids_at(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return solids(amounts, at, catalogue)

    unknown = Kitchen(tuple(amounts), catalogue).unknown
    found = pouring_advice(
        amounts,
        catalogue,
        solids_at,
        title=title,
        depth_mm=depth,
        room=room,
        left_out=tuple(catalogue.ingredients[key].name for key in unknown),
    )
    if json:
        say(as_json(shown.pouring_data(found)))
    else:
        say(shown.pouring_report(found))
    raise typer.Exit(ANSWERED)
