"""``optimiser tradeoff``: what more of one aim costs in another."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import (
    refuse_the_same_file,
    refuse_to_write_twice,
    show_clash,
    write,
)

__all__ = ["tradeoff"]

BETWEEN = ("cost", "change")


def tradeoff(
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    between: Annotated[
        tuple[str, str],
        typer.Option("--between", help="Two aims, or an aim and a property."),
    ] = BETWEEN,
    written: Annotated[
        tuple[str, Path] | None,
        typer.Option(
            "--write",
            help="A point (letter, elbow, or number), and a .csv or .toml for it.",
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Also write the curve here.")
    ] = None,
) -> None:
    """Draw the curve of cost against change, or of any two aims.

    Example: optimiser tradeoff scenarios/massage_bar.toml --write elbow bar.csv
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.scenario_text import point_scenario  # noqa: PLC0415
    from optimiser.presenting.studies import tradeoff as shown  # noqa: PLC0415
    from optimiser.presenting.studies.common import (  # noqa: PLC0415
        MADE_COLUMNS,
        made_csv,
    )
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.studies import tradeoff as study  # noqa: PLC0415

    point, file = (None, None) if written is None else written
    refuse_the_same_file(csv, scenario)
    as_scenario = file is not None and file.suffix.casefold() == ".toml"
    refuse_the_same_file(file, scenario, columns=None if as_scenario else MADE_COLUMNS)
    refuse_to_write_twice(csv, file)
    asked, catalogue = read_scenario(scenario)
    columns = shown.curve_columns(*study.axes_of(between, asked, catalogue))
    refuse_the_same_file(csv, columns=columns)
    found = study.tradeoff(asked, catalogue, between, point)
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv))
    if json:
        say(presenting.as_json(shown.tradeoff_data(found)))
    else:
        say(shown.tradeoff_report(found))
    write(csv, shown.tradeoff_csv(found), columns)
    if found.chosen is not None and file is not None:
        made = found.chosen[1]
        if as_scenario:
            extends = Path(os.path.relpath(scenario.resolve(), file.resolve().parent))
            title = f"{asked.title}, {point} of its trade-off"
            write(
                file,
                point_scenario(extends.as_posix(), title, made, asked, catalogue),
                encoding="utf-8",
            )
        else:
            write(file, made_csv(made))
    raise typer.Exit(ANSWERED)
