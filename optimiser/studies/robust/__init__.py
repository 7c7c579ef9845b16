"""Robustness: how often a formula stays in spec, and one that bears more."""

from optimiser.studies.robust.doubt import Doubt
from optimiser.studies.robust.simulation import RuleKept, Simulated, simulate
from optimiser.studies.robust.study import Budgeted, Robust, robust

__all__ = [
    "Budgeted",
    "Doubt",
    "Robust",
    "RuleKept",
    "Simulated",
    "robust",
    "simulate",
]
