"""``optimiser stock``: what can be made today from the shelf."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, tell
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    ScenarioFile,
    quantity_kg,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)

__all__ = ["stock"]


def stock(  # noqa: PLR0917 - one a question
    scenario: ScenarioFile,
    unit: Annotated[
        str | None, typer.Option("--unit", help='Net weight of one unit, as in "60 g".')
    ] = None,
    loss: Annotated[
        float, typer.Option("--loss", help="Percent that stays in the pot.")
    ] = 0.0,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write what to take (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Say how much the shelf makes, and from which lots.

    Example: optimiser stock scenarios/massage_bar.toml --unit "60 g"
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.stock import (  # noqa: PLC0415
        missing_told,
        stock_page,
    )
    from optimiser.studies import stock as study  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=tables.STOCK)
    refuse_page_file(out, scenario)
    unit_kg = None if unit is None else quantity_kg(unit, "--unit", "60 g")
    asked, catalogue = kept_scenario(scenario)
    found = study.stock(asked, catalogue, unit_kg, loss)
    if isinstance(found, Clash):
        lacking = study.missing(asked, catalogue)
        first = [] if lacking is None else list(missing_told(lacking, found.file))
        raise typer.Exit(
            show_clash(
                found, json, csv, as_asked=False, out=out, first=first, full=full
            )
        )
    show_result(found, data.stock_data, stock_page, full=full, json=json, out=out)
    if found.formula is None:
        if csv is not None:
            tell(f"{presenting.clean(csv)}: not written, for nothing can be made.")
        raise typer.Exit(ATTENTION)
    write(csv, tables.stock_sheet(found))
    raise typer.Exit(ANSWERED)
