"""``optimiser begin``: a starter workspace, whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from optimiser.cli.running import say
from optimiser.cli.studying import (
    AsJson,
    tell_shelf,
)
from optimiser.errors import InputError, Option, Phrase, Problem, extra, phrase

if TYPE_CHECKING:
    from optimiser.cli.own_recipe import OwnRecipe
    from optimiser.domain.scenario import Scenario

__all__ = ["Begun", "begin", "begins_from", "begun", "guide", "is_workspace"]

PARTS = ("catalogues", "scenarios")
FIRST = "massage_bar.toml"
DEMO = "demo"
GUIDE = "GUIDE.md says how to change prices, add an ingredient and write a scenario."
PAGE = "optimiser open shows all this on a page, where limits move."
NO_PAGE = f"A page where limits move is an extra: {extra('web')}, then optimiser open."
REMEMBERED = f"""\
# The workshop whose prices, stock and rows count where none is named.
workshop = "{DEMO}"
"""


def begin(  # noqa: PLR0917 - each is an option of the command
    folder: Annotated[Path, typer.Argument(help="New or empty folder to fill.")],
    own: Annotated[
        Path | None,
        typer.Option(
            "--from", help="Your recipe (CSV): ingredient,amount,unit as you write it."
        ),
    ] = None,
    product: Annotated[
        str | None, typer.Option("--product", help='With --from: as in "lip balm".')
    ] = None,
    use: Annotated[
        str | None, typer.Option("--use", help="With --from: leave-on or rinse-off.")
    ] = None,
    market: Annotated[
        list[str] | None,
        typer.Option("--market", help="With --from: MARKETS."),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="With --from: write its scenario anew."),
    ] = False,
    json: AsJson = False,
) -> None:
    """Fill a new folder with catalogues and scenarios to start from.

    With --from your own recipe becomes a scenario, with rules around it; in a
    workspace that is there already, only that scenario is added.

    Example: optimiser begin my_workshop --from my_recipe.csv --product "lip balm"
    """
    from optimiser import presenting  # noqa: PLC0415

    made = begun(folder, own, product, use, market, replace=replace)
    tell_shelf(made.shelf)
    following = _next(folder, made, _lacking(folder, own, product, use, market))
    notes = [str(each) for each in made.notes]
    if made.first:
        notes += [GUIDE, PAGE if _has_page() else NO_PAGE]
    if json:
        told = {"status": "answered", "folder": str(folder), "next": following}
        say(presenting.as_json({**told, "notes": notes}))
        return
    commands = [f"  {presenting.clean(line)}\n" for line in following]  # never wrapped
    parts = [_paragraphs([made.ready]), "Next:\n", *commands, _paragraphs(notes)]
    say("".join(parts))


class Begun(Struct, frozen=True):
    """What was begun: the scenario to look at first, and what to know of it.

    ``shelf`` is what could not be read of prices and stock; ``first`` False: it was
    added to a workspace, of which all else was told when that was begun.
    """

    ready: str
    file: str
    notes: tuple[str | Phrase, ...]
    shelf: Sequence[Problem] = ()
    first: bool = True


def begun(
    folder: Path,
    own: Path | None = None,
    product: str | None = None,
    use: str | None = None,
    market: list[str] | None = None,
    *,
    replace: bool = False,
) -> Begun:
    """Fill a new folder, or add a recipe's scenario to one that is a workspace.

    Raises
    ------
    InputError
        If the recipe cannot be read, or the folder not be filled; then it is as it was.
    """
    if _name_too_long(folder):
        wrong = f"a folder {folder.name[:20]}... has a name that is too long"
        raise InputError([Problem(wrong, fix="give it a shorter one")])
    recipe = _recipe(folder, own, product, use, market, replace=replace)
    if recipe is not None and is_workspace(folder):
        recipe.write(folder)
        ready = f"{recipe.shown} is added to {folder.resolve().name}."
        notes = tuple(recipe.notes)
        return Begun(ready, recipe.file, notes, recipe.shelf, first=False)
    _begin(folder, recipe)
    ready = f"{folder} is ready: its catalogues and scenarios are yours to change."
    if recipe is None:
        return Begun(ready, FIRST, _invented(folder))
    notes = (*recipe.notes, *_invented(folder))
    return Begun(ready, recipe.file, notes, recipe.shelf)


def _paragraphs(texts: Sequence[str]) -> str:
    from optimiser.presenting import as_text, page  # noqa: PLC0415

    blocks = tuple(page.Paragraph(text) for text in texts)
    return as_text(page.Page("", (), page.section("", blocks)))


def _recipe(
    folder: Path,
    own: Path | None,
    product: str | None,
    use: str | None,
    market: list[str] | None,
    *,
    replace: bool,
) -> OwnRecipe | None:
    """Return the maker's own recipe, read; None where none was named."""
    if own is None:
        given = {
            "--product": product,
            "--use": use,
            "--market": market,
            "--replace": replace,
        }
        recipe = Option("from", "my_recipe.csv")
        fix = phrase("name your recipe too, with ", recipe, ", or leave it out")
        wrong = "says something about a recipe, and none is named"
        problems = [Problem(wrong, field=x, fix=fix) for x, it in given.items() if it]
        if problems:
            raise InputError(problems)
        return None
    from optimiser.cli.own_recipe import read_recipe  # noqa: PLC0415
    from optimiser.reading import shipped_folder  # noqa: PLC0415

    there = is_workspace(folder)
    if not there:
        _refuse_what_is_there(folder)
    root = folder / "catalogues" if there else shipped_folder("catalogues")
    scenarios = folder if there else shipped_folder("scenarios").parent
    place = scenarios / "scenarios"
    return read_recipe(own, root, place, product, use, market or (), replace=replace)


