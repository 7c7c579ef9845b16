"""Rules to amounts: the only place that imports pulp or highspy."""

from optimiser.solving.optimise import (
    Infeasible,
    Optimum,
    attempted,
    is_better,
    less,
    optimise,
)
from optimiser.solving.repricing import Repriced, reprice
from optimiser.solving.session import Session

__all__ = [
    "Infeasible",
    "Optimum",
    "Repriced",
    "Session",
    "attempted",
    "is_better",
    "less",
    "optimise",
    "reprice",
]
