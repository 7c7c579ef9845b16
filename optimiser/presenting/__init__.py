"""Results as pages, JSON, CSV and data frames: the one place that rounds."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
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
    from optimiser.presenting.reported import report
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

_HOMES = {
    "HEADER": "sheet",
    "answer_data": "data",
    "answer_page": "answer",
    "as_json": "data",
    "as_text": "terminal",
    "check_page": "check",
    "checked_data": "data",
    "clash_data": "data",
    "clash_page": "clash",
    "clean": "words",
    "formula_csv": "sheet",
    "formula_sheet": "sheet",
    "problems_data": "data",
    "report": "reported",
    "to_frame": "sheet",
    "way_page": "clash",
    "write_whole": "writing",
}


def __getattr__(name: str) -> object:
    """Load a name when first used: a short answer needs a few of them."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module '{__name__}' has no attribute '{name}'")
    return getattr(import_module(f"{__name__}.{home}"), name)
