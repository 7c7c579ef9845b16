"""``optimiser fats``: how much of the fat is solid, from a cool room to a hot day."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    formula_made,
    refuse_page_file,
    show_clash,
    show_result,
)

__all__ = ["fats"]

COLDEST, HOTTEST = 10.0, 45.0


def fats(
    formula: Annotated[
        Path,
        typer.Argument(help="Formula file, or a scenario whose answer is looked at."),
    ],
    step: Annotated[
        float, typer.Option("--step", help="Kelvin between lines.", min=0.5, max=35.0)
    ] = 2.5,
    workshop: Annotated[
        str | None,
        typer.Option("--workshop", help="Use this workshop's own figures too."),
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Show how much of the fat is solid, 10 to 45 degrees.

    Example: optimiser fats scenarios/massage_bar_hot.toml
    """
    import numpy as np  # noqa: PLC0415

    from optimiser import explaining  # noqa: PLC0415
    from optimiser.explaining.solid_fat import solid_fat_curve  # noqa: PLC0415
    from optimiser.presenting import fats as shown  # noqa: PLC0415

    refuse_page_file(out, formula)
    made = formula_made(formula, workshop)
    if isinstance(made, explaining.Clash):
        raise typer.Exit(show_clash(made, json, out=out))
    title, amounts, catalogue = made
    at = np.arange(COLDEST, HOTTEST + 1e-9, step).tolist()
    curve = solid_fat_curve(title, amounts, catalogue, at)
    show_result(curve, shown.fats_data, shown.fats_page, full=full, json=json, out=out)
    raise typer.Exit(ANSWERED)
