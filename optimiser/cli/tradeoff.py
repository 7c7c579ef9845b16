"""``optimiser tradeoff``: what more of one aim costs in another."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION
from optimiser.cli.studying import (
    SECONDS,
    AsJson,
    Bar,
    Full,
    Out,
    ScenarioFile,
    Thorough,
    refuse_page_file,
    refuse_the_same_file,
    refuse_to_write_twice,
    show_clash,
    show_result,
    write,
)
from optimiser.errors import InputError, Problem

__all__ = ["tradeoff"]

BETWEEN = ("cost", "change")


def tradeoff(  # noqa: PLR0913, PLR0917 - one a choice
    scenario: ScenarioFile,
    between: Annotated[
        tuple[str, str],
        typer.Option("--between", help="Two aims, or an aim and a property."),
    ] = BETWEEN,
    written: Annotated[
        tuple[str, Path] | None,
        typer.Option(
            "--write",
            help="A point (letter, turn, or number), and a .csv or .toml for it.",
        ),
    ] = None,
    thorough: Thorough = False,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Also write the curve (.csv or .xlsx).")
    ] = None,
) -> None:
    """Draw the curve of cost against change, or of any two aims.

    Example: optimiser tradeoff scenarios/massage_bar.toml --write turn bar.csv
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.scenario_text import point_scenario  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.tradeoff import tradeoff_page  # noqa: PLC0415
    from optimiser.reading.text import seen_from  # noqa: PLC0415
    from optimiser.studies import tradeoff as study  # noqa: PLC0415

    point, file = (None, None) if written is None else written
    refuse_the_same_file(csv, scenario)
    refuse_page_file(out, scenario)
    if file is not None and file.suffix.casefold() not in {".csv", ".toml"}:
        wrong = "is neither a table nor a scenario"
        fix = "end its name in .csv for the formula, or in .toml for a scenario"
        raise InputError([Problem(wrong, field="--write", found=str(file), fix=fix)])
    as_scenario = file is not None and file.suffix.casefold() == ".toml"
    refuse_the_same_file(file, scenario, columns=None if as_scenario else tables.MADE)
    refuse_to_write_twice(csv, file)
    asked, catalogue = kept_scenario(scenario)
    columns = tables.curve_columns(*study.axes_of(between, asked, catalogue))
    refuse_the_same_file(csv, columns=columns)
    seconds = None if thorough else SECONDS
    bar = Bar("points")
    found = study.tradeoff(
        asked, catalogue, between, point, seconds=seconds, progress=bar
    )
    bar.close()
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv, out=out))
    show_result(found, data.tradeoff_data, tradeoff_page, full=full, json=json, out=out)
    write(csv, tables.tradeoff_sheet(found), columns)
    if found.chosen is not None and file is not None:
        made = found.chosen[1]
        if as_scenario:
            extends = seen_from(file.resolve().parent, scenario.resolve())
            title = f"{asked.title}, {point} of its trade-off"
            write(
                file,
                point_scenario(extends, title, made, asked, catalogue),
                encoding="utf-8",
            )
        else:
            write(file, tables.made_sheet(made))
    raise typer.Exit(ATTENTION if found.stopped else ANSWERED)
