"""Recipes as people wrote them, and what each cell of them was read as."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from optimiser.domain.material import Origin

__all__ = [
    "Amount",
    "KitchenMeasure",
    "Match",
    "Reply",
    "Span",
    "UsualShare",
    "Volume",
    "Word",
    "Written",
    "WrittenLine",
]


class Span(Struct, frozen=True):
    """A number with the least and the greatest that it may be."""

    low: float
    value: float
    high: float

    @classmethod
    def exactly(cls, value: float) -> Span:
        """Return a number without doubt."""
        return cls(value, value, value)

    def times(self, other: Span | float) -> Span:
        """Return the product with a number of zero or more.

        >>> Span(1.0, 2.0, 3.0).times(2.0)
        Span(low=2.0, value=4.0, high=6.0)
        """
        if not isinstance(other, Span):
            return Span(self.low * other, self.value * other, self.high * other)
        return Span(
            self.low * other.low, self.value * other.value, self.high * other.high
        )

    def plus(self, other: Span) -> Span:
        """Return the sum with another number.

        >>> Span(1.0, 2.0, 3.0).plus(Span.exactly(1.0))
        Span(low=2.0, value=3.0, high=4.0)
        """
        return Span(
            self.low + other.low, self.value + other.value, self.high + other.high
        )

    def meets(self, other: Span) -> bool:
        """Whether two spans have a number in common."""
        return self.low <= other.high and other.low <= self.high


class KitchenMeasure(Struct, frozen=True):
    """A number in a canonical unit: g, ml, %, part, drop, or "" where none stood.

    ``said`` is the measure as it was written; ``household`` tells spoons and cups,
    whose size is not the same everywhere, from millilitres; ``rough`` a figure that
    only stands approximately beside the first. ``filled`` is "heaped", "rounded",
    "generous", "scant", or "" where nothing is said of how full a spoon or cup is.
    """

    span: Span
    unit: str
    said: str
    household: bool = False
    rough: bool = False
    filled: str = ""


class Amount(Struct, frozen=True):
    """What the amount and unit cells of a line say.

    ``of`` is what it is a share of: "recipe" (like its neighbours), "base" or
    "product" (percent of), "on top" (percent of the base, added to it), or "rest" (what
    the others leave). ``per`` is the measure of mixture that an amount "on top" goes
    into, if it names one, or what a "rest" fills up to.
    ``unknown`` says why there is no number, ``question`` what has to be asked.
    ``sure`` is "as written", "converted", "assumed" or "unknown".
    """

    measures: tuple[KitchenMeasure, ...]
    of: str = "recipe"
    per: KitchenMeasure | None = None
    unknown: str | None = None
    question: str | None = None
    remarks: tuple[str, ...] = ()
    sure: str = "as written"

    def measure(self, *units: str) -> KitchenMeasure | None:
        """Return the first measure in one of some units, or None."""
        return next((each for each in self.measures if each.unit in units), None)


class Match(Struct, frozen=True):
    """What a written name stands for.

    ``options`` are ingredient keys: one if it is decided, several if the recipe
    leaves a choice or mixes them, none where only a category is known. ``category``
    is None where nothing is known, and may be the part "butters". ``form`` is how a
    spoon of it is filled: melted, grated, packed, pellets or "". ``asked`` if the
    options are grades of one thing, the usual one first, and which it is has to be
    asked; ``open`` if something that is not named may be meant as well; ``mixed`` if
    the options are in it together, with shares that are not told.
    """

    options: tuple[str, ...]
    category: str | None
    how: str
    sure: str
    form: str = ""
    score: float = 1.0
    nearest: str | None = None
    absent: str | None = None
    asked: bool = False
    open: bool = False
    mixed: bool = False

    @property
    def usual(self) -> tuple[str, ...]:
        """The options; of grades that are asked, the usual one."""
        return self.options[:1] if self.asked else self.options

    @property
    def ingredient(self) -> str | None:
        """The ingredient, if it is decided."""
        return self.options[0] if len(self.options) == 1 and not self.open else None


class WrittenLine(Struct, frozen=True):
    """One line of a recipe: its cells, and the row they stand in."""

    name: str
    amount: str
    unit: str
    origin: Origin
    carried: bool = False


class Written(Struct, frozen=True):
    """A recipe as it was written; ``note`` is what its remarks column says."""

    name: str
    product_class: str
    note: str
    file: str
    lines: tuple[WrittenLine, ...]


class Volume(Struct, frozen=True):
    """What a millilitre of a filled spoon or cup weighs, [g/ml]."""

    density: Span
    evidence: str
    source: str
    origin: Origin


class Word(Struct, frozen=True):
    """What a word of recipes stands for: ingredient keys, a category, or neither.

    ``match`` is where it counts: "whole" names, at the "end", anywhere ("contains");
    "noun" names its ingredient alone and tells the category at the end of others.
    A "guess" is a name of the catalogue's that often means other goods: it is told as
    a guess. Of "same" words, ``other`` are the words that they are short for.
    """

    words: str
    match: str
    options: tuple[str, ...]
    category: str | None
    other: str = ""


class UsualShare(Struct, frozen=True):
    """Least share that works and the share past which a line needs a question, %."""

    category: str
    least: float | None
    far: float | None
    source: str


class Reply(Struct, frozen=True):
    """What the maker answered about a line, or a recipe where ``name`` is blank.

    ``kind`` is "amount", "as written", "leave out", "by weight" or "by volume";
    "is" names what the line is.
    """

    kind: str
    recipe: str
    name: str
    text: str
    origin: Origin
    match: Match | None = None


Replies = Mapping[tuple[str, str], Reply]
