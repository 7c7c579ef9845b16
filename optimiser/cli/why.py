"""``optimiser why``: what holds a formula, along every limit and every price."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import ANSWERED, say
from optimiser.cli.studying import show_clash

__all__ = ["why"]


def why(  # noqa: PLR0917 - one a question
    scenario: Annotated[Path, typer.Argument(help="Scenario file (TOML).")],
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
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Say what each rule costs, and what each price decides.

    Example: optimiser why scenarios/massage_bar.toml --rule "band/hard butter/min"
    """
    from optimiser import explaining, presenting  # noqa: PLC0415
    from optimiser.explaining import why as reasons  # noqa: PLC0415
    from optimiser.presenting import why_data, why_text  # noqa: PLC0415
    from optimiser.reading import read_scenario  # noqa: PLC0415

    if rule is None and (again or low is not None or high is not None):
        raise typer.BadParameter("--again, --from and --to go with --rule")
    asked, catalogue = read_scenario(scenario)
    data, text = "", ""
    if rule is None:
        found = reasons.why(asked, catalogue, near / 100.0)
        if found is not None:
            data = presenting.as_json(why_data.why_data(found))
            text = why_text.why_report(found)
    else:
        one = reasons.why_rule(asked, catalogue, rule, low=low, high=high, again=again)
        if one is not None:
            data = presenting.as_json(why_data.rule_curve_data(one))
            text = why_text.rule_report(one)
    if not text:
        clash = explaining.formulate(asked, catalogue)
        if not isinstance(clash, explaining.Clash):  # the same question, a moment ago
            raise RuntimeError("a clash was found and is gone")
        raise typer.Exit(show_clash(clash, json))
    say(data if json else text)
    raise typer.Exit(ANSWERED)
