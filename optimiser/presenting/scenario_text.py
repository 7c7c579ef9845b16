"""Scenarios that the program writes: the one it was asked, with easings."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from optimiser.presenting.words import clean

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import WayOut
    from optimiser.studies.made import Made

__all__ = ["eased_scenario", "point_scenario"]

# The same for every way, so that another one may take the place of one written before.
FIRST_LINE = (
    "# A way out of the clash in the scenario it extends: [eased] moves limits."
)


def eased_scenario(extends: str, way: WayOut) -> str:
    """Return a scenario file (TOML) that takes a way out of a clash.

    Parameters
    ----------
    extends : str
        The scenario that clashed, as seen from the file to be written.
    """
    lines = [
        FIRST_LINE,
        f"extends = {_text(extends)}",
        "",
        "[eased]",
        *(
            f"{_text(each.rule.id)} = {each.to!r}  # {clean(each.rule.sentence)}"
            for each in way.easings
        ),
    ]
    return "\n".join(lines) + "\n"


POINT_LINE = (
    "# A point of a trade-off: its formula as the base of the scenario it extends."
)


def point_scenario(
    extends: str, title: str, made: Made, scenario: Scenario, catalogue: Catalogue
) -> str:
    """Return a scenario file (TOML) whose base is the formula of a point.

    Its first aim is to stay there, so that its answer is that formula.

    Parameters
    ----------
    extends : str
        The scenario that the trade-off is of, as seen from the file to be written.
    scenario : Scenario
        That scenario: what is in its base and not in the formula is taken out.
    """
    used = {line.name: line.percent for line in made.formula if line.percent > 0}
    gone = [catalogue.ingredients[key].name for key in scenario.base]
    order = ["change", *(aim.name for aim in scenario.aims if aim.name != "change")]
    lines = [
        POINT_LINE,
        f"title   = {_text(clean(title))}",
        f"extends = {_text(extends)}",
        # The curve is of amounts in no steps.
        *(["amounts = false"] if scenario.steps is not None else []),
        "",
        "[aim]",
        f"order = [{', '.join(map(_text, order))}]",
        "",
        "[base]",
        *(f"{_text(name)} = {percent:.4f}" for name, percent in used.items()),
        *(f"{_text(name)} = false" for name in gone if name not in used),
    ]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    """Return a TOML basic string: its escapes are those of JSON, and one more."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
