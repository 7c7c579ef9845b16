"""Kinds of rule that are read by a module of their own in `reading.kinds`.

Each module makes the rules of what the reader of the same name found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from optimiser.domain.kinds import modules_in
from optimiser.domain.rule import Rule
from optimiser.rules.space import Space

__all__ = ["OWN"]

OWN: tuple[Callable[[Space], Iterable[Rule]], ...] = tuple(
    each.rules for each in modules_in(__path__, __name__)
)
