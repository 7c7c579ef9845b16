"""Rules to amounts: the only place that imports pulp or highspy."""

from optimiser.solving.forcing import OneMore
from optimiser.solving.optimise import (
    TRACE,
    Infeasible,
    Optimum,
    attempted,
    is_better,
    less,
    optimise,
    settled,
)
from optimiser.solving.patience import Patience, left, now, to_the_end, within
from optimiser.solving.repricing import Repriced, reprice
from optimiser.solving.rewriting import least_with_another_number
from optimiser.solving.session import CutShortError, Session, SolverError

__all__ = [
    "TRACE",
    "CutShortError",
    "Infeasible",
    "OneMore",
    "Optimum",
    "Patience",
    "Repriced",
    "Session",
    "SolverError",
    "attempted",
    "is_better",
    "least_with_another_number",
    "left",
    "less",
    "now",
    "optimise",
    "reprice",
    "settled",
    "to_the_end",
    "within",
]
