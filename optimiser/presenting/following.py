"""What to run next: the last line of a short page, on the way from recipe to label."""

from __future__ import annotations

import re
from collections.abc import Sequence

from optimiser.presenting.page import Paragraph, Section, section
from optimiser.presenting.words import clean

__all__ = ["begin_command", "begin_following", "following", "next_told", "told_command"]

# By command; {file} is the scenario, as it is written on the command line, {begins} the
# command that begins from a formula.
NEXT = {
    "formulate": "`optimiser why {file}`, batch, label; --full.",
    "check kept": "`{begins}` makes rules around it, to weigh it by (`optimiser batch"
    " {file}` weighs the scenario's own formula); or --full.",
    "check broken": "`optimiser formulate {file}` finds the scenario's own formula,"
    " which keeps them; or --full.",
    "check weighed": "`optimiser record batch {file} SHEET` keeps what was made; or"
    " --full.",
    "why": '`optimiser why {file} --rule "{rule}"` follows one limit; `optimiser'
    " variants {file}`.",
    "why by cost": '`optimiser why {file} --by cost --rule "{rule}"` follows one'
    " limit.",
    "substitute": "--csv FILE keeps it; `{begins}` makes rules around it, to weigh it"
    " by; `optimiser pour FILE`, `optimiser label {file} --formula FILE`.",
    "variants": "--csv FILE keeps them; `optimiser tradeoff {file}`.",
    "variants near": "--csv FILE keeps them; `optimiser robust {file}`.",
    "tradeoff": "--write turn FILE.toml keeps the turn; `optimiser batch FILE.toml`.",
    "robust": "`optimiser trials {file}` tells which test bars to pour.",
    "stock": "--csv FILE keeps what to take; `optimiser pour {file}`.",
    "fats": "`optimiser pour` how to pour it; `optimiser calibrate` with your bars.",
    "pour": "make 100 g, note in which room it was right, then `optimiser calibrate`.",
    "buy": "`optimiser batch {file}`.",
    "plan": "--write FOLDER keeps its formulas; `optimiser batch` weighs each.",
    "batch": "--csv SHEET; then `optimiser record batch {file} SHEET`.",
    "fill": "`optimiser cost {file}`; `optimiser label {file}`.",
    "weighed": "`optimiser record weights BATCH FILE` keeps them.",
    "cost": "`optimiser label {file}`.",
    "label": "--out FILE.html prints it; `optimiser record batch` keeps what was made.",
    "survey": "`optimiser formulate` what it wrote.",
}


def begin_command(
    folder: str,
    recipe: str,
    product: str | None = None,
    use: str | None = None,
    markets: Sequence[str] = (),
    *,
    again: bool = False,
) -> str:
    """Return the command that begins from a recipe, with all that is known of it.

    What it needs and nobody said stands there in capitals; ``again`` writes anew.

    >>> begin_command(".", "my bar.csv", markets=["EU"])
    'optimiser begin . --from "my bar.csv" --product PRODUCT --market EU'
    """
    told = f"optimiser begin {_quoted(folder)} --from {_quoted(recipe)}"
    if again:
        told += " --replace"
    if product or not use:
        told += f" --product {_quoted(product or 'PRODUCT')}"
    if use:
        told += f" --use {_quoted(use)}"
    for market in markets or ["MARKET"]:
        told += f" --market {_quoted(market)}"
    return told


def next_told(command: str, file: str = "", rule: str = "ID", begins: str = "") -> str:
    """Return the line on what to run next.

    ``rule`` is the id of one to follow, ``begins`` the command that begins from what
    the page is about.

    >>> next_told("buy", "scenarios/my bar.toml")
    'Next: `optimiser batch "scenarios/my bar.toml"`.'
    """
    told = NEXT[command].format(file=_quoted(file), rule=clean(rule), begins=begins)
    return f"Next: {told}"


def told_command(command: str, file: str) -> str:
    """Return a command as it is pasted, in the marks of one.

    >>> told_command("optimiser why {file} --by cost", "my bar.toml")
    '`optimiser why "my bar.toml" --by cost`'
    """
    return f"`{command.format(file=_quoted(file))}`"


def _quoted(file: str) -> str:
    told = clean(file)
    return (f'"{told}"' if re.search(r"[\s()&;']", told) else told) or "SCENARIO"


def following(command: str, file: str = "", begins: str = "") -> tuple[Section, ...]:
    """Return it as the section that ends a page."""
    told = next_told(command, file, begins=begins)
    return section("", [Paragraph("", typed=told)], close=True)


def begin_following(command: str) -> tuple[Section, ...]:
    """Return the command that begins from a recipe as the section that ends a page."""
    told = f"Next: `{command}` makes rules around it."
    return section("", [Paragraph("", typed=told)], close=True)
