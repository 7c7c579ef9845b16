"""``optimiser robust``: how often a formula stays in spec, and one that bears more."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.progress import Bar
from optimiser.cli.running import ANSWERED, ATTENTION, say
from optimiser.cli.studying import quantity_kg, refuse_the_same_file, show_clash, write

__all__ = ["robust"]


def robust(  # noqa: PLR0913, PLR0917 - one a question
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
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
        typer.Option("--budget", help="Doubts at their worst at once; may repeat."),
    ] = None,
    draws: Annotated[int, typer.Option("--draws", help="How many draws.")] = 10_000,
    seed: Annotated[int, typer.Option("--seed", help="Start of the draws.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Also write how each rule fares here.")
    ] = None,
) -> None:
    """Say how often the formula stays in spec.

    Example: optimiser robust scenarios/massage_bar.toml --budget 1 --budget 2
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.studies import robust as shown  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.workshops import read_scale  # noqa: PLC0415
    from optimiser.studies import robust as study  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=shown.COLUMNS)
    asked, catalogue = read_scenario(scenario)
    if weighing is None:
        kg = read_scale(scenario, asked.workshop).readability or 0.0
    else:
        kg = quantity_kg(weighing, "--weighing", "0.1 g")
    doubt = study.Doubt(prices, kg, figures)
    bar = Bar("draws")
    budgets = budget or (0.5, 1.0, 2.0)
    found = study.robust(
        asked, catalogue, doubt, budgets, draws=draws, seed=seed, progress=bar
    )
    bar.close()
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv))
    if json:
        say(presenting.as_json(shown.robust_data(found)))
    else:
        say(shown.robust_report(found))
    write(csv, shown.robust_csv(found))
    raise typer.Exit(ATTENTION if found.stopped else ANSWERED)
