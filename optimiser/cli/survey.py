"""``optimiser survey``: reference recipes to bands, a base and a scenario."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import (
    ANSWERED,
    ATTENTION,
    catalogues_folder,
    say,
    tell,
    tell_problems,
)
from optimiser.errors import InputError, Problem, nearest

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey import Asked, Survey

__all__ = ["survey"]

MOST_FORMULAS = 500  # files: past it a folder of them helps nobody


class Use(StrEnum):
    """Whether a product stays on the skin."""

    leave_on = "leave-on"
    rinse_off = "rinse-off"


@dataclass(frozen=True)
class Writing:
    """How files are written: over what is there, and which recipes' formulas."""

    replace: bool
    recipes: frozenset[str]


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
        list[str] | None, typer.Option("--market", help="EU, GB, US, AU or CA.")
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
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Turn published recipes into bands, a base and a scenario.

    Example: optimiser survey recipes.csv --class "lotion bar"
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.presenting.survey_data import survey_data  # noqa: PLC0415
    from optimiser.presenting.survey_text import survey_report  # noqa: PLC0415
    from optimiser.studies.survey import Asked  # noqa: PLC0415

    wanted = Asked(
        product_class=product_class,
        structure=structure,
        use=None if use is None else use.value,
        markets=tuple(market or ()),
        zone=zone,
        workshop=workshop,
        middle=middle,
    )
    root = catalogues_folder(folder)
    found, catalogue, problems = _survey(recipes, root, answers, aliases, wanted)
    written: list[str] = []
    if found.base is not None and found.base.lines:
        target = to or Path(_slug(found))
        how = Writing(replace, frozenset(recipe or ()))
        written = _write(target, found, catalogue, how, problems)
    problems += found.problems
    if json:
        say(presenting.as_json(survey_data(found, problems, written)))
    else:
        say(survey_report(found, catalogue))
        tell_problems(problems, as_json=False)
    for each in written:
        tell(f"{presenting.clean(each)}: written.")
    good = bool(written) or (not found.structures and bool(found.recipes))
    raise typer.Exit(ANSWERED if good else ATTENTION)


def _survey(
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
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.recipes import (  # noqa: PLC0415
        read_answers,
        read_knowledge,
        read_recipe_table,
    )
    from optimiser.studies.survey import survey as study  # noqa: PLC0415

    catalogue = read_catalogue(root, wanted.workshop)
    wrong = [*_unknown_markets(wanted, catalogue)]
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


def _unknown_markets(wanted: Asked, catalogue: Catalogue) -> Iterator[Problem]:
    from optimiser.reading.markets import MARKETS  # noqa: PLC0415

    rows = {each.market for each in catalogue.substance_limits} - {"any"}
    known = [*MARKETS, *sorted(rows - {*MARKETS})]
    for market in wanted.markets:
        if market not in known:
            wrong = f"is no market that is known; {nearest(market, known)}"
            fix = f"the markets are {', '.join(known)}"
            yield Problem(wrong, found=market, fix=fix)


def _slug(found: Survey) -> str:
    """Return the folder of a class: lotion_bar, for the class lotion bar."""
    name = re.sub(r"[^a-z0-9]+", "_", found.product_class.casefold()).strip("_")
    return name or "survey"


def _write(
    target: Path,
    found: Survey,
    catalogue: Catalogue,
    how: Writing,
    problems: list[Problem],
) -> list[str]:
    """Write scenario, table and formulas; return their names, or none and say why."""
    from optimiser.presenting import survey_sheet as sheets  # noqa: PLC0415
    from optimiser.presenting import write_whole  # noqa: PLC0415
    from optimiser.presenting.survey_scenario import survey_scenario  # noqa: PLC0415

    scenario = target / "scenario.toml"
    if scenario.exists() and not how.replace:
        wrong = "is there already, and may hold changes of yours; nothing was written"
        fix = "name another folder with --to, or write over it with --replace"
        problems.append(Problem(wrong, str(scenario), fix=fix))
        return []
    target.mkdir(parents=True, exist_ok=True)
    text = survey_scenario(found, catalogue)
    write_whole(scenario, text, encoding="utf-8", over=how.replace)
    table = target / "recipes.csv"
    write_whole(table, sheets.recipes_sheet(found, catalogue), over=how.replace)
    formulas = target / "formulas"
    count = _write_formulas(formulas, found, catalogue, how.recipes, problems)
    return [str(scenario), str(table), f"{formulas} ({count} recipes)"]


def _write_formulas(
    folder: Path,
    found: Survey,
    catalogue: Catalogue,
    wanted: frozenset[str],
    problems: list[Problem],
) -> int:
    """Write recipes as formulas to check; return how many."""
    from optimiser.presenting import survey_sheet as sheets  # noqa: PLC0415
    from optimiser.presenting import write_whole  # noqa: PLC0415
    from optimiser.studies.survey import as_formulas  # noqa: PLC0415

    usable = [each for each in as_formulas(found.recipes, catalogue) if each.percents]
    names = sheets.file_names(each.recipe for each in usable)
    for name in sorted(wanted - set(names)):
        wrong = f"is no recipe of these; {nearest(name, names)}"
        problems.append(Problem(wrong, found=name, fix="correct the name"))
    chosen = [each for each in usable if each.recipe in wanted or not wanted]
    if len(chosen) > MOST_FORMULAS:
        tell(
            f"The first {MOST_FORMULAS} of {len(chosen)} formulas are written; "
            "--recipe NAME writes any other."
        )
    folder.mkdir(parents=True, exist_ok=True)
    for each in chosen[:MOST_FORMULAS]:
        text = sheets.formula_sheet(each, catalogue)
        write_whole(folder / names[each.recipe], text)
    return len(chosen[:MOST_FORMULAS])
