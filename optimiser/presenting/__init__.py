"""Results as pages, JSON, CSV and data frames: the one place that rounds."""

from optimiser.presenting.answer import answer_page
from optimiser.presenting.check import check_page
from optimiser.presenting.clash import clash_page, way_page
from optimiser.presenting.data import (
    answer_data,
    as_json,
    checked_data,
    clash_data,
    problems_data,
)
from optimiser.presenting.report import report
from optimiser.presenting.sheet import HEADER, formula_csv, formula_sheet, to_frame
from optimiser.presenting.terminal import as_text
from optimiser.presenting.words import clean
from optimiser.presenting.writing import write_whole

__all__ = [
    "HEADER",
    "answer_data",
    "answer_page",
    "as_json",
    "as_text",
    "check_page",
    "checked_data",
    "clash_data",
    "clash_page",
    "clean",
    "formula_csv",
    "formula_sheet",
    "problems_data",
    "report",
    "to_frame",
    "way_page",
    "write_whole",
]
