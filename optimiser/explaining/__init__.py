"""Answers: binding rules, prices, break-even prices and clashes."""

from optimiser.explaining.answer import Answer, Checked, Clash
from optimiser.explaining.check import check
from optimiser.explaining.formulate import formulate

__all__ = ["Answer", "Checked", "Clash", "check", "formulate"]
