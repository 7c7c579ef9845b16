"""The one way of names that are no spelling of the catalogue, for every table.

A price list may say "Beeswax pastilles" as a recipe does.
"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.domain.catalogue import Catalogue
from optimiser.reading.disk import exists

if TYPE_CHECKING:
    from optimiser.domain.recipe import Match
    from optimiser.reading.recipes.names import Matcher

__all__ = ["NameReader"]


class NameReader:
    """Reads names by the words of recipes, which are looked for when one is met.

    Parameters
    ----------
    folder : Path
        The folder of catalogues.
    own : Path or None
        The workshop's folder; what its maker taught counts first.
    catalogue : Catalogue
        Its ingredients are what names may stand for.
    """

    def __init__(self, folder: Path, own: Path | None, catalogue: Catalogue) -> None:
        self._folder, self._own, self._catalogue = folder, own, catalogue

    def __reduce__(self) -> tuple[type[NameReader], tuple[object, ...]]:
        """Be kept as what it was made of; the words are looked for again."""
        return NameReader, (self._folder, self._own, self._catalogue)

    @cached_property
    def _matcher(self) -> Matcher:
        from optimiser.reading.recipes.knowledge import (  # noqa: PLC0415 - seldom needed
            TAUGHT_FILE,
            read_taught,
            read_words,
        )
        from optimiser.reading.recipes.names import Matcher  # noqa: PLC0415 - as above

        words = read_words(self._folder, self._catalogue, [])
        taught: dict[str, Match] = {}
        if self._own is not None and exists(self._own / TAUGHT_FILE):
            path = self._own / TAUGHT_FILE  # its problems are told by who reads recipes
            taught = read_taught(path, str(path), self._catalogue, [])
        return Matcher(self._catalogue, words, taught)

    def read(self, name: str) -> str | None:
        """Return the ingredient that a name stands for beyond doubt, or None."""
        from optimiser.reading.recipes.names import certain  # noqa: PLC0415 - as above

        return certain(self._matcher.match(name))

    def left_open(self, name: str) -> str | None:
        """Return which ingredients a name may stand for, if they are several."""
        several = len(self._matcher.match(name).options) > 1
        return self._matcher.left_open(name) if several else None
