"""``optimiser check``: a formula held against a scenario, or the limits alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from optimiser.cli.begin import begins_from
from optimiser.cli.running import (
    ANSWERED,
    ATTENTION,
    catalogues_folder,
    say,
    workshop_used,
)
from optimiser.cli.studying import (
    EITHER_USE,
    USES,
    AsJson,
    Batch,
    Out,
    keep_pages,
    of_size,
    refuse_page_file,
)
from optimiser.errors import InputError, Option, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import Checked

__all__ = ["check"]


def check(  # noqa: PLR0913, PLR0917 - each is an option of the command
    formula: Annotated[
        Path,
        typer.Argument(
            help="Formula file (CSV): ingredient,percent, or ingredient,amount,unit."
        ),
    ],
    scenario: Annotated[
        Path | None,
        typer.Argument(help="Scenario file (TOML); else the limits alone."),
    ] = None,
    market: Annotated[
        list[str] | None,
        typer.Option("--market", help="Without a scenario: MARKETS."),
    ] = None,
    product: Annotated[
        str | None,
        typer.Option("--product", help='Without a scenario: as in "lip balm".'),
    ] = None,
    use: Annotated[
        str | None,
        typer.Option("--use", help="Without a scenario: leave-on or rinse-off."),
    ] = None,
    workshop: Annotated[
        str | None,
        typer.Option("--workshop", help="Without a scenario: whose prices and rows."),
    ] = None,
    batch: Batch = None,
    full: Annotated[bool, typer.Option("--full", help="Everything there is.")] = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Say whether a formula keeps every rule of a scenario.

    A formula is a table whose first line is ingredient,percent or ingredient,grams or
    ingredient,amount,unit; then a line an ingredient, such as: cocoa butter,60 or
    cocoa butter,1/2,cup. A batch sheet with weighed_grams filled in is judged as
    weighed. Without a scenario the limits of law, suppliers and practice are checked,
    for a market and a product.

    Example: optimiser check my_formula.csv scenarios/massage_bar.toml
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.reading.batch_sheets import holds_weighings  # noqa: PLC0415
    from optimiser.reading.folders import catalogues_of  # noqa: PLC0415
    from optimiser.reading.formulas import formula_told  # noqa: PLC0415

    if scenario is None and not (market or product or use):
        told = 'Name a SCENARIO too, or --market EU --product "lip balm".'
        raise typer.BadParameter(told)
    refuse_page_file(out, formula, *([] if scenario is None else [scenario]))
    said: tuple[str, ...] = ()
    if scenario is not None:
        root = catalogues_of(scenario)
        _refuse_what_the_scenario_says(market, product, use, workshop)
        asked, catalogue = kept_scenario(scenario)
    else:
        root = catalogues_folder(None)
        asked, catalogue, said = _limits_alone(formula, market, product, use, workshop)
    asked = of_size(asked, batch)
    grams: float | None
    if weighed := holds_weighings(formula):
        result, notes, grams = _as_weighed(formula, scenario, asked, catalogue, batch)
    else:
        read = formula_told(formula, catalogue, root, asked.workshop or None)
        result = explaining.check(read.percents, asked, catalogue)
        notes, grams = read.notes, read.grams
    scaled = _scaled(grams, result.batch_kg)
    result = replace(result, told=(*said, *notes, *scaled))
    if json:
        say(presenting.as_json(presenting.checked_data(result)))
    else:
        page = presenting.check_page(
            result,
            catalogue.sources,
            full=full,
            begins=begins_from(formula, scenario, asked),
            weighed=weighed,
        )
        say(presenting.as_text(page))
    if out is not None:
        keep_pages(out, presenting.check_page(result, catalogue.sources, full=True))
    good = result.status == "kept" and not result.missing
    raise typer.Exit(ANSWERED if good else ATTENTION)


def _as_weighed(
    sheet: Path,
    scenario: Path | None,
    asked: Scenario,
    catalogue: Catalogue,
    batch: str | None,
) -> tuple[Checked, tuple[str, ...], float]:
    """Return a filled-in batch sheet held against the rules, what to tell of it, g.

    Raises
    ------
    InputError
        With every row of the sheet that is wrong; one that is not filled in is.
    """
    from optimiser.presenting.bench.record import within_the_scale  # noqa: PLC0415
    from optimiser.presenting.notes import as_weighed_told  # noqa: PLC0415
    from optimiser.reading.batch_sheets import read_batch_sheet  # noqa: PLC0415
    from optimiser.reading.bench import read_scales  # noqa: PLC0415
    from optimiser.workshop.recording import as_made  # noqa: PLC0415

    weighed = read_batch_sheet(sheet, catalogue)
    scales = None
    if scenario is not None:
        scales = read_scales(scenario, asked.workshop)
    grams = sum(each.grams for each in weighed)
    if batch is None:  # the grams shown are those of the scale
        asked = replace(asked, batch_kg=grams / 1000.0)
    result = as_made(weighed, asked, catalogue, scales)
    told = f"judged {as_weighed_told(grams)}"
    return result, (told, *within_the_scale(result)), grams


def _scaled(written: float | None, batch_kg: float) -> tuple[str, ...]:
    """Say that grams are shown for another batch than the formula was written for."""
    from optimiser.presenting.words import short  # noqa: PLC0415

    if written is None:
        return ()
    yours, batch = f"{short(written)} g", f"{short(1000.0 * batch_kg)} g"
    if yours == batch:
        return ()
    return (
        f"grams are scaled to a batch of {batch}; you wrote {yours} in all"
        f' (--batch "{yours}" shows yours)',
    )


def _refuse_what_the_scenario_says(
    market: list[str] | None, product: str | None, use: str | None, workshop: str | None
) -> None:
    given = {
        "--market": market,
        "--product": product,
        "--use": use,
        "--workshop": workshop,
    }
    fix = "leave it out, or leave the scenario out to check the limits alone"
    wrong = "is not for a scenario, which says it itself"
    problems = [Problem(wrong, field=name, fix=fix) for name, it in given.items() if it]
    if problems:
        raise InputError(problems)


def _limits_alone(
    formula: Path,
    market: list[str] | None,
    product: str | None,
    use: str | None,
    workshop: str | None,
) -> tuple[Scenario, Catalogue, tuple[str, ...]]:
    """Return a scenario without wishes, its catalogue, and what was taken as given.

    Raises
    ------
    InputError
        If it is not told where or how the product is used, or not known.
    """
    from optimiser.cli.reading import shown_as_asked  # noqa: PLC0415
    from optimiser.domain.material import PARTS  # noqa: PLC0415
    from optimiser.domain.scenario import Scenario  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.markets import known_markets, markets_named  # noqa: PLC0415

    workshop = workshop_used(workshop)
    catalogue = read_catalogue(catalogues_folder(None), workshop)
    shown_as_asked(catalogue)
    problems: list[Problem] = []
    markets = markets_named(market or (), catalogue, problems)
    if not market:
        known = f"the markets are {', '.join(known_markets(catalogue))}"
        fix = phrase(
            "name where it is sold, as in ",
            Option("market", "EU"),
            f"; or name a scenario; {known}",
        )
        problems.append(Problem("is missing", field="--market", fix=fix))
    used, said = _use(product, use, problems)
    if problems:
        raise InputError(problems)
    asked = Scenario(
        title=f"{formula.name}, {product}" if product else formula.name,
        file="",
        workshop=workshop or "",
        use=used,
        markets=markets,
        batch_kg=1.0,
        aims=(),
        product=product,
        parts=PARTS,
    )
    return asked, catalogue, said


def _use(
    product: str | None, use: str | None, problems: list[Problem]
) -> tuple[str, tuple[str, ...]]:
    """Return how a product is used, and what was read into its name."""
    from optimiser.domain.products import kinds_of  # noqa: PLC0415
    from optimiser.domain.spoken import use_of  # noqa: PLC0415

    if use is not None:
        if use not in USES:
            fix = phrase("write ", *EITHER_USE)
            problems.append(Problem("is no use", field="--use", found=use, fix=fix))
        return use, ()
    found = None if product is None else use_of(product)
    if product is None:
        fix = phrase(
            "say what it is, as in ",
            Option("product", '"lip balm"'),
            "; or ",
            Option("use", "leave-on"),
        )
        problems.append(Problem("is missing", field="--product", fix=fix))
    elif found is None:
        wrong = "does not tell whether it stays on the skin or is rinsed off"
        fix = phrase("add ", *EITHER_USE)
        problems.append(Problem(wrong, field="--product", found=product, fix=fix))
    if product is None or not found:
        return "", ()
    kinds = " and ".join(kinds_of(product, found))
    return found, (f"{product} is taken as {kinds}, {found}; --use says otherwise",)
