"""``optimiser robust``: how often every rule is kept, and surer formulas."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION
from optimiser.cli.studying import (
    AsJson,
    Bar,
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

__all__ = ["robust"]


def robust(  # noqa: PLR0913, PLR0917 - one a question
    scenario: ScenarioFile,
    prices: Annotated[
        float, typer.Option("--prices", help="Percent each price may move.")
    ] = 10.0,
    weighing: Annotated[
        str | None,
        typer.Option("--weighing", help="Error of a weighing; else the scale's step."),
    ] = None,
    figures: Annotated[
        bool, typer.Option(help="Let properties vary between low and high.")
    ] = True,
    budget: Annotated[
        list[float] | None,
        typer.Option("--budget", help="Bad figures to be prepared for; may repeat."),
    ] = None,
    draws: Annotated[int, typer.Option("--draws", help="How many tries.")] = 10_000,
    seed: Annotated[int, typer.Option("--seed", help="Start of the tries.")] = 1,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write how each rule fares (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Say how often every rule is kept.

    Example: optimiser robust scenarios/massage_bar.toml --budget 1 --budget 2
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.domain.bench import Scales  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.robust import robust_page  # noqa: PLC0415
    from optimiser.reading.bench import read_scales  # noqa: PLC0415
    from optimiser.studies import robust as study  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=tables.ROBUST)
    refuse_page_file(out, scenario)
    asked, catalogue = kept_scenario(scenario)
    if weighing is None:
        scales = read_scales(scenario, asked.workshop) or Scales(0.0)
    else:
        scales = Scales(quantity_kg(weighing, "--weighing", "0.1 g"))
    doubt = study.Doubt(prices, scales.readability, figures, scales.fine)
    bar = Bar("tries")
    budgets = budget or (0.5, 1.0, 2.0)
    found = study.robust(
        asked, catalogue, doubt, budgets, draws=draws, seed=seed, progress=bar
    )
    bar.close()
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv, out=out))
    show_result(found, data.robust_data, robust_page, full=full, json=json, out=out)
    write(csv, tables.robust_sheet(found))
    raise typer.Exit(ATTENTION if found.stopped else ANSWERED)
