"""Recipes as people write them, to domain values."""

from optimiser.reading.recipes.amounts import amount_and_name, read_amount
from optimiser.reading.recipes.answers import read_answers
from optimiser.reading.recipes.knowledge import Knowledge, read_knowledge
from optimiser.reading.recipes.names import Matcher
from optimiser.reading.recipes.tables import read_recipe_table

__all__ = [
    "Knowledge",
    "Matcher",
    "amount_and_name",
    "read_amount",
    "read_answers",
    "read_knowledge",
    "read_recipe_table",
]
