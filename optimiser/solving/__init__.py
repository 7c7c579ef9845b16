"""Rules to amounts: the only place that imports pulp or highspy."""

from optimiser.solving.optimise import (
    TRACE,
    Infeasible,
    Optimum,
    attempted,
    is_better,
    less,
    optimise,
)
from optimiser.solving.patience import left, within
from optimiser.solving.repricing import Repriced, reprice
from optimiser.solving.session import Session, SolverError

__all__ = [
    "TRACE",
    "Infeasible",
    "Optimum",
    "Repriced",
    "Session",
    "SolverError",
    "attempted",
    "is_better",
    "left",
    "less",
    "optimise",
    "reprice",
    "within",
]
