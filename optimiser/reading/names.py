"""Names that may be written, and the nearest ones to a name that may not."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cached_property

from optimiser.domain.catalogue import fold
from optimiser.errors import alike, told

__all__ = ["Names"]

MOST_NEAR = 3  # names that a message suggests


def _nothing(_: str) -> None:
    """Know nothing more of a name."""


class Names:
    """Spellings that are known, and what each stands for.

    Parameters
    ----------
    what : str
        What the names are, for messages: "ingredient", "category".
    known : mapping of spelling to what it stands for
        Compared without regard to case, underscores and doubled spaces.
    shown : iterable of str, optional
        Spellings to suggest from; all the known ones by default.
    read, left_open : functions of a name, optional
        What a name that is no spelling stands for all the same, or why it stands for
        no one thing; each None where it does not know either.
    """

    def __init__(
        self,
        what: str,
        known: Mapping[str, str],
        shown: Iterable[str] | None = None,
        read: Callable[[str], str | None] = _nothing,
        left_open: Callable[[str], str | None] = _nothing,
    ) -> None:
        self.what = what
        self._exact = known
        self._read, self._left_open = read, left_open
        self._shown = tuple(known if shown is None else shown)
        self._said: dict[str, str] = {}

    @classmethod
    def of(cls, what: str, names: Iterable[str]) -> Names:
        """Return names that stand for themselves."""
        return cls(what, {name: name for name in names})

    def find(self, text: str) -> str | None:
        """Return what a spelling stands for, or None."""
        found = self._exact.get(text)
        if found is None:
            found = self._folded.get(fold(text))
        return self._read(text) if found is None else found

    @cached_property
    def _folded(self) -> dict[str, str]:
        return {fold(name): value for name, value in self._exact.items()}

    def wrong(self, text: str) -> str:
        """Return what is wrong with an unknown spelling, with the nearest names.

        >>> Names.of("part", ["lipids", "solids"]).wrong("lipid")
        'is not a known part; the nearest known name is lipids'
        """
        if text not in self._said:
            near = told(self._near(text[:100]))
            wrong = f"is not a known {self.what}; {near}"
            self._said[text] = self._left_open(text) or wrong
        return self._said[text]

    def _near(self, text: str) -> list[str]:
        """Return the nearest names, one for each thing that they stand for."""
        found: dict[str, str] = {}
        for name in alike(text, self._shown, most=12):
            found.setdefault(self._exact.get(name) or self._folded[fold(name)], name)
        return list(found.values())[:MOST_NEAR]
