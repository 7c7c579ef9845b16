"""``optimiser sweep``: many scenarios, or a grid of them, in one table."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, CLASH, say, tell
from optimiser.cli.studying import (
    AsJson,
    Bar,
    Full,
    Out,
    keep_pages,
    refuse_page_file,
    refuse_the_same_file,
    show,
    write,
)
from optimiser.cli.workers import workers
from optimiser.errors import InputError, Problem, nearest

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.reading.grids import Grid
    from optimiser.studies.sweep import Group, Sweep

__all__ = ["sweep"]

STDOUT = Path("-")
TALL = "--tall is for a table: name a file with --to, or - for the screen"


def sweep(  # noqa: PLR0913, PLR0917 - one a choice
    files: Annotated[list[Path], typer.Argument(help="Scenarios, or grids (TOML).")],
    to: Annotated[
        Path | None,
        typer.Option(
            "--to", help="Write a .csv, .xlsx or .parquet file; - prints CSV."
        ),
    ] = None,
    tall: Annotated[
        bool, typer.Option("--tall", help="One row a case and ingredient.")
    ] = False,
    processes: Annotated[
        int,
        typer.Option("--processes", min=1, help="Local processes to share the work."),
    ] = 1,
    dask: Annotated[
        str | None, typer.Option("--dask", help="Address of a running Dask scheduler.")
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Solve many scenarios, or a grid of them, into one table.

    Example: optimiser sweep scenarios/grids/cocoa_price.toml --to cases.csv
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies import sweep as shown  # noqa: PLC0415
    from optimiser.studies import sweep as study  # noqa: PLC0415

    if tall and to is None:
        raise typer.BadParameter(TALL)
    printed = to == STDOUT
    refuse_page_file(out, *files)
    if to is not None and not printed:
        refuse_the_same_file(to, *files)
        tables.refuse_another_file(to)
    groups = [group for file in files for group in _groups(file)]
    bar = Bar("cases")
    cases = sum(len(group.lists) for group in groups)
    with workers(min(processes, cases), dask) as helped:
        executor = None if helped is None else helped.executor
        there = None if helped is None else helped.there
        found = study.sweep(groups, executor, bar, there)
    bar.close()
    if json:
        say(presenting.as_json(data.sweep_data(found)))
    elif printed:
        say(tables.sweep_sheet(found, tall).csv)
    elif to is None:
        show(shown.sweep_page(found, full=full))
    if out is not None:
        keep_pages(out, shown.sweep_page(found, full=True))
    if to is not None and not printed:
        _write(found, to, tall)
    if json or to is not None or found.stopped or found.lost:
        tell(shown.summary(found))
    raise typer.Exit(_code(found))


def _code(found: Sweep) -> int:
    if found.stopped:
        return ATTENTION
    codes = {"answered": ANSWERED, "clash": CLASH}
    return codes.get(found.status, ATTENTION)


def _write(found: Sweep, to: Path, tall: bool) -> None:
    from optimiser.presenting import clean  # noqa: PLC0415
    from optimiser.presenting.studies import tables  # noqa: PLC0415

    if to.suffix.casefold() == ".parquet":
        tables.write_parquet(found, to, tall)
        tell(f"{clean(to)}: written.")
    else:
        write(to, tables.sweep_sheet(found, tall), tables.SWEEP)


def _groups(file: Path) -> Iterator[Group]:
    """Read a scenario, or every combination that a grid asks for."""
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.reading.grids import is_grid, read_grid  # noqa: PLC0415
    from optimiser.studies.sweep import Group  # noqa: PLC0415

    if is_grid(file):
        yield from _of_grid(read_grid(file))
        return
    scenario, catalogue = kept_scenario(file)
    yield Group({"scenario": str(file)}, scenario, catalogue)


def _of_grid(grid: Grid) -> Iterator[Group]:
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.grids import overlays_of, price_lists_of  # noqa: PLC0415
    from optimiser.studies.sweep import Group  # noqa: PLC0415

    lists = price_lists_of(grid)
    for path in grid.scenarios:
        known: dict[str | None, Catalogue] = {}
        for labels, overlay in overlays_of(grid):
            scenario, catalogue = read_scenario(path, [overlay], known)
            yield Group(
                {"scenario": path.name, **labels},
                scenario,
                catalogue,
                [(each.labels, _keys(each.prices, catalogue, grid)) for each in lists],
            )


def _keys(prices: Any, catalogue: Catalogue, grid: Grid) -> dict[str, float]:  # noqa: ANN401
    """Return prices by ingredient key."""
    found = {name: catalogue.find(name) for name in prices}
    problems = [
        Problem(
            f"is no ingredient; {nearest(name, catalogue.names())}",
            str(grid.path),
            field=f"prices.{name}",
            found=name,
            fix="correct the name, here or in the price list",
        )
        for name, key in found.items()
        if key is None
    ]
    first: dict[str, str] = {}
    for name, key in found.items():
        if key is not None and first.setdefault(key, name) != name:
            problems.append(
                Problem(
                    f"is the same ingredient as {first[key]}, whose price varies too",
                    str(grid.path),
                    field=f"prices.{name}",
                    found=name,
                    fix="take one of the two out, here or in the price list",
                )
            )
    if problems:
        raise InputError(problems)
    return {key: prices[name] for name, key in found.items() if key is not None}
