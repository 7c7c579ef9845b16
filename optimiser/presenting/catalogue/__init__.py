"""Catalogues as text and data: apart from answers, which need none of it."""

from optimiser.presenting.catalogue.data import catalogue_data, ingredient_data
from optimiser.presenting.catalogue.inventory import inventory, inventory_data
from optimiser.presenting.catalogue.text import catalogue_list, ingredient_sheet

__all__ = [
    "catalogue_data",
    "catalogue_list",
    "ingredient_data",
    "ingredient_sheet",
    "inventory",
    "inventory_data",
]
