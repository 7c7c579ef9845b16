"""Scenario and catalogue to a list of rules: one module for each kind."""

from optimiser.rules.build import build, part_amounts
from optimiser.rules.complete import at_their_least, complete

__all__ = ["at_their_least", "build", "complete", "part_amounts"]
