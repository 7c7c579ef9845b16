"""``optimiser report``: a formula and its reasons as one file to read and print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.cli.running import ANSWERED, CLASH, say
from optimiser.cli.studying import (
    SECONDS,
    Batch,
    ScenarioFile,
    keep_pages,
    of_size,
    refuse_page_file,
)

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import Answer
    from optimiser.presenting.page import Page

__all__ = ["report"]

COLDEST, HOTTEST, STEP = 10.0, 45.0, 2.5  # deg C


def report(
    scenario: ScenarioFile,
    out: Annotated[
        Path, typer.Option("--out", help="The file to write (.html or .xlsx).")
    ],
    batch: Batch = None,
    json: Annotated[bool, typer.Option("--json", help="Tell it as JSON.")] = False,
) -> None:
    """Write a formula and its reasons as one page to print.

    Example: optimiser report scenarios/massage_bar.toml --out report.html
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.presenting.page import said_once  # noqa: PLC0415

    refuse_page_file(out, scenario)
    asked, catalogue = kept_scenario(scenario)
    asked = of_size(asked, batch)
    found = explaining.formulate(asked, catalogue)
    if isinstance(found, explaining.Clash):
        pages = [presenting.clash_page(found)]
    else:
        pages = list(_pages(found, asked, catalogue))
    keep_pages(out, *said_once(pages))
    if json:
        say(presenting.as_json({"status": found.status, "file": str(out)}))
    raise typer.Exit(ANSWERED if found.status == "answered" else CLASH)


def _pages(answer: Answer, asked: Scenario, catalogue: Catalogue) -> list[Page]:
    """Return the pages of `formulate`, `fats`, `why` and `tradeoff`, with pictures.

    What is different against what it costs is left out where a price is missing.
    """
    import numpy as np  # noqa: PLC0415
    from msgspec.structs import replace  # noqa: PLC0415

    from optimiser.domain.scenario import Aim  # noqa: PLC0415
    from optimiser.explaining import why  # noqa: PLC0415
    from optimiser.explaining.firmness import firmness_curve  # noqa: PLC0415
    from optimiser.explaining.solid_fat import solid_fat_curve  # noqa: PLC0415
    from optimiser.presenting import answer_page  # noqa: PLC0415
    from optimiser.presenting.fats import fats_page  # noqa: PLC0415
    from optimiser.presenting.firmness import firmness_page  # noqa: PLC0415
    from optimiser.presenting.pictures import (  # noqa: PLC0415
        formula_pictures,
        price_pictures,
    )
    from optimiser.presenting.studies.tradeoff import tradeoff_page  # noqa: PLC0415
    from optimiser.presenting.why import why_page  # noqa: PLC0415
    from optimiser.rules.pool import choose  # noqa: PLC0415
    from optimiser.studies import tradeoff  # noqa: PLC0415

    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    at = np.arange(COLDEST, HOTTEST + 1e-9, STEP).tolist()
    curve = solid_fat_curve(f"How {answer.title} melts", amounts, catalogue, at)
    firm = firmness_curve(f"How firm {answer.title} is", amounts, asked, catalogue)
    pages = [
        answer_page(answer, catalogue.sources, full=True),
        formula_pictures(answer),
        firmness_page(firm),
        fats_page(curve, full=True),
    ]
    reasons = why.why(asked, catalogue, 0.01)
    if isinstance(reasons, why.Reasons):
        pages += [why_page(reasons, full=True), price_pictures(reasons)]
    priced = replace(asked, aims=(Aim("cost"),))
    if asked.base and not choose(priced, catalogue).problems:
        curve_of = tradeoff.tradeoff(asked, catalogue, seconds=SECONDS)
        if isinstance(curve_of, tradeoff.Tradeoff):
            pages.append(tradeoff_page(curve_of, full=True))
    return pages
