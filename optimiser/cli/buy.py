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
    Thorough,
    of_size,
    quantity_kg,
    refuse_the_same_file,
)
from optimiser.errors import InputError, Problem

__all__ = ["buy"]


def buy(  # noqa: PLR0913, PLR0917 - one a question
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    batch: Batch = None,
    units: Annotated[
        int | None, typer.Option("--units", min=1, max=1_000_000, help="How many.")
    ] = None,
    net: Annotated[
        str | None, typer.Option("--net", help='Net weight of one, as in "60 g".')
    ] = None,
    overfill: Annotated[
        float, typer.Option("--overfill", help="Percent that each is filled over.")
    ] = 0.0,
    loss: Annotated[
        float, typer.Option("--loss", help="Percent that stays in the pot.")
    ] = 0.0,
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
    """Say which packs to buy for one product, and which lots it uses.

    Example: optimiser buy scenarios/massage_bar.toml --units 24 --net "60 g"
    """
    from optimiser.domain import plan  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.plans import mixed_for  # noqa: PLC0415

    refuse_the_same_file(csv, scenario)
    net_kg = None if net is None else quantity_kg(net, "--net", "60 g")
    _check(batch, units, net_kg, overfill, loss, within)
    asked, catalogue = read_scenario(scenario)
    asked = of_size(asked, batch)
    kg = asked.batch_kg
    if units is not None and net_kg is not None:
        kg = mixed_for(units, net_kg, overfill, loss)
    _need_a_workshop(asked.workshop)
    today = date.today()
    made = plan.Batch(kg, today, units, net_kg)
    moves = reformulate or within is not None or written is not None
    product = plan.Product(asked, (made,), moves, within, str(scenario))
    whole = plan.Plan(asked.title, asked.file, today, (product,), catalogue)
    targets = {} if written is None else {0: written}
    answer(whole, targets, csv, thorough=thorough, full=full, json=json)


def _check(
    batch: str | None,
    units: int | None,
    net_kg: float | None,
    overfill: float,
    loss: float,
    within: float | None,
) -> None:
    """Say all that is wrong with the options."""
    problems = []

    def say(option: str, wrong: str, fix: str, found: object = None) -> None:
        told = None if found is None else f"{found:g}"
        problems.append(Problem(wrong, field=option, found=told, fix=fix))

    if (units is None) != (net_kg is None):
        option = "--net" if net_kg is None else "--units"
        fix = 'give both, as in --units 24 --net "60 g"'
        say(option, "is missing beside the other", fix)
    if units is not None and batch is not None:
        say("--batch", "stands beside --units", "give one of the two")
    if net_kg is not None and not 1e-4 * (1 - 1e-9) <= net_kg <= 1e3 * (1 + 1e-9):
        fix = 'give one from 0.1 g to 1000 kg, as in "60 g"'
        say("--net", "is no weight of one unit", fix)
    for option, value, most in (("--overfill", overfill, 100), ("--loss", loss, 90)):
        if not 0 <= value <= most:
            say(option, "is out of range", f"give a percentage from 0 to {most}", value)
        elif value and units is None:
            fix = "leave it out, or give --units and --net"
            say(option, "is for units, which are not told", fix, value)
    if within is not None and not 0 <= within <= 100:
        fix = "give a percentage from 0 to 100"
        say("--within", "is out of range", fix, within)
    if problems:
        raise InputError(problems)


def _need_a_workshop(name: str) -> None:
    """Say so where nobody told whose packs and lots are meant."""
    if not name:
        fix = 'write workshop = "demo" above the first [table] of the scenario'
        wrong = "names no workshop, and packs and lots come from it"
        raise InputError([Problem(wrong, field="workshop", fix=fix)])
