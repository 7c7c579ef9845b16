"""``optimiser cost``: what a unit costs, and what a price leaves of it."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED
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
    Units,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)
from optimiser.errors import InputError, Problem

__all__ = ["cost"]

MOST_PRICE = 1_000_000


def cost(  # noqa: PLR0913, PLR0917 - each is an option of the command
    scenario: ScenarioFile,
    units: Units = None,
    net: Net = None,
    mould: MouldName = None,
    batch: Batch = None,
    loss: Loss = None,
    overfill: Overfill = None,
    spread: Spread = None,
    price: Annotated[
        str | None, typer.Option("--price", help="What a unit sells for, as in 8.50.")
    ] = None,
    margin: Annotated[
        str | None,
        typer.Option("--margin", help="Percent of the price before tax to be left."),
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write the parts of a unit (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Say what a unit costs, and what a price leaves of it.

    Example: optimiser cost scenarios/massage_bar.toml --units 24 --net "60 g"
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.bench import cost as shown  # noqa: PLC0415
    from optimiser.reading.bench import read_bench  # noqa: PLC0415
    from optimiser.reading.costs import read_costs  # noqa: PLC0415
    from optimiser.workshop.cost import PriceAsked, cost_sheet  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=shown.COLUMNS)
    refuse_page_file(out, scenario)
    wanted = PriceAsked(_price(price), _margin(margin))
    made = Wanted.of(units, net, batch, mould, loss, overfill, spread)
    asked, catalogue = kept_scenario(scenario)
    bench = read_bench(scenario, asked.workshop)
    costs = read_costs(scenario, asked.workshop, catalogue.currency)
    size = made.asked(scenario, asked, bench)
    found = cost_sheet(asked, catalogue, bench, costs, size, wanted)
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv, out=out))
    show_result(found, shown.cost_data, shown.cost_page, full=full, json=json, out=out)
    write(csv, shown.parts_sheet(found))
    raise typer.Exit(ANSWERED)


def _price(text: str | None) -> Decimal | None:
    """Return a price in whole cents."""
    if text is None:
        return None
    found = _number(text)
    if found is not None and 0 < found <= MOST_PRICE and found == round(found, 2):
        return found.quantize(Decimal("0.01"))
    fix = "write it in whole cents with a point, as in 8.50"
    problem = Problem("is no price", field="--price", found=text, fix=fix)
    raise InputError([problem])


def _margin(text: str | None) -> Decimal | None:
    if text is None:
        return None
    found = _number(text.strip().removesuffix("%"))
    if found is not None and 0 <= found < 100:
        return found
    fix = "write how many percent of the price before tax are to be left, as in 60"
    wrong = "is no margin from 0 to below 100"
    raise InputError([Problem(wrong, field="--margin", found=text, fix=fix)])


def _number(text: str) -> Decimal | None:
    try:
        found = Decimal(text.strip())
    except InvalidOperation:
        return None
    return found if found.is_finite() else None
