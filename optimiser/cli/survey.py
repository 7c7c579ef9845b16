"""``optimiser survey``: reference recipes to bands, a base and a scenario."""

from __future__ import annotations

import os
import re
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct
from msgspec.structs import replace

from optimiser.cli.running import (
    ANSWERED,
    ATTENTION,
    catalogues_folder,
    say,
    tell,
    tell_problems,
    workshop_used,
)
from optimiser.cli.studying import (
    AsJson,
    Full,
    Out,
    keep_pages,
    refuse_page_file,
    show,
)
from optimiser.errors import InputError, Option, Problem, nearest, phrase

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey import Asked, Survey

__all__ = ["slug", "survey", "surveyed"]

MOST_FORMULAS = 500  # files: past it a folder of them helps nobody


class Use(StrEnum):
    """Whether a product stays on the skin."""

    leave_on = "leave-on"
    rinse_off = "rinse-off"


class Writing(Struct, frozen=True):
    """How files are written: over what is there, and which recipes' formulas.

    ``read`` are the files of this command, which are never written over.
    """

    replace: bool
    recipes: frozenset[str]
    read: tuple[Path, ...]


def survey(  # noqa: PLR0913, PLR0917 - each is an option of the command
    recipes: Annotated[list[Path], typer.Argument(help="Recipe tables (CSV).")],
    product_class: Annotated[
        str | None, typer.Option("--class", help="Product class, as recipes write it.")
    ] = None,
    structure: Annotated[
        str | None,
        typer.Option("--structure", help="Which way of building them, if several."),
    ] = None,
    answers: Annotated[
        Path | None, typer.Option("--answers", help="Your answers (CSV).")
    ] = None,
    aliases: Annotated[
        Path | None, typer.Option("--aliases", help="Names you teach (CSV).")
    ] = None,
    use: Annotated[
        Use | None, typer.Option("--use", help="Else what is usual for the class.")
    ] = None,
    market: Annotated[
        list[str] | None, typer.Option("--market", help="MARKETS.")
    ] = None,
    zone: Annotated[
        str | None, typer.Option("--zone", help="Climate zone, such as IVA.")
    ] = None,
    workshop: Annotated[
        str | None, typer.Option("--workshop", help="Whose prices and names to use.")
    ] = None,
    middle: Annotated[
        bool, typer.Option("--middle", help="Bands of the middle half only.")
    ] = False,
    to: Annotated[
        Path | None, typer.Option("--to", help="Folder to write to; else the class.")
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over what is in it.")
    ] = False,
    recipe: Annotated[
        list[str] | None,
        typer.Option("--recipe", help="Write the formula of this recipe only."),
    ] = None,
    folder: Annotated[
        Path | None, typer.Option("--folder", help="Folder of catalogues.")
    ] = None,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Turn published recipes into bands, a base and a scenario.

    Example: optimiser survey recipes.csv --class "lotion bar"
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.presenting.pictures import survey_pictures  # noqa: PLC0415
    from optimiser.presenting.survey.data import survey_data  # noqa: PLC0415
    from optimiser.presenting.survey.page import survey_page  # noqa: PLC0415
    from optimiser.studies.survey import Asked  # noqa: PLC0415

    wanted = Asked(
        product_class=product_class,
        structure=structure,
        use=None if use is None else use.value,
        markets=tuple(market or ()),
        zone=zone,
        workshop=workshop_used(workshop, folder),
        middle=middle,
    )
    _refuse_one_table_twice(recipes)
    refuse_page_file(out, *recipes)
    root = catalogues_folder(folder)
    found, catalogue, problems = surveyed(recipes, root, answers, aliases, wanted)
    written: list[str] = []
    known = {each.name for each in found.recipes}
    strange = bool(recipe) and known.isdisjoint(recipe or ())
    if strange or (found.base is not None and found.base.lines):
        target = to or Path(slug(found))
        read = (*recipes, *(each for each in (answers, aliases) if each is not None))
        how = Writing(replace, frozenset(recipe or ()), read)
        written = _write(target, found, catalogue, how, problems)
    problems += found.problems
    if json:
        say(presenting.as_json(survey_data(found, problems, written)))
    else:
        show(survey_page(found, catalogue, full=full))
        tell_problems(problems, as_json=False)
    if out is not None:
        drawn = survey_pictures(found, catalogue)
        page = survey_page(found, catalogue, full=True)
        keep_pages(out, page, *([] if drawn is None else [drawn]))
    for each in written:
        tell(f"{presenting.clean(each)}: written.")
    usable = any(each.used for each in found.recipes)
    good = bool(written) or (not found.structures and usable)
    raise typer.Exit(ANSWERED if good and not strange else ATTENTION)


def _refuse_one_table_twice(recipes: list[Path]) -> None:
    """Say so where recipes would be counted twice."""
    seen: set[str] = set()
    for each in recipes:
        place = os.path.realpath(each)
        if place in seen:
            wrong = "is given twice, and its recipes would count twice"
            raise InputError([Problem(wrong, str(each), fix="name it once")])
        seen.add(place)


def surveyed(
    recipes: list[Path],
    root: Path,
    answers: Path | None,
    aliases: Path | None,
    wanted: Asked,
) -> tuple[Survey, Catalogue, list[Problem]]:
    """Return the survey, and what could not be read on the way.

    Raises
    ------
    InputError
        If the catalogues, the answers or the names taught are wrong, or nothing
        of the recipes could be read.
    """
    from optimiser.cli.reading import shown_as_asked  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.markets import markets_named  # noqa: PLC0415
    from optimiser.reading.recipes import (  # noqa: PLC0415
        read_answers,
        read_knowledge,
        read_recipe_table,
    )
    from optimiser.studies.survey import survey as study  # noqa: PLC0415

    catalogue = read_catalogue(root, wanted.workshop)
    shown_as_asked(catalogue)
    wrong: list[Problem] = []
    markets = markets_named(wanted.markets, catalogue, wrong)
    wanted = replace(wanted, markets=markets)
    knowledge = read_knowledge(root, wanted.workshop, catalogue, aliases, wrong)
    given = {} if answers is None else read_answers(answers, catalogue, wrong)
    if wrong:
        raise InputError(wrong)
    problems: list[Problem] = []
    written = [each for path in recipes for each in read_recipe_table(path, problems)]
    if not written:
        nothing = Problem("no recipe could be read", fix="name a table of recipes")
        raise InputError([*problems, nothing])
    return study(written, catalogue, knowledge, given, wanted), catalogue, problems


def slug(found: Survey) -> str:
    """Return the folder of a class: lotion_bar, for the class lotion bar."""
    from optimiser.presenting.writing import for_a_file  # noqa: PLC0415

    name = re.sub(r"[^a-z0-9]+", "_", found.product_class.casefold()).strip("_")
    return for_a_file(name or "survey")


def _write(
    target: Path,
    found: Survey,
    catalogue: Catalogue,
    how: Writing,
    problems: list[Problem],
) -> list[str]:
    """Write scenario, table and formulas; return their names, or none and say why."""
    from optimiser.presenting.survey.files import (  # noqa: PLC0415
        ELSEWHERE,
        RecipesSheet,
        SurveyFile,
        refused,
        write_files,
    )
    from optimiser.presenting.survey.scenario import survey_scenario  # noqa: PLC0415

    folder = target / "formulas"
    formulas = _formulas(found, catalogue, how.recipes, problems)
    if formulas is None:
        return []
    text = survey_scenario(found, catalogue)
    rows = RecipesSheet(found.recipes, catalogue.ingredients)
    scenario = SurveyFile(target / "scenario.toml", text, "utf-8", over=True)
    table = SurveyFile(target / "recipes.csv", rows, over=how.replace)
    files = [scenario, table]
    files += [SurveyFile(folder / name, each) for name, each in formulas.items()]
    wrong = refused(files, how.read)
    if not wrong and scenario.path.exists() and not how.replace:
        why = "is there already, and may hold changes of yours; nothing was written"
        fix = phrase(ELSEWHERE, ", or write over it with ", Option("replace"))
        wrong = [Problem(why, str(scenario.path), fix=fix)]
    wrong = wrong or write_files(files, target)
    problems += wrong
    if wrong:
        return []
    shown = f"{folder} ({len(formulas)} recipes)"
    return [str(scenario.path), str(table.path), shown]


def _formulas(
    found: Survey,
    catalogue: Catalogue,
    wanted: frozenset[str],
    problems: list[Problem],
) -> dict[str, str] | None:
    """Return recipes as formulas to check, by file name; None if none is known."""
    from optimiser.presenting.survey.files import (  # noqa: PLC0415
        file_names,
        formula_sheet,
    )
    from optimiser.studies.survey import as_formulas  # noqa: PLC0415

    # What stands in for a bare word is what stands in the base.
    base = () if found.base is None else found.base.lines
    rather = tuple(each.ingredient for each in base)
    told = as_formulas(found.recipes, catalogue, rather)
    usable = [each for each in told if each.percents]
    names = file_names(each.recipe for each in usable)
    for name in sorted(wanted - set(names)):
        wrong = f"is no recipe of these; {nearest(name, names)}"
        problems.append(Problem(wrong, found=name, fix="correct the name"))
    chosen = [each for each in usable if each.recipe in wanted or not wanted]
    if wanted and not chosen:
        return None
    if len(chosen) > MOST_FORMULAS:
        tell(
            f"The first {MOST_FORMULAS} of {len(chosen)} formulas are written; "
            "--recipe NAME writes any other."
        )
    return {
        names[each.recipe]: formula_sheet(each, catalogue)
        for each in chosen[:MOST_FORMULAS]
    }
