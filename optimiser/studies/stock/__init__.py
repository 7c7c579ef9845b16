"""Stock: what the shelf makes today, what is left, and what runs out first."""

from optimiser.studies.stock.shelf import BaseBatch, Take
from optimiser.studies.stock.study import Stock, stock

__all__ = ["BaseBatch", "Stock", "Take", "stock"]
