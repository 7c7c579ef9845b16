"""``optimiser sweep``: many scenarios, or a grid of them, in one table."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, CLASH, say, tell
from optimiser.cli.studying import Bar, Full, refuse_the_same_file, show, write
from optimiser.errors import InputError, Problem, nearest

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from optimiser.domain.catalogue import Catalogue
    from optimiser.reading.grids import Grid
    from optimiser.studies.sweep import Group, Sweep

__all__ = ["sweep"]

STDOUT = Path("-")
TALL = "--tall is for a table: name a file with --to, or - for the screen"


def sweep(  # noqa: PLR0917 - one a choice
    files: Annotated[list[Path], typer.Argument(help="Scenarios, or grids (TOML).")],
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Write a .csv or .parquet file; - prints CSV."),
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
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
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
    if to is not None and not printed:
        refuse_the_same_file(to, *files)
        tables.refuse_another_file(to)
    groups = [group for file in files for group in _groups(file)]
    bar = Bar("cases")
    cases = sum(len(group.lists) for group in groups)
    with _workers(min(processes, cases), dask) as executor:
        found = study.sweep(groups, executor, bar)
    bar.close()
    if json:
        say(presenting.as_json(data.sweep_data(found)))
    elif printed:
        say(tables.sweep_csv(found, tall))
    elif to is None:
        show(shown.sweep_page(found, full=full))
    if to is not None and not printed:
        _write(found, to, tall)
    if json or to is not None or found.stopped:
        tell(shown.summary(found))
    raise typer.Exit(_code(found))


def _code(found: Sweep) -> int:
    if found.stopped:
        return ATTENTION
    answered = any(case.status == "answered" for case in found.cases)
    if answered:
        return ANSWERED
    clash = any(case.status == "clash" for case in found.cases)
    return CLASH if clash else ATTENTION


def _write(found: Sweep, to: Path, tall: bool) -> None:
    from optimiser.presenting import clean  # noqa: PLC0415
    from optimiser.presenting.studies import tables  # noqa: PLC0415

    if to.suffix.casefold() == ".parquet":
        tables.write_parquet(found, to, tall)
        tell(f"{clean(to)}: written.")
    else:
        write(to, tables.sweep_csv(found, tall), tables.SWEEP)


def _groups(file: Path) -> Iterator[Group]:
    """Read a scenario, or every combination that a grid asks for."""
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.grids import is_grid, read_grid  # noqa: PLC0415
    from optimiser.studies.sweep import Group  # noqa: PLC0415

    if is_grid(file):
        yield from _of_grid(read_grid(file))
        return
    scenario, catalogue = read_scenario(file)
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
    if problems:
        raise InputError(problems)
    return {key: prices[name] for name, key in found.items() if key is not None}


@contextmanager
def _workers(processes: int, dask: str | None) -> Iterator[Executor | None]:
    """Give the executor that was asked for, and let it go afterwards."""
    if dask is not None:
        with _dask_client(dask) as client:
            yield client.get_executor()
        return
    if processes < 2:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415
    from multiprocessing import get_context  # noqa: PLC0415

    executor = ProcessPoolExecutor(processes, get_context("spawn"), _leave_ctrl_c)

    try:
        with _ctrl_c_waits():
            for _ in range(processes):
                executor.submit(_leave_ctrl_c)
        yield executor
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _ctrl_c_waits() -> Iterator[None]:
    """Hold Ctrl-C back for a moment; processes begun in it never hear it."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _leave_ctrl_c() -> None:
    """Let the main process alone hear Ctrl-C; it keeps what the workers finish."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _dask_client(address: str) -> Any:  # noqa: ANN401 - an optional library's own
    try:
        from distributed import Client  # noqa: PLC0415
    except ImportError as error:
        problem = Problem(
            "needs Dask, which is not installed",
            field="--dask",
            found=address,
            fix="pip install '.[dask]' in the project's folder, or use --processes",
        )
        raise InputError([problem]) from error
    try:
        return Client(address, timeout=10)
    except (OSError, ValueError, TimeoutError) as error:
        fix = "start a scheduler there, or correct the address, as in tcp://host:8786"
        problem = Problem("does not answer", field="--dask", found=address, fix=fix)
        raise InputError([problem]) from error
