"""The scale that a workshop weighs on."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Scale"]


@dataclass(frozen=True)
class Scale:
    """The step a scale shows and the least it should weigh, kg; None if not known."""

    readability: float | None
    smallest: float | None
