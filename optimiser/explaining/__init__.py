"""Answers: binding rules, prices, break-even prices and clashes."""

from optimiser.explaining.answer import Answer, Checked, Clash
from optimiser.explaining.check import check
from optimiser.explaining.formulate import clash_of, formulate

__all__ = ["Answer", "Checked", "Clash", "check", "clash_of", "formulate"]
