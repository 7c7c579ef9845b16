"""The scale that a workshop weighs on."""

from __future__ import annotations

from msgspec import Struct

__all__ = ["Scale"]


class Scale(Struct, frozen=True):
    """The step a scale shows and the least it should weigh, kg; None if not known."""

    readability: float | None
    smallest: float | None
