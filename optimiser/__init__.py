"""Formulation optimiser: ingredient amounts at least cost within every rule.

What a script needs, loaded when first asked for::

    from optimiser import formulate, read_scenario

    scenario, catalogue = read_scenario("scenarios/massage_bar.toml")
    answer = formulate(scenario, catalogue)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.errors import InputError, OptimiserError
    from optimiser.explaining import Answer, Checked, Clash
    from optimiser.explaining.check import check
    from optimiser.explaining.formulate import formulate
    from optimiser.presenting import report, to_frame
    from optimiser.reading import read_catalogue, read_formula, read_scenario

__all__ = [
    "Answer",
    "Catalogue",
    "Checked",
    "Clash",
    "InputError",
    "OptimiserError",
    "Scenario",
    "check",
    "formulate",
    "read_catalogue",
    "read_formula",
    "read_scenario",
    "report",
    "to_frame",
]

_HOMES = {
    "Answer": "explaining",
    "Catalogue": "domain.catalogue",
    "Checked": "explaining",
    "Clash": "explaining",
    "InputError": "errors",
    "OptimiserError": "errors",
    "Scenario": "domain.scenario",
    "check": "explaining",
    "formulate": "explaining",
    "read_catalogue": "reading",
    "read_formula": "reading",
    "read_scenario": "reading",
    "report": "presenting",
    "to_frame": "presenting",
}


def __dir__() -> list[str]:
    """Return the public names, also those that are not loaded yet."""
    return sorted({*globals(), *__all__})


def __getattr__(name: str) -> object:
    """Load a name when first used, so that ``optimiser --help`` need not wait."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'optimiser' has no attribute '{name}'")
    return getattr(import_module(f"optimiser.{home}"), name)
