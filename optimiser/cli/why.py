"""``optimiser why``: what holds a formula, along every limit and every price."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import (
    AsJson,
    Out,
    ScenarioFile,
    Thorough,
    in_time,
    keep_pages,
    refuse_page_file,
    show_clash,
)

__all__ = ["why"]


def why(  # noqa: PLR0913, PLR0917 - one a question
    scenario: ScenarioFile,
    rule: Annotated[
        str | None, typer.Option("--rule", help="Only this rule, by its id.")
    ] = None,
    low: Annotated[
        float | None, typer.Option("--from", help="With --rule: lowest limit.")
    ] = None,
    high: Annotated[
        float | None, typer.Option("--to", help="With --rule: highest limit.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="With --rule: choose anew at each step.")
    ] = False,
    near: Annotated[
        float, typer.Option("--near", min=0.0, help="Near ties: within so many %.")
    ] = 1.0,
    by: Annotated[
        str | None,
        typer.Option(
            "--by", help="cost: of the cheapest formula, whatever is aimed at."
        ),
    ] = None,
    thorough: Thorough = False,
    full: Annotated[bool, typer.Option("--full", help="Everything there is.")] = False,
    out: Out = None,
    json: AsJson = False,
) -> None:
    """Say what each rule costs, and what each price decides.

    Example: optimiser why scenarios/massage_bar.toml --rule "band/hard butter/min"
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415
    from optimiser.explaining import Clash  # noqa: PLC0415
    from optimiser.explaining import why as reasons  # noqa: PLC0415
    from optimiser.presenting import why as shown  # noqa: PLC0415
    from optimiser.presenting.pictures import (  # noqa: PLC0415
        price_pictures,
        rule_picture,
    )

    if rule is None and (again or low is not None or high is not None):
        raise typer.BadParameter("--again, --from and --to go with --rule")
    if by not in {None, "cost"}:
        raise typer.BadParameter("--by takes cost alone, as in --by cost")
    refuse_page_file(out, scenario)
    asked, catalogue = kept_scenario(scenario)
    found: reasons.Reasons | reasons.RuleCurve | Clash
    with in_time(thorough=thorough):
        if rule is None:
            found = reasons.why(asked, catalogue, near / 100.0, cheapest=by is not None)
        else:
            asked = asked if by is None else reasons.by_cost(asked)
            found = reasons.why_rule(
                asked, catalogue, rule, low=low, high=high, again=again
            )
    if isinstance(found, Clash):
        raise typer.Exit(show_clash(found, json, out=out))
    if isinstance(found, reasons.Reasons):
        data, page = shown.why_data(found), shown.why_page(found, full=full)
        kept = (shown.why_page(found, full=True), price_pictures(found))
    else:
        data, page = shown.rule_curve_data(found), shown.rule_page(found)
        kept = (page, rule_picture(found))
    say(presenting.as_json(data) if json else presenting.as_text(page))
    if out is not None:
        keep_pages(out, *kept)
    raise typer.Exit(ANSWERED)
