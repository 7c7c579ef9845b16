"""Catalogues as pages and data: apart from answers, which need none of it."""

from optimiser.presenting.catalogue.data import catalogue_data, ingredient_data
from optimiser.presenting.catalogue.inventory import inventory_data, inventory_page
from optimiser.presenting.catalogue.page import ingredient_page, list_page

__all__ = [
    "catalogue_data",
    "ingredient_data",
    "ingredient_page",
    "inventory_data",
    "inventory_page",
    "list_page",
]
