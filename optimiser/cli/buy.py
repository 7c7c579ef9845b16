"""``optimiser buy``: what to buy for one product."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.plan import answer
from optimiser.cli.studying import (
    Batch,
    Full,
    Loss,
    Net,
    Overfill,
    Thorough,
    Units,
    mass_or_none,
    refuse_the_same_file,
)
from optimiser.errors import InputError, Problem

__all__ = ["buy"]


def buy(  # noqa: PLR0913, PLR0917 - one a question
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    batch: Batch = None,
    units: Units = None,
    net: Net = None,
    loss: Loss = None,
    overfill: Overfill = None,
    reformulate: Annotated[
        bool,
        typer.Option("--reformulate", help="The formula may move inside its rules."),
    ] = False,
    within: Annotated[
        float | None,
        typer.Option("--within", help="Percent of the formula that may be different."),
    ] = None,
    thorough: Thorough = False,
    full: Full = False,
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Also write the shopping list here.")
    ] = None,
    written: Annotated[
        Path | None,
        typer.Option("--write", help="Scenario file for the formula that moved."),
    ] = None,
) -> None:
    """Say which packs to buy for one product, and which lots go in.

    Example: optimiser buy scenarios/massage_bar.toml --units 24 --net "60 g"
    """
    from optimiser.domain import plan  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.bench import read_bench  # noqa: PLC0415
    from optimiser.workshop.density import Density  # noqa: PLC0415
    from optimiser.workshop.sizes import SizeAsked, size_of  # noqa: PLC0415

    refuse_the_same_file(csv, scenario)
    net_kg = mass_or_none(net, "--net", "60 g")
    batch_kg = mass_or_none(batch, "--batch", "5 kg")
    asked, catalogue = read_scenario(scenario)
    _need_a_workshop(asked.workshop)
    bench = read_bench(scenario, asked.workshop)
    problems = _out_of_range(within)
    try:
        size = size_of(
            SizeAsked(units, net_kg, batch_kg, None, loss, overfill),
            bench,
            Density(0.0, 0.0, 0.0),  # is asked for moulds alone
            asked.batch_kg,
        )
    except InputError as error:
        raise InputError([*error.problems, *problems]) from error
    if problems:
        raise InputError(problems)
    today = date.today()
    made = plan.Batch(size.kg, today, size.units, size.net_kg)
    moves = reformulate or within is not None or written is not None
    product = plan.Product(asked, (made,), moves, within, str(scenario))
    whole = plan.Plan(asked.title, asked.file, today, (product,), catalogue)
    targets = {} if written is None else {0: written}
    answer(whole, targets, csv, thorough=thorough, full=full, json=json)


def _out_of_range(within: float | None) -> list[Problem]:
    """Return what is wrong with the option --within, if something is."""
    if within is None or 0 <= within <= 100:
        return []
    fix = "give a percentage from 0 to 100"
    wrong, found = "is out of range", f"{within:g}"
    return [Problem(wrong, field="--within", found=found, fix=fix)]


def _need_a_workshop(name: str) -> None:
    """Say so where nobody told whose packs and lots are meant."""
    if not name:
        fix = 'write workshop = "demo" above the first [table] of the scenario'
        wrong = "names no workshop, and packs and lots come from it"
        raise InputError([Problem(wrong, field="workshop", fix=fix)])