def is_workspace(folder: Path) -> bool:
    """Whether a folder has catalogues of its own."""
    return (folder / "catalogues" / "materials").is_dir()


def begins_from(recipe: Path, scenario: Path | None, asked: Scenario) -> str:
    """Return the command that begins from a formula, in the workspace of a scenario.

    Of the same product and markets as it.
    """
    from optimiser.domain.spoken import use_of  # noqa: PLC0415
    from optimiser.presenting.following import begin_command  # noqa: PLC0415

    near = [*(() if scenario is None else scenario.parents), Path()]
    folder = next((each for each in near if is_workspace(each)), Path("my_workshop"))
    known = asked.product and use_of(asked.product) == asked.use
    use = None if known else asked.use
    return begin_command(str(folder), str(recipe), asked.product, use, asked.markets)


def _begin(folder: Path, recipe: OwnRecipe | None) -> None:
    from optimiser.reading import shipped_folder  # noqa: PLC0415
    from optimiser.reading.workshops import STOCK, WORKSPACE  # noqa: PLC0415

    def more(draft: Path) -> None:
        remembered = draft / "catalogues" / WORKSPACE
        remembered.write_text(REMEMBERED, encoding="utf-8", newline="")
        for stock in draft.glob("catalogues/workshops/*/stock.csv"):
            # No shelf is ours.
            stock.write_text(f"{STOCK.header}\n", encoding="utf-8", newline="")
        if recipe is not None:
            recipe.write(draft)

    _refuse_what_is_there(folder)
    _fill(folder, {name: shipped_folder(name) for name in PARTS}, more)


def _has_page() -> bool:
    """Whether what `optimiser open` needs is installed."""
    from importlib.util import find_spec  # noqa: PLC0415

    needed = ("jinja2", "starlette", "tomlkit", "uvicorn")
    return all(find_spec(name) is not None for name in needed)


def _refuse_what_is_there(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        wrong = "is there already, and is not a folder"
    elif folder.is_dir() and any(folder.iterdir()):
        wrong = "is there already, and is not empty"
    elif not _above(folder).is_dir():
        wrong = f"cannot be made, for {_above(folder)} is a file"
    else:
        return
    fix = "name a new folder; nothing was changed"
    raise InputError([Problem(wrong, file=str(folder), fix=fix)])


def _name_too_long(folder: Path) -> bool:
    try:
        folder.stat()
    except OSError as error:
        return error.errno == errno.ENAMETOOLONG
    return False


def _above(folder: Path) -> Path:
    """Return the nearest of the folders above that is there."""
    return next(each for each in folder.absolute().parents if each.exists())


def _fill(folder: Path, sources: dict[str, Path], more: Callable[[Path], None]) -> None:
    """Copy to a folder beside, or inside where it exists, and move it into place.

    ``more`` adds to the copy before it is moved.
    """
    exists = folder.is_dir()
    parent = folder if exists else folder.absolute().parent
    draft = parent / f".begin.{os.urandom(6).hex()}"
    moved: list[Path] = []
    try:
        parent.mkdir(parents=True, exist_ok=True)
        draft.mkdir()
        for name, source in sources.items():
            _copy(source, draft / name)
        (draft / "GUIDE.md").write_text(guide(), encoding="utf-8", newline="")
        more(draft)
        if exists:
            for name in [*sources, "GUIDE.md"]:
                _refuse_a_second(folder / name)
                (draft / name).rename(folder / name)
                moved.append(folder / name)
            draft.rmdir()
        else:
            draft.rename(folder)
    except BaseException as error:
        shutil.rmtree(draft, ignore_errors=True)
        for each in moved:
            shutil.rmtree(each, ignore_errors=True)
        if isinstance(error, OSError):
            raise _told(folder, error) from error
        raise


def _refuse_a_second(path: Path) -> None:
    """Raise what moving a folder over another would, for files too."""
    if path.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))


