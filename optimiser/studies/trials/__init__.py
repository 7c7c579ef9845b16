"""Which test bars to pour next: those whose verdicts tell most of a scenario."""

from optimiser.studies.trials.study import Bar, DoubtOf, Trials, trials

__all__ = ["Bar", "DoubtOf", "Trials", "trials"]
