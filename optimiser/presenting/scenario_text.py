"""Scenarios that the program writes: the one it was asked, with easings."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from optimiser.presenting.words import clean

if TYPE_CHECKING:
    from optimiser.explaining.answer import WayOut

__all__ = ["eased_scenario"]


def eased_scenario(extends: str, way: WayOut) -> str:
    """Return a scenario file (TOML) that takes a way out of a clash.

    Parameters
    ----------
    extends : str
        The scenario that clashed, as seen from the file to be written.
    """
    lines = [
        "# The scenario it extends has rules that clash; this one eases:",
        *(f"#   {clean(easing.rule.sentence)}" for easing in way.easings),
        f"extends = {_text(extends)}",
        "",
        "[eased]",
        *(f"{_text(each.rule.id)} = {each.to!r}" for each in way.easings),
    ]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    """Return a TOML basic string; its escapes are those of JSON."""
    return json.dumps(value, ensure_ascii=False)
