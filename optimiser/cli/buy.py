"""``optimiser buy``: what to buy for one product."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.plan import answer
from optimiser.cli.sizing import Wanted
from optimiser.cli.studying import (
    AsJson,
    Batch,
    Full,
    Loss,
    MouldName,
    Net,
    Out,
    Overfill,
    ScenarioFile,
    Spread,
    Thorough,
    Units,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
)
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import Clash
    from optimiser.workshop.density import Density
    from optimiser.workshop.sizes import SizeAsked

__all__ = ["buy"]


def buy(  # noqa: PLR0913, PLR0917 - one a question
    scenario: ScenarioFile,
    batch: Batch = None,
    units: Units = None,
    net: Net = None,
    mould: MouldName = None,
    loss: Loss = None,
    overfill: Overfill = None,
    spread: Spread = None,
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
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write the shopping list (.csv or .xlsx)."),
    ] = None,
    written: Annotated[
        Path | None,
        typer.Option("--write", help="Scenario file for the formula that moved."),
    ] = None,
) -> None:
    """Say which packs to buy for one product, and which lots go in.

    Example: optimiser buy scenarios/massage_bar.toml --units 24 --net "60 g"
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.domain import plan  # noqa: PLC0415
    from optimiser.explaining.answer import Clash  # noqa: PLC0415
    from optimiser.reading.bench import read_bench  # noqa: PLC0415
    from optimiser.workshop.sizes import size_of  # noqa: PLC0415

    refuse_the_same_file(csv, scenario)
    refuse_page_file(out, scenario)
    wanted = Wanted.of(units, net, batch, mould, loss, overfill, spread)
    asked, catalogue = kept_scenario(scenario)
    _need_a_workshop(asked.workshop)
    bench = read_bench(scenario, asked.workshop)
    problems = _out_of_range(within)
    try:
        size_asked = wanted.asked(scenario, asked, bench)
        mix = _density(size_asked, asked, catalogue)
        if isinstance(mix, Clash):
            raise typer.Exit(show_clash(mix, json, csv, out=out))
        size = size_of(size_asked, bench, mix, asked.batch_kg)
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
    answer(whole, targets, csv, out, thorough=thorough, full=full, json=json)


def _density(size: SizeAsked, asked: Scenario, catalogue: Catalogue) -> Density | Clash:
    """Return the density of the answer; of none where no cavity is to be filled."""
    from optimiser.explaining import Clash, formulate  # noqa: PLC0415
    from optimiser.workshop.density import Density, mix_density  # noqa: PLC0415

    if size.mould is None or size.mould.net is not None or size.net_kg is not None:
        return Density(0.0, 0.0, 0.0)
    made = formulate(asked, catalogue)
    if isinstance(made, Clash):
        return made
    amounts = {x.ingredient: x.percent for x in made.formula if x.percent > 0.0}
    return mix_density(amounts, catalogue)


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
