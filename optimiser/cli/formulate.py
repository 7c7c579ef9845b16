"""``optimiser formulate``: the formula that serves the aim and keeps every rule."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED, CLASH, say, tell
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    from optimiser.explaining.answer import Answer

__all__ = ["formulate"]


class Solver(StrEnum):
    """Solvers that can be asked."""

    highs = "highs"
    cbc = "cbc"


def formulate(
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Also write the formula to this file.")
    ] = None,
    solver: Annotated[
        Solver, typer.Option("--solver", help="Who does the search.")
    ] = Solver.highs,
) -> None:
    """Find the formula that serves the aim and keeps every rule.

    Example: optimiser formulate scenarios/massage_bar.toml
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415

    _refuse_the_same_file(csv, scenario)
    asked, catalogue = read_scenario(scenario)
    result = explaining.formulate(asked, catalogue, solver=solver.value)
    if isinstance(result, explaining.Clash):
        told = presenting.clash_data(result)
        say(presenting.as_json(told) if json else presenting.clash_report(result))
        if csv is not None:
            tell(f"{csv}: not written, for no formula was found.")
        raise typer.Exit(CLASH)
    if json:
        say(presenting.as_json(presenting.answer_data(result)))
    else:
        say(presenting.report(result, sources=catalogue.sources))
    if csv is not None:
        _write(csv, result)
    raise typer.Exit(ANSWERED)


def _refuse_the_same_file(csv: Path | None, scenario: Path) -> None:
    if csv is not None and csv.resolve() == scenario.resolve():
        fix = "give --csv another name"
        wrong = "is the scenario itself, which the formula would replace"
        raise InputError([Problem(wrong, file=str(csv), fix=fix)])


def _write(csv: Path, result: Answer) -> None:
    from optimiser.presenting import clean, formula_csv, write_whole  # noqa: PLC0415

    write_whole(csv, formula_csv(result))
    tell(f"{clean(csv)}: written.")
