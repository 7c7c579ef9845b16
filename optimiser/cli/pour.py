"""``optimiser pour``: until when to stir, when to add what, when to pour."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED
from optimiser.cli.studying import (
    AsJson,
    Batch,
    Full,
    Out,
    formula_made,
    refuse_page_file,
    show_clash,
    show_result,
    spaced,
)
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["pour"]

LEAST_ROOM, MOST_ROOM = -10.0, 45.0
LEAST_DEPTH, MOST_DEPTH = 1.0, 1000.0  # mm


def pour(  # noqa: PLR0913, PLR0917 - each is an option of the command
    formula: Annotated[
        Path,
        typer.Argument(help="Formula file, or a scenario whose answer is poured."),
    ],
    depth: Annotated[
        str, typer.Option("--depth", help='Depth of the mould, mm, or as in "4 cm".')
    ] = "30",
    room: Annotated[
        str, typer.Option("--room", help='Room, deg C, or as in "77 F".')
    ] = "20",
    batch: Batch = None,
    workshop: Annotated[
        str | None,
        typer.Option("--workshop", help="Use this workshop's own figures too."),
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Say how far to stir, when to add scent, when to pour.

    Example: optimiser pour scenarios/foot_scrub_bar.toml
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.presenting import pouring as shown  # noqa: PLC0415
    from optimiser.science.melting import Kitchen, solids  # noqa: PLC0415
    from optimiser.workshop.pouring import pouring_advice  # noqa: PLC0415

    depth_mm, degrees = _depth_mm(depth), _degrees(room)
    refuse_page_file(out, formula)
    made = formula_made(formula, workshop, batch)
    if isinstance(made, explaining.Clash):
        raise typer.Exit(show_clash(made, json, out=out))
    title, amounts, catalogue = made

    def solids_at(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return solids(amounts, at, catalogue)

    unknown = Kitchen(tuple(amounts), catalogue).unknown
    found = pouring_advice(
        amounts,
        catalogue,
        solids_at,
        title=title,
        depth_mm=depth_mm,
        room=degrees,
        left_out=tuple(catalogue.ingredients[key].name for key in unknown),
    )
    show_result(
        found, shown.pouring_data, shown.pouring_page, full=full, json=json, out=out
    )
    raise typer.Exit(ANSWERED)


def _depth_mm(text: str) -> float:
    """Return a depth in mm: a number of them, or a number, a space and a unit."""
    from optimiser.reading.cells import read_quantity, to_number  # noqa: PLC0415

    depth = to_number(text.strip())
    try:
        depth = read_quantity(spaced(text), "mm", "4 cm") if depth is None else depth
    except ValueError:  # told below
        depth = None
    if depth is None or not LEAST_DEPTH <= depth <= MOST_DEPTH:
        fix = (
            f"give millimetres from {LEAST_DEPTH:g} to {MOST_DEPTH:g}, or a number, a"
            ' space and a unit, as in "4 cm"'
        )
        problem = Problem("is no depth of a mould", None, None, "--depth", text, fix)
        raise InputError([problem])
    return depth


_DEGREES = re.compile(
    r"\s*(-?[\d.,]+)\s*(?:deg(?:rees)?|°)?\s*([CF])?\s*", re.IGNORECASE
)


def _degrees(text: str) -> float:
    """Return a temperature in deg C: a number of them, "25 C", "25 degC" or "77 F"."""
    from optimiser.reading.cells import to_number  # noqa: PLC0415

    found = _DEGREES.fullmatch(text)
    room = None if found is None else to_number(found[1])
    if found is not None and room is not None and (found[2] or "C").upper() == "F":
        room = (room - 32.0) / 1.8
    if room is None or not LEAST_ROOM <= room <= MOST_ROOM:
        fix = (
            f"give degrees Celsius from {LEAST_ROOM:g} to {MOST_ROOM:g}, or with their"
            ' unit, as in "25 degC" or "77 F"'
        )
        problem = Problem(
            "is no temperature of a room", None, None, "--room", text, fix
        )
        raise InputError([problem])
    return room
