"""``optimiser substitute``: the closest formula without something."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.begin import begins_from
from optimiser.cli.running import ANSWERED, tell
from optimiser.cli.studying import (
    AsJson,
    Batch,
    Full,
    Out,
    ScenarioFile,
    of_size,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)

__all__ = ["substitute"]

MOST_OTHERS = 5  # that are named


def substitute(  # noqa: PLR0913, PLR0917 - each is an option of the command
    scenario: ScenarioFile,
    without: Annotated[
        list[str],
        typer.Option(
            "--without",
            help='Ingredient, category or allergen that must go; "a, b" too.',
        ),
    ],
    also: Annotated[
        list[str] | None,
        typer.Option("--with", help="Ingredient that may come in as well."),
    ] = None,
    batch: Batch = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write base and formula (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Find the closest formula without an ingredient.

    Example: optimiser substitute scenarios/massage_bar.toml --without "almond oil"
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.substitute import substitute_page  # noqa: PLC0415
    from optimiser.presenting.words import listed  # noqa: PLC0415
    from optimiser.studies import substitute as study  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=tables.SUBSTITUTE)
    refuse_page_file(out, scenario)
    asked, catalogue = kept_scenario(scenario)
    asked = of_size(asked, batch)
    found = study.substitute(asked, catalogue, without, also or ())
    if isinstance(found, Clash):
        code = show_clash(found, json, csv, as_asked=False, out=out)
        if others := study.kept_out(asked, catalogue, without, also or ()):
            told = listed(others, most=MOST_OTHERS)
            tell(f'[only] keeps out what is like it: {told}; --with "{others[0]}"')
        if lacking := study.unpriced(asked, catalogue, without, also or ()):
            told = listed(lacking, most=MOST_OTHERS)
            tell(f"left out for want of a price: {told}; add a row to prices.csv")
        raise typer.Exit(code)
    page = partial(substitute_page, begins=begins_from(Path("FILE"), scenario, asked))
    show_result(found, data.substitute_data, page, full=full, json=json, out=out)
    write(csv, tables.substitute_sheet(found))
    raise typer.Exit(ANSWERED)
