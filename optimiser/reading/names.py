"""Names that may be written, and the nearest ones to a name that may not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from optimiser.domain.catalogue import fold
from optimiser.errors import nearest

__all__ = ["Names"]

# Looking for the nearest of thousands of names takes long, so only so many
# different misspellings get a suggestion.
MOST_SUGGESTIONS = 40


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
    """

    def __init__(
        self, what: str, known: Mapping[str, str], shown: Iterable[str] | None = None
    ) -> None:
        self.what = what
        self._exact = known
        self._shown = tuple(known if shown is None else shown)
        self._said: dict[str, str] = {}

    @classmethod
    def of(cls, what: str, names: Iterable[str]) -> Names:
        """Return names that stand for themselves."""
        return cls(what, {name: name for name in names})

    def find(self, text: str) -> str | None:
        """Return what a spelling stands for, or None."""
        found = self._exact.get(text)
        return self._folded.get(fold(text)) if found is None else found

    @cached_property
    def _folded(self) -> dict[str, str]:
        return {fold(name): value for name, value in self._exact.items()}

    def wrong(self, text: str) -> str:
        """Return what is wrong with an unknown spelling, with the nearest names.

        >>> Names.of("part", ["lipids", "solids"]).wrong("lipid")
        'is not a known part; the nearest known name is lipids'
        """
        return f"is not a known {self.what}{self._suggestion(text)}"

    def _suggestion(self, text: str) -> str:
        """Return the end of the sentence: the nearest names, while there are few."""
        if text not in self._said:
            if len(self._said) >= MOST_SUGGESTIONS:
                return ""
            self._said[text] = "; " + nearest(text[:100], self._shown)
        return self._said[text]
