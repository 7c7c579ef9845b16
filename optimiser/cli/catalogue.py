"""``optimiser catalogue``: what the catalogues hold, and whether they are in order."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import catalogues_folder, say, tell, workshop_used
from optimiser.cli.studying import AsJson, Full
from optimiser.cli.studying import show as show_page
from optimiser.errors import InputError, Problem, alike, nearest, told

if TYPE_CHECKING:
    from optimiser.cli.bookkeeping import Place
    from optimiser.domain.catalogue import Catalogue

__all__ = ["app"]

MOST_NAMES = 8

app = typer.Typer(
    rich_markup_mode=None,
    no_args_is_help=True,
    help="List, show, check what is known, also as a spreadsheet.",
    epilog="Example: optimiser catalogue list --category wax",
)

Folder = Annotated[
    Path | None,
    typer.Option("--folder", help="Folder of catalogues; else the nearest one above."),
]
Workshop = Annotated[
    str | None, typer.Option("--workshop", help="Read this workshop's prices too.")
]


@app.command("list")
def list_ingredients(
    category: Annotated[
        str | None, typer.Option("--category", help="Only this category.")
    ] = None,
    workshop: Workshop = None,
    folder: Folder = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """List the ingredients with category, price, solid fat and nuts.

    Example: optimiser catalogue list --category wax --workshop demo
    """
    from optimiser.cli.reading import shown_as_asked  # noqa: PLC0415
    from optimiser.domain.material import CATEGORIES  # noqa: PLC0415
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import catalogue as shown  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415

    if category is not None and category not in CATEGORIES:
        known = nearest(category, CATEGORIES)
        raise typer.BadParameter(f"{category!r} is no category; {known}")
    workshop = workshop_used(workshop, folder)
    catalogue = read_catalogue(catalogues_folder(folder), workshop)
    shown_as_asked(catalogue)
    chosen = [
        each
        for each in catalogue.ingredients.values()
        if category in {None, each.category}
    ]
    if json:
        say(as_json(shown.catalogue_data(catalogue, chosen)))
    else:
        priced = workshop is not None
        show_page(shown.list_page(catalogue, chosen, priced, full=full))


@app.command("show")
def show(
    name: Annotated[str, typer.Argument(help="Key, name, alias or INCI name.")],
    workshop: Workshop = None,
    folder: Folder = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Show all that is known of one ingredient, and from where.

    Example: optimiser catalogue show "shea butter"
    """
    from optimiser.cli.reading import shown_as_asked  # noqa: PLC0415
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import catalogue as shown  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415

    workshop = workshop_used(workshop, folder)
    catalogue = read_catalogue(catalogues_folder(folder), workshop)
    shown_as_asked(catalogue)
    key = catalogue.find(name)
    if key is None:
        wrong = f"is no ingredient of the catalogue; {_suggested(name, catalogue)}"
        problem = Problem(
            catalogue.name_left_open(name) or wrong,
            found=name,
            fix="correct the name, or see them all with: optimiser catalogue list",
        )
        raise InputError([problem])
    ingredient = catalogue.ingredients[key]
    if json:
        say(as_json(shown.ingredient_data(catalogue, ingredient)))
    else:
        show_page(shown.ingredient_page(catalogue, ingredient, full=full))


def _suggested(name: str, catalogue: Catalogue) -> str:
    """Return the names that hold what was written, and those most like it."""
    each = catalogue.ingredients.values()
    aliases = [alias for one in each for alias in one.aliases]
    near = alike(name, [*catalogue.names(), *aliases])
    part = " ".join(name.casefold().split())
    plain = [one.name for one in each]
    known = [*plain, *(one.inci or "" for one in each), *aliases]
    within = list(dict.fromkeys(x for x in known if part and part in x.casefold()))
    if not within:
        return told(near)
    named = ", ".join(within[:MOST_NAMES])
    more = len(within) - MOST_NAMES
    named += f" and {more} more" if more > 0 else ""
    has = f"it stands in {named}"
    return f"{has}; {told(near)}" if near else has


@app.command("check")
def check_catalogue(
    workshop: Annotated[
        str | None, typer.Option("--workshop", help="Only this workshop; else all.")
    ] = None,
    folder: Folder = None,
    full: Full = False,
    json: AsJson = False,
) -> None:
    """Read every table, and say what is wrong or how much there is.

    Example: optimiser catalogue check --folder my_workshop/catalogues
    """
    from optimiser.presenting import as_json  # noqa: PLC0415
    from optimiser.presenting import catalogue as shown  # noqa: PLC0415

    root = catalogues_folder(folder)
    names = _workshops(root, workshop)
    if names != [None]:
        workshop_used(workshop, folder)  # a workspace may remember one that is gone
    catalogues = _read_all(root, names)
    if json:
        say(as_json(shown.inventory_data(root, catalogues)))
    else:
        show_page(shown.inventory_page(root, catalogues, full=full))


