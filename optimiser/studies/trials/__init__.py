"""Which test bars to pour next: those whose verdicts tell most of a scenario."""

from optimiser.studies.trials.study import DoubtOf, TestBar, Trials, Verdict, trials

__all__ = ["DoubtOf", "TestBar", "Trials", "Verdict", "trials"]
