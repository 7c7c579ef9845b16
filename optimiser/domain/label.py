"""What the law of a market asks of the words on a label."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

__all__ = ["BORDER", "HEADS", "INCI_WORDS", "WORDS", "LabelRules", "Letters", "Maker"]

# Percent of the product below which, or up to which, ingredients stand in any order.
BORDER = 1.0
# What stands before the parts of a label, where a market asks for no other language.
HEADS: Mapping[str, str] = {
    "ingredients": "Ingredients",
    "contains": "Contains",
    "date": "Best used before",
    "made": "Made",
    "batch": "Batch",
}


# The words for scents and for flavours where a formula is told and no label written, by
# market: those of labels.csv, and the INCI's own elsewhere.
WORDS: Mapping[str, tuple[str, str]] = {
    "US": ("Fragrance", "Flavor"),
    "AU": ("Fragrance", "Flavour"),
}
INCI_WORDS = ("Parfum", "Aroma")


class Letters(Struct, frozen=True):
    """How high letters must be, mm: a small x at least.

    ``small`` counts where there are less than ``under`` cm2 to print on. ``law`` is
    False where no law of the market gives a figure and this is a yardstick.
    """

    high: float
    under: float = 0.0
    small: float = 0.0
    law: bool = True

    def on(self, area: float) -> float:
        """Return the least height on a label of an area in cm2.

        >>> Letters(1.6, 77.4, 0.8).on(24.0), Letters(1.6, 77.4, 0.8).on(77.4)
        (0.8, 1.6)
        """
        return self.small if area < self.under else self.high


class Maker(Struct, frozen=True):
    """Who makes it and where, as a workshop says it; blank is not known.

    ``elsewhere`` is who stands for the maker on the labels of a market.
    """

    name: str = ""
    address: str = ""
    contact: str = ""
    elsewhere: Mapping[str, Maker] = field(default_factory=dict)

    def on(self, market: str) -> Maker:
        """Return who stands on the labels of a market."""
        return self.elsewhere.get(market, self)

    @property
    def says(self) -> Mapping[str, str]:
        """What of a label it fills in: the address with the name, and a contact."""
        whole = ", ".join((self.name, self.address)) if self.name else ""
        found = {"address": whole if self.address else "", "contact": self.contact}
        return {what: text for what, text in found.items() if text}


class LabelRules(Struct, frozen=True):
    """The rules of one market.

    Attributes
    ----------
    border_free : bool
        Whether what is exactly 1 % may stand in any order too.
    scent, flavour : str
        The word that stands for scents, and for flavours.
    scent_last : bool
        Whether that word stands at the end.
    names : mapping of folded INCI name to the name of this market
    durable_months : int or None
        A product that keeps longer needs no date, but a period after opening; None
        where no date is asked for.
    no_content_under : float
        Grams below which no net content is asked for.
    ounces : bool
        Whether ounces stand before grams.
    to_fill_in, told : tuples of (what, text)
        What must be on it that is not known here; what else is to be minded.
    instruments, reads : tuples of str
        What was read and how well: retrieved, secondary, memory.
    heads : mapping of part to the words before it, as in HEADS
    """

    market: str
    border_free: bool
    scent: str
    flavour: str
    scent_last: bool
    letters: Letters
    names: Mapping[str, str]
    durable_months: int | None
    no_content_under: float
    ounces: bool
    to_fill_in: tuple[tuple[str, str], ...]
    told: tuple[tuple[str, str], ...]
    instruments: tuple[str, ...]
    reads: tuple[str, ...]
    heads: Mapping[str, str]

    @property
    def dates_in_figures(self) -> bool:
        """Whether dates stand without words, for they are read in two languages."""
        return self.heads["date"] != HEADS["date"]

    def in_any_order(self, percent: float) -> bool:
        """Return whether an ingredient of a share may stand in any order.

        Up to rounding: what is weighed as 1 % is 1 %.
        """
        edge = 1e-6 if self.border_free else -1e-6
        return percent < BORDER + edge
