"""``optimiser batch``: what to weigh, when, at what temperature."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, tell
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
    quantity_kg,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)
from optimiser.errors import InputError, Problem

__all__ = ["batch"]

LEAST_DENSITY, MOST_DENSITY = 0.1, 5.0  # g/ml
LEAST_STEP, MOST_STEP = 1e-6 * (1 - 1e-9), 1.0 * (1 + 1e-9)  # kg


def batch(  # noqa: PLR0913, PLR0917 - each is an option of the command
    scenario: ScenarioFile,
    units: Units = None,
    net: Net = None,
    mould: MouldName = None,
    batch: Batch = None,
    loss: Loss = None,
    overfill: Overfill = None,
    spread: Spread = None,
    density: Annotated[
        str | None,
        typer.Option("--density", help='What you measured, as in "0.95 g/ml".'),
    ] = None,
    readability: Annotated[
        str | None,
        typer.Option("--readability", help='Step of another scale, as in "0.01 g".'),
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write what to weigh (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Say what to weigh, stage by stage, on your own scale.

    Example: optimiser batch scenarios/massage_bar.toml --units 24 --net "60 g"
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.bench import batch as shown  # noqa: PLC0415
    from optimiser.reading.bench import read_bench  # noqa: PLC0415
    from optimiser.workshop.batch import batch_sheet  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=shown.COLUMNS)
    refuse_page_file(out, scenario)
    made = Wanted.of(units, net, batch, mould, loss, overfill, spread)
    own_density = None if density is None else _density(density)
    step = None if readability is None else _step(readability)
    asked, catalogue = kept_scenario(scenario)
    bench = read_bench(scenario, asked.workshop)
    wanted = made.asked(scenario, asked, bench)
    found = batch_sheet(
        asked, catalogue, bench, wanted, density=own_density, readability=step
    )
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv, out=out))
    show_result(
        found, shown.batch_data, shown.batch_page, full=full, json=json, out=out
    )
    if found.weighing.lines:
        write(csv, shown.weighing_sheet(found))
    elif csv is not None:
        tell(f"{presenting.clean(csv)}: not written, for nothing can be weighed.")
    raise typer.Exit(ANSWERED if found.weighing.kept else ATTENTION)


def _step(text: str) -> float:
    """Return the step of a scale, [kg]."""
    step = quantity_kg(text, "--readability", "0.01 g")
    if not LEAST_STEP <= step <= MOST_STEP:
        fix = 'give one from 0.001 g to 1 kg, as in "0.01 g"'
        problem = Problem(
            "is no step of a scale", field="--readability", found=text, fix=fix
        )
        raise InputError([problem])
    return step


def _density(text: str) -> float:
    """Return a measured density, [kg/m^3]; a plain number is in g/ml."""
    from optimiser.reading.cells import read_quantity, to_number  # noqa: PLC0415

    number = to_number(text.strip())
    try:
        found = (
            read_quantity(text, "kg/m^3", "0.95 g/ml")
            if number is None
            else number * 1e3
        )
    except ValueError:  # told below
        found = 0.0
    if not LEAST_DENSITY * 1e3 <= found <= MOST_DENSITY * 1e3:
        fix = 'give grams a millilitre, as in "0.95 g/ml"'
        problem = Problem("is no density", field="--density", found=text, fix=fix)
        raise InputError([problem])
    return found
