"""Files to domain values; every problem gathered with file, row, field and fix."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.reading.catalogue import read_catalogue
    from optimiser.reading.folders import nearest_catalogues, shipped_folder
    from optimiser.reading.formulas import read_formula
    from optimiser.reading.scenario import read_scenario

__all__ = [
    "nearest_catalogues",
    "read_catalogue",
    "read_formula",
    "read_scenario",
    "shipped_folder",
]

_HOMES = {
    "nearest_catalogues": "folders",
    "read_catalogue": "catalogue",
    "read_formula": "formulas",
    "read_scenario": "scenario",
    "shipped_folder": "folders",
}


def __getattr__(name: str) -> object:
    """Load a name when first used: what is kept of a scenario needs none of them."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module '{__name__}' has no attribute '{name}'")
    return getattr(import_module(f"{__name__}.{home}"), name)
