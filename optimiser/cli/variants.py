"""``optimiser variants``: clearly different formulas, or themes from one base."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED, ATTENTION, CLASH
from optimiser.cli.studying import (
    SECONDS,
    AsJson,
    Bar,
    Batch,
    Full,
    Out,
    ScenarioFile,
    Thorough,
    of_size,
    refuse_page_file,
    refuse_the_same_file,
    show_clash,
    show_result,
    write,
)

if TYPE_CHECKING:
    from optimiser.domain.scenario import Scenario
    from optimiser.studies.themes import Themes

__all__ = ["variants"]

MOST_IN_PAIRS = 8


def variants(  # noqa: PLR0913, PLR0917 - one a choice
    scenario: ScenarioFile,
    count: Annotated[int, typer.Option("--count", help="How many formulas.")] = 4,
    within: Annotated[
        float, typer.Option("--within", help="Percent over the least cost, at most.")
    ] = 5.0,
    apart: Annotated[
        float,
        typer.Option("--apart", help="Percent of the formula that differs, at least."),
    ] = 10.0,
    apart_by_category: Annotated[
        float,
        typer.Option("--apart-by-category", help="Percent by category, at least."),
    ] = 0.0,
    apart_by_kind: Annotated[
        float,
        typer.Option("--apart-by-kind", help="Percent by kind: like oils are alike."),
    ] = 0.0,
    other_ingredients: Annotated[
        bool,
        typer.Option(
            "--other-ingredients", help="Each with another set of ingredients."
        ),
    ] = False,
    theme: Annotated[
        list[Path] | None,
        typer.Option("--theme", help="Themes instead: a TOML file, or a folder."),
    ] = None,
    batch: Batch = None,
    thorough: Thorough = False,
    full: Full = False,
    out: Out = None,
    json: AsJson = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Also write the formulas (.csv or .xlsx)."),
    ] = None,
) -> None:
    """Find clearly different formulas near the least cost.

    Example: optimiser variants scenarios/massage_bar.toml --count 4 --within 5
    """
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.variants import variants_page  # noqa: PLC0415
    from optimiser.studies import variants as study  # noqa: PLC0415

    columns = ("theme" if theme else "variant", *tables.FORMULAS)
    refuse_the_same_file(csv, scenario, *(theme or ()), columns=columns)
    refuse_page_file(out, scenario)
    if theme:
        laid = _themes(scenario, theme, batch)
        raise typer.Exit(_show_themes(laid, json, csv, out, full=full))
    asked, catalogue = kept_scenario(scenario)
    asked = of_size(asked, batch)
    different = study.Different(
        apart,
        apart_by_category,
        other_ingredients,
        points_by_kind=apart_by_kind,
    )
    bar = Bar("variants")
    seconds = None if thorough else SECONDS
    found = study.variants(
        asked, catalogue, count, within, different, seconds=seconds, progress=bar
    )
    bar.close()
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, csv, out=out))
    show_result(found, data.variants_data, variants_page, full=full, json=json, out=out)
    write(csv, tables.variants_sheet(found))
    raise typer.Exit(ATTENTION if found.stopped else ANSWERED)


def _themes(scenario: Path, paths: list[Path], batch: str | None) -> Themes:
    """Read a scenario with each theme, and with each two of a few, and solve them."""
    from optimiser.domain.catalogue import Catalogue  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415
    from optimiser.reading.layers import Overlay, read_overlays  # noqa: PLC0415
    from optimiser.studies.themes import themes  # noqa: PLC0415

    known: dict[str | None, Catalogue] = {}

    def read(*over: Overlay) -> tuple[Scenario, Catalogue]:
        asked, catalogue = read_scenario(scenario, over, known)
        return of_size(asked, batch), catalogue

    plain = read()
    overlays = read_overlays(paths)
    alone = [(each.name, read(each)) for each in overlays]
    pairs = [
        (first, second, read(overlays[first], overlays[second]))
        for first, second in combinations(range(len(overlays)), 2)
        if len(overlays) <= MOST_IN_PAIRS
    ]
    return themes(plain, alone, pairs)


def _show_themes(
    found: Themes, as_json: bool, csv: Path | None, out: Path | None, *, full: bool
) -> int:
    """Show themes; the rules clash where no theme at all is possible.

    Raises
    ------
    InputError
        If none is, for the input lacks something.
    """
    from optimiser.errors import InputError  # noqa: PLC0415
    from optimiser.presenting.studies import data, tables  # noqa: PLC0415
    from optimiser.presenting.studies.themes import themes_page  # noqa: PLC0415

    if found.lacking and not found.possible:
        raise InputError(found.lacking)
    show_result(found, data.themes_data, themes_page, full=full, json=as_json, out=out)
    write(csv, tables.themes_sheet(found))
    if found.lacking:
        return ATTENTION
    return ANSWERED if found.possible else CLASH
