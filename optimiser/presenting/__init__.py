"""Results as text, JSON, CSV and data frames: the one place that rounds."""

from optimiser.presenting.check_text import check_report
from optimiser.presenting.clash_text import clash_report
from optimiser.presenting.data import (
    answer_data,
    as_json,
    checked_data,
    clash_data,
    problems_data,
)
from optimiser.presenting.report import report
from optimiser.presenting.sheet import HEADER, formula_csv, to_frame
from optimiser.presenting.words import clean
from optimiser.presenting.writing import write_whole

__all__ = [
    "HEADER",
    "answer_data",
    "as_json",
    "check_report",
    "checked_data",
    "clash_data",
    "clash_report",
    "clean",
    "formula_csv",
    "problems_data",
    "report",
    "to_frame",
    "write_whole",
]
