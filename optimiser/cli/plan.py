"""``optimiser plan``: what to buy for batches of several products."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED, tell
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    Thorough,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    from optimiser.domain.bench import Bench
    from optimiser.domain.plan import Plan
    from optimiser.domain.scenario import Scenario
    from optimiser.studies.plan import PlanFound

__all__ = ["overfill_by_law", "plan"]

SECONDS = 10.0  # to search


def plan(  # noqa: PLR0917 - one a question
    file: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file (TOML).")],
    thorough: Thorough = False,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write the shopping list (.csv or .xlsx)."),
    ] = None,
    folder: Annotated[
        Path | None,
        typer.Option("--write", help="Folder for scenarios of formulas that moved."),
    ] = None,
) -> None:
    """Say which packs to buy for several products together.

    Example: optimiser plan scenarios/plans/autumn.toml --csv shopping.csv
    """
    from optimiser.reading.plans import read_plan  # noqa: PLC0415

    refuse_the_same_file(csv, file)
    refuse_page_file(out, file)
    asked = read_plan(file, overfill_by_law)
    targets = {} if folder is None else _targets(asked, folder)
    answer(asked, targets, csv, out, thorough=thorough, full=full, json=json)


def overfill_by_law(
    bench: Bench, file: Path, scenario: Scenario, net_kg: float, units: int
) -> float | None:
    """Return the least overfill that keeps the law of net content, percent, if known.

    Each batch is held to it by itself.
    """
    from optimiser.cli.sizing import content_of  # noqa: PLC0415
    from optimiser.workshop.sizes import by_law  # noqa: PLC0415

    if bench.spread is None:
        return None
    return by_law(content_of(file, scenario), net_kg, units, bench.spread)


def _targets(asked: Plan, folder: Path) -> dict[int, Path]:
    """Return where each product that may move is written, by its number."""
    found: dict[int, Path] = {}
    for number, product in enumerate(asked.products):
        if product.moves:
            stem, path, times = Path(product.path).stem, None, 1
            while path is None or path in found.values():
                path = folder / f"{stem}{'' if times == 1 else f'_{times}'}.toml"
                times += 1
            found[number] = path
    return found


def answer(
    asked: Plan,
    targets: dict[int, Path],
    csv: Path | None,
    out: Path | None,
    *,
    thorough: bool,
    full: bool,
    json: bool,
) -> None:
    """Answer a plan, show it, write what is asked for, and leave."""
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.presenting import plan as shown  # noqa: PLC0415
    from optimiser.studies import plan as study  # noqa: PLC0415

    read = [Path(product.path) for product in asked.products]
    refuse_the_same_file(csv, *read, columns=shown.SHOPPING)
    for path in targets.values():
        if path.parent.is_dir():
            refuse_the_same_file(path, *read)
        elif path.parent.exists():
            fix = "name a folder, or one that is to be made"
            raise InputError([Problem("is no folder", str(path.parent), fix=fix)])
    found = study.plan(asked, None if thorough else SECONDS)
    if isinstance(found, study.Unfit):
        if len(asked.products) > 1:
            tell(f"{presenting.clean(found.product.path)}: its rules clash.")
        raise typer.Exit(show_clash(found.clash, json, csv, out=out))
    show_result(found, shown.plan_data, shown.plan_page, full=full, json=json, out=out)
    write(csv, shown.plan_sheet(found), columns=shown.SHOPPING)
    _write_moved(found, targets)
    raise typer.Exit(ANSWERED)


def _write_moved(found: PlanFound, targets: dict[int, Path]) -> None:
    """Write each formula that moved as a scenario that keeps to it."""
    from optimiser.presenting import clean  # noqa: PLC0415
    from optimiser.presenting.scenario_text import pinned_scenario  # noqa: PLC0415
    from optimiser.reading.text import seen_from  # noqa: PLC0415

    for number, path in targets.items():
        each = found.products[number]
        if not each.moved:
            tell(f"{clean(path)}: not written, for {each.made.title} stays as it is.")
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        scenario = Path(each.product.path).resolve()
        extends = seen_from(path.resolve().parent, scenario)
        title = f"{each.made.title}, as planned"
        text = pinned_scenario(extends, title, each.made, found.plan.catalogue)
        write(path, text, encoding="utf-8")