def _told(folder: Path, error: OSError) -> InputError:
    """Return a failure to fill the folder as a message with a way forward."""
    if error.errno in {errno.ENOTEMPTY, errno.EEXIST}:
        wrong = "was filled by something else meanwhile, and is left as that made it"
        fix = "look into it, or name a new folder"
    else:
        wrong = f"cannot be filled ({error.strerror or error})"
        fix = "name a folder where you may write, on a disk that has room"
    return InputError([Problem(wrong, file=str(folder), fix=fix)])


def _copy(source: Path, target: Path) -> None:
    """Copy files and folders, not their permissions: the copy is the maker's own.

    A book of batches stays where they were made.
    """
    target.mkdir()
    for each in sorted(source.iterdir()):
        if each.name.startswith((".", "__")) or ".sqlite" in each.name:
            continue
        if each.is_dir():
            _copy(each, target / each.name)
        else:
            shutil.copyfile(each, target / each.name)


def _lacking(
    folder: Path,
    own: Path | None,
    product: str | None,
    use: str | None,
    market: Sequence[str] | None,
) -> list[str]:
    """Return the command that says what nobody said of a recipe, if anything."""
    if own is None or ((product or use) and market):
        return []
    from optimiser.presenting.following import begin_command  # noqa: PLC0415

    there = own if own.is_absolute() else Path(os.path.relpath(own, folder))
    return [begin_command(".", str(there), product, use, market or (), again=True)]


def _next(folder: Path, made: Begun, lacking: Sequence[str]) -> list[str]:
    """Return the commands to run next; of a first scenario also what is beside it."""
    file = f"scenarios/{made.file}"
    lines = [*lacking, f"optimiser formulate {file}"]
    if made.first and _has_page():
        lines.append("optimiser open")
    lines.append(f"optimiser batch {file}")
    lines.append(f"optimiser report {file} --out report.html")
    if made.first:
        lines.append("optimiser catalogue check")
    quoted = f'"{folder}"' if " " in str(folder) else str(folder)
    return lines if folder == Path() else [f"cd {quoted}", *lines]


def _invented(folder: Path) -> tuple[str, ...]:
    """Return what to know before relying on what was written: what is invented."""
    from optimiser.presenting.words import listed  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.bench import bench_in  # noqa: PLC0415
    from optimiser.reading.costs import costs_in  # noqa: PLC0415

    root = folder / "catalogues"
    scale = (root / "workshops" / DEMO / "scale.toml", f"{DEMO}/scale.toml")
    known = read_catalogue(root, DEMO)
    files = {
        "prices.csv": known.invented_prices is not None,
        "stock.csv": known.invented_lots is not None,
        "costs.toml": costs_in(*scale, known.currency).invented,
        "scale.toml": bench_in(*scale).invented,
    }
    invented = listed([file for file, is_so in files.items() if is_so])
    return (
        f"The figures of {invented} in catalogues/workshops/{DEMO} are invented: put"
        f" yours in their place, in any currency (theirs is {known.currency}).",
    )


def guide() -> str:
    """Return GUIDE.md; the columns of tables are told as they are read."""
    from optimiser.domain.material import ALLERGEN_FLAGS  # noqa: PLC0415
    from optimiser.domain.products import NAMES  # noqa: PLC0415
    from optimiser.presenting.words import flag_words  # noqa: PLC0415
    from optimiser.reading import grids  # noqa: PLC0415
    from optimiser.reading.duties import shipped_markets  # noqa: PLC0415
    from optimiser.reading.own_tables import TABLES  # noqa: PLC0415

    tables = {f"{name}.csv": columns for name, columns in TABLES.items()}
    tables["price_list"] = grids.PRICES
    file = Path(__file__).with_name("guide.md")
    text = file.read_text(encoding="utf-8")
    text = text.replace("MARKETS", ", ".join(shipped_markets()))
    text = text.replace("PRODUCTS", ", ".join(NAMES))
    flags = [f"* `{each}`: {flag_words(each)}" for each in ALLERGEN_FLAGS]
    text = text.replace("FLAGS", "\n".join(flags))
    for name, columns in tables.items():
        text = text.replace(f"COLUMNS({name})", columns.header.replace(",", ", "))
    return text