@app.command("workbook")
def workbook(
    file: Annotated[Path, typer.Argument(help="The spreadsheet (.xlsx).")],
    take: Annotated[
        bool, typer.Option("--take", help="Read it back into the workshop's tables.")
    ] = False,
    workshop: Annotated[
        str | None, typer.Option("--workshop", help="Whose tables; else as remembered.")
    ] = None,
    json: AsJson = False,
) -> None:
    """Write a workshop's tables as a spreadsheet, or take it back.

    Nothing is taken before every sheet has passed the checks of a catalogue.

    Example: optimiser catalogue workbook my_workshop.xlsx --workshop demo
    """
    from optimiser.cli.bookkeeping import place_of_workshop  # noqa: PLC0415
    from optimiser.presenting import as_json, clean  # noqa: PLC0415
    from optimiser.presenting.words import listed, plural  # noqa: PLC0415
    from optimiser.reading.sheets import is_workbook  # noqa: PLC0415

    if not is_workbook(file):
        fix = "end its name in .xlsx"
        raise InputError([Problem("is no spreadsheet", str(file), fix=fix)])
    place = place_of_workshop(workshop)
    rows = _take(place, file) if take else _give(place, file)
    told = listed(f"{name} ({plural(count, 'row')})" for name, count in rows.items())
    done = "taken into" if take else "written from"
    tell(f"{clean(file)}: {done} workshop {clean(place.workshop)}: {told}.")
    if json:
        say(as_json({"status": "answered", "file": str(file), "rows": rows}))


def _give(place: Place, file: Path) -> dict[str, int]:
    """Write the tables of a workshop as sheets; return the rows of each."""
    from optimiser.presenting.sheet import as_sheet  # noqa: PLC0415
    from optimiser.presenting.workbook import write_workbook  # noqa: PLC0415
    from optimiser.reading.own_tables import read_own_tables  # noqa: PLC0415

    tables = read_own_tables(place.root, place.workshop)
    sheets = [
        as_sheet(name, rows[0] if rows else (), [[*map(_typed, x)] for x in rows[1:]])
        for name, rows in tables.items()
    ]
    write_workbook(file, sheets)
    return {name: max(0, len(rows) - 1) for name, rows in tables.items()}


def _typed(text: str) -> object:
    """Return a cell as a number where it reads back as it was written."""
    from optimiser.reading.cells import to_number  # noqa: PLC0415

    number = to_number(text)
    return text if number is None or f"{number:.15g}" != text else number


def _take(place: Place, file: Path) -> dict[str, int]:
    """Write the sheets into the workshop's tables; return the rows of each."""
    from optimiser.presenting import write_whole  # noqa: PLC0415
    from optimiser.reading.own_tables import read_workbook  # noqa: PLC0415

    texts = read_workbook(file, place.root, place.workshop)
    folder = place.root / "workshops" / place.workshop
    for name, (text, _) in texts.items():
        write_whole(folder / f"{name}.csv", text, encoding="utf-8", over=True)
    return {name: count for name, (_, count) in texts.items()}


def _workshops(root: Path, only: str | None) -> list[str | None]:
    """Return the workshops of a folder of catalogues; None where there is none."""
    if only is not None:
        return [only]
    inside = root / "workshops"
    if not inside.is_dir():
        return [None]
    names = sorted(
        each.name
        for each in inside.iterdir()
        if each.is_dir() and not each.name.startswith((".", "_"))
    )
    return [*names] or [None]


def _read_all(root: Path, names: list[str | None]) -> dict[str | None, Catalogue]:
    """Read the catalogues with each workshop; every problem is told in one go."""
    from optimiser.reading.catalogue import gather_catalogue  # noqa: PLC0415
    from optimiser.reading.recipes import read_knowledge  # noqa: PLC0415

    problems: list[Problem] = []
    catalogues = {}
    for name in names:
        before = len(problems)
        catalogues[name] = gather_catalogue(root, name, problems)
        with suppress(InputError):  # its problems join the others
            _ = catalogues[name].fats  # read only when asked for: ask
        if len(problems) == before:
            read_knowledge(root, name, catalogues[name], None, problems)
        if name is not None:
            told = _wrong_at_the_bench(root, name, catalogues[name].currency)
            problems += (each for each in told if each not in problems)
    if problems:
        raise InputError(problems)
    return catalogues


def _wrong_at_the_bench(root: Path, workshop: str, currency: str) -> list[Problem]:
    """Return what is wrong with a workshop's scale.toml and costs.toml."""
    from optimiser.reading.bench import bench_in  # noqa: PLC0415
    from optimiser.reading.costs import costs_in  # noqa: PLC0415

    scale = root / "workshops" / workshop / "scale.toml"
    shown, problems = f"{workshop}/scale.toml", list[Problem]()
    try:
        bench_in(scale, shown)
    except InputError as error:
        problems += error.problems
    try:
        costs_in(scale, shown, currency)
    except InputError as error:
        problems += (each for each in error.problems if each not in problems)
    return problems
