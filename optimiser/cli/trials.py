"""``optimiser trials``: which test bars to pour next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import (
    AsJson,
    Bar,
    Full,
    Out,
    ScenarioFile,
    keep_pages,
    refuse_page_file,
    refuse_the_same_file,
    show,
    show_clash,
    write,
)
from optimiser.errors import InputError, Problem

__all__ = ["trials"]


def trials(  # noqa: PLR0913, PLR0917 - one a question
    scenario: ScenarioFile,
    bars: Annotated[int, typer.Option("--bars", help="How many bars to pour.")] = 4,
    shelf: Annotated[
        bool, typer.Option("--shelf", help="Of nothing but what is on the shelf.")
    ] = False,
    table: Annotated[
        Path | None,
        typer.Option("--write", help="Write the table to fill in for calibrate."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Start of the tries.")] = 1,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Say which test bars would tell most of your scenario.

    Example: optimiser trials scenarios/massage_bar.toml --bars 4 --write trials.csv
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting import trials as shown  # noqa: PLC0415
    from optimiser.studies.trials import trials as study  # noqa: PLC0415

    refuse_the_same_file(table, scenario)
    refuse_page_file(out, scenario)
    _refuse_what_may_be_filled_in(table)
    asked, catalogue = kept_scenario(scenario, calibrated=False)
    bar = Bar("steps", keeps=False)
    found = study(asked, catalogue, bars, shelf=shelf, seed=seed, progress=bar)
    bar.close()
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, out=out))
    written = None if table is None else str(table)
    write(table, shown.trials_sheet(found), columns=shown.TRIALS, encoding="utf-8")
    if json:
        say(presenting.as_json(shown.trials_data(found, written)))
    else:
        show(shown.trials_page(found, written, full=full))
    if out is not None:
        keep_pages(out, shown.trials_page(found, written, full=True))
    raise typer.Exit(ANSWERED)


def _refuse_what_may_be_filled_in(table: Path | None) -> None:
    """Say so where a table is there already: verdicts in it would be lost."""
    if table is not None and table.is_file() and table.stat().st_size:
        wrong = "is there already, and what is filled in would be lost"
        fix = "give another name, or remove the file first"
        raise InputError([Problem(wrong, file=str(table), fix=fix)])
