"""Files to domain values; every problem gathered with file, row, field and fix."""

from optimiser.reading.catalogue import read_catalogue
from optimiser.reading.folders import nearest_catalogues, shipped_folder
from optimiser.reading.formulas import read_formula
from optimiser.reading.scenario import read_scenario

__all__ = [
    "nearest_catalogues",
    "read_catalogue",
    "read_formula",
    "read_scenario",
    "shipped_folder",
]
