"""``optimiser check``: a formula held against a scenario's rules."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, say

__all__ = ["check"]


def check(
    formula: Annotated[
        Path,
        typer.Argument(
            help="Formula file (CSV): ingredient,percent or ingredient,grams."
        ),
    ],
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    full: Annotated[bool, typer.Option("--full", help="Everything there is.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Say whether a formula keeps every rule of a scenario.

    A formula is a table whose first line is ingredient,percent or ingredient,grams;
    then a line an ingredient, such as: cocoa butter,60

    Example: optimiser check my_formula.csv scenarios/massage_bar.toml
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.reading import read_formula, read_scenario  # noqa: PLC0415

    asked, catalogue = read_scenario(scenario)
    result = explaining.check(read_formula(formula, catalogue), asked, catalogue)
    if json:
        say(presenting.as_json(presenting.checked_data(result)))
    else:
        page = presenting.check_page(result, catalogue.sources, full=full)
        say(presenting.as_text(page))
    good = result.status == "kept" and not result.missing
    raise typer.Exit(ANSWERED if good else ATTENTION)
