"""Scenarios that the program writes: the one it was asked, with easings."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from optimiser.presenting.words import clean

if TYPE_CHECKING:
    from optimiser.explaining.answer import WayOut

__all__ = ["eased_scenario"]

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


def _text(value: str) -> str:
    """Return a TOML basic string: its escapes are those of JSON, and one more."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
