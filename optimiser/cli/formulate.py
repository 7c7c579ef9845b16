"""``optimiser formulate``: the formula that serves the aim and keeps every rule."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.answering import show_answer
from optimiser.cli.running import ANSWERED, CLASH, say, tell
from optimiser.cli.studying import (
    AsJson,
    Batch,
    ScenarioFile,
    Thorough,
    in_time,
    of_size,
    refuse_the_same_file,
    refuse_to_write_twice,
)
from optimiser.cli.studying import write as keep
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    from optimiser.explaining.answer import Clash, WayOut

__all__ = ["formulate"]


class Solver(StrEnum):
    """Solvers that can be asked."""

    highs = "highs"
    cbc = "cbc"


def formulate(  # noqa: PLR0913, PLR0917 - one a question
    scenario: ScenarioFile,
    batch: Batch = None,
    full: Annotated[bool, typer.Option("--full", help="Everything there is.")] = False,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write the formula (.csv or .xlsx)."),
    ] = None,
    solver: Annotated[
        Solver, typer.Option("--solver", help="Who does the search.", hidden=True)
    ] = Solver.highs,
    write: Annotated[
        Path | None,
        typer.Option("--write", help="When rules clash: write a scenario that fits."),
    ] = None,
    way: Annotated[
        int | None,
        typer.Option("--way", min=1, help="Which way out --write takes; else 1."),
    ] = None,
    thorough: Thorough = False,
) -> None:
    """Find the formula that serves the aim and keeps every rule.

    Example: optimiser formulate scenarios/massage_bar.toml
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415

    refuse_the_same_file(csv, scenario, columns=presenting.HEADER)
    refuse_the_same_file(write, scenario)
    refuse_to_write_twice(csv, write)
    asked, catalogue = kept_scenario(scenario)
    asked = of_size(asked, batch)
    with in_time(thorough=thorough):
        result = explaining.formulate(asked, catalogue, solver=solver.value)
    if isinstance(result, explaining.Clash):
        if way is not None:
            _refuse_a_way_not_offered(result, way)
        elif write is not None:
            _refuse_a_way_not_offered(result, 1)
        if way is None or write is None or json:
            show_answer(result, catalogue, full=full, json=json)
        if csv is not None:
            name = presenting.clean(csv)
            tell(f"{name}: not written, for no formula was found.")
        if write is not None and way is None and result.ways_out[0].lets_in:
            name = presenting.clean(write)
            tell(
                f"{name}: not written, for the first way out lets in what you keep"
                " out. To take it all the same, add --way 1."
            )
        elif write is not None:
            dropped = [rule for rule, (to, _) in asked.eased.items() if to is None]
            _write_way(write, scenario, result.ways_out[(way or 1) - 1], dropped)
            if way is not None and not json:
                page = presenting.way_page(result, way, str(write))
                say(presenting.as_text(page))
        elif way is not None:
            tell(f"--way {way}: not written, for no file was named with --write.")
        raise typer.Exit(CLASH)
    show_answer(result, catalogue, full=full, json=json)
    keep(csv, presenting.formula_sheet(result))
    if write is not None:
        tell(f"{presenting.clean(write)}: not written, for nothing clashes.")
    elif way is not None:
        tell(f"--way {way}: not taken, for nothing clashes.")
    raise typer.Exit(ANSWERED)


def _write_way(file: Path, scenario: Path, way: WayOut, dropped: list[str]) -> None:
    """Write the scenario that takes a way out, and drops what it drops already."""
    from optimiser.presenting import clean, write_whole  # noqa: PLC0415
    from optimiser.presenting.scenario_text import eased_scenario  # noqa: PLC0415
    from optimiser.reading.text import seen_from  # noqa: PLC0415

    extends = seen_from(file.resolve().parent, scenario.resolve())
    text = eased_scenario(extends, way, dropped)
    write_whole(file, text, encoding="utf-8")
    tell(f"{clean(file)}: written.")


def _refuse_a_way_not_offered(clash: Clash, way: int) -> None:
    if way > len(clash.ways_out):
        offered = len(clash.ways_out)
        wrong = f"is no way out of this clash; {offered} are offered"
        fix = "choose one that the report lists" if offered else "change the rules"
        raise InputError([Problem(wrong, field="--way", found=str(way), fix=fix)])
