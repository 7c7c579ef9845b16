"""Scenario and catalogue to a list of rules: one module for each kind."""

from optimiser.rules.build import build, part_amounts
from optimiser.rules.complete import complete

__all__ = ["build", "complete", "part_amounts"]
