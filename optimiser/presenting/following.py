"""What to run next: the last line of a short page, on the way from recipe to label."""

from __future__ import annotations

import re

from optimiser.presenting.page import Paragraph, Section, section
from optimiser.presenting.words import clean

__all__ = ["following", "next_told", "told_command"]

# By command; {file} is the scenario, as it is written on the command line.
NEXT = {
    "formulate": "`optimiser why {file}`, batch, label; --full.",
    "check alone": "`optimiser begin {folder} --from {file}` makes rules around it.",
    "check kept": "`optimiser batch {file}` weighs it; or --full.",
    "check broken": "`optimiser formulate {file}` mends that; or --full.",
    "why": '`optimiser why {file} --rule "{rule}"` follows one limit; `optimiser'
    " variants {file}`.",
    "why by cost": '`optimiser why {file} --by cost --rule "{rule}"` follows one'
    " limit.",
    "substitute": "--csv FILE keeps it; `optimiser pour FILE`, `optimiser label {file}"
    " --formula FILE`.",
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


def next_told(
    command: str, file: str = "", rule: str = "ID", folder: str = "FOLDER"
) -> str:
    """Return the line on what to run next.

    ``rule`` is the id of one to follow; ``folder`` where a workspace is or is begun.

    >>> next_told("check kept", "scenarios/my bar.toml")
    'Next: `optimiser batch "scenarios/my bar.toml"` weighs it; or --full.'
    """
    told = NEXT[command].format(file=_quoted(file), rule=clean(rule), folder=folder)
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


def following(
    command: str, file: str = "", folder: str = "FOLDER"
) -> tuple[Section, ...]:
    """Return it as the section that ends a page."""
    told = next_told(command, file, folder=folder)
    return section("", [Paragraph("", typed=told)], close=True)
