"""What was made: batches as entries in a book that only grows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Annotated, TypeVar

from msgspec import Meta, Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import fold
from optimiser.domain.material import Lot

__all__ = [
    "FILE",
    "MOST_GRAMS",
    "MOST_UNITS",
    "BatchMade",
    "Book",
    "Entry",
    "Fact",
    "Note",
    "Recorded",
    "Temperature",
    "UnitWeight",
    "Units",
    "VerdictGiven",
    "WeighedIn",
    "Yielded",
    "counts_from",
    "is_of",
    "percents",
    "shelf",
    "taken",
]

FILE = "records.sqlite"  # of a workshop's folder, that holds its book
DUST = 1e-9  # kg: what is left of a sum that is rounded
# What a fact may hold: a file from elsewhere may say anything.
MOST_GRAMS, MOST_UNITS = 1e7, 1_000_000
Grams = Annotated[float, Meta(ge=0.0, le=MOST_GRAMS)]
Degrees = Annotated[float, Meta(ge=-300.0, le=1000.0)]
Count = Annotated[int, Meta(ge=1, le=MOST_UNITS)]
Depth = Annotated[float, Meta(gt=0.0, le=1000.0)]


class BatchMade(Struct, frozen=True, tag="batch"):
    """A batch: its number, day, scenario, and how it kept the rules when recorded.

    ``scenario`` is its file as seen from the workspace; ``broken`` are the rules that
    the weighed amounts broke, as sentences, and ``not_judged`` what could not be;
    ``over`` are limits of others that they passed, for the scenario eased them.
    """

    number: str
    made_on: date
    title: str
    scenario: str
    use: str
    markets: tuple[str, ...] = ()
    checked_by: str = ""
    broken: tuple[str, ...] = ()
    not_judged: tuple[str, ...] = ()
    over: tuple[str, ...] = ()


class WeighedIn(Struct, frozen=True, tag="weighed"):
    """What went in of one lot, g; ``lot`` empty and ``planned`` None are not known."""

    ingredient: str
    name: str
    lot: str
    grams: Grams
    planned: Grams | None = None
    stage: str = ""


class Temperature(Struct, frozen=True, tag="temperature"):
    """A temperature that was read at a stage, deg C."""

    stage: str
    degrees: Degrees


class Yielded(Struct, frozen=True, tag="yield"):
    """What came out of the pot, g."""

    grams: Grams


class Units(Struct, frozen=True, tag="units"):
    """How many units were filled, and the net weight on their label, g."""

    count: Count
    net: Grams | None = None


class UnitWeight(Struct, frozen=True, tag="unit weight"):
    """What one unit weighs, net, g."""

    unit: str
    grams: Grams


class VerdictGiven(Struct, frozen=True, tag="verdict"):
    """How firm a bar was; ``unit`` empty: the batch. Temperatures in deg C.

    ``penetration`` in tenths of a millimetre. None is not observed.
    """

    unit: str = ""
    room: Degrees | None = None
    verdict: str | None = None
    drop_point: Degrees | None = None
    penetration: Depth | None = None
    note: str = ""


class Note(Struct, frozen=True, tag="note"):
    """Anything else worth keeping, in words."""

    text: str


Fact = (
    BatchMade
    | WeighedIn
    | Temperature
    | Yielded
    | Units
    | UnitWeight
    | VerdictGiven
    | Note
)
Kind = TypeVar("Kind")


class Entry(Struct, frozen=True):
    """One line of the book.

    ``at`` is when it was written, ``batch`` the first entry of the batch that it
    belongs to (None for that entry itself), ``corrects`` the entry whose place it
    takes; a ``fact`` of None takes that one back.
    """

    id: int
    at: str
    by: str
    fact: Fact | None
    batch: int | None = None
    corrects: int | None = None
    why: str = ""


class Recorded(Struct, frozen=True):
    """One batch: what counts of it (``standing``), and all that was ever written."""

    id: int
    made: BatchMade
    standing: tuple[Entry, ...]
    history: tuple[Entry, ...]

    def of(self, kind: type[Kind]) -> tuple[Kind, ...]:
        """Return what counts of one kind, in the order in which it was written."""
        facts = (each.fact for each in self.standing)
        return tuple(fact for fact in facts if isinstance(fact, kind))

    @property
    def grams(self) -> float:
        """What was weighed in, g."""
        return sum(each.grams for each in self.of(WeighedIn))

    @property
    def formula(self) -> dict[str, float]:
        """The formula as made, percent by ingredient key; nothing without weighings."""
        return percents(self.of(WeighedIn))


def percents(weighed: Sequence[WeighedIn]) -> dict[str, float]:
    """Return what was weighed in percent of all of it, by ingredient key."""
    total, found = sum(each.grams for each in weighed), dict[str, float]()
    for each in weighed:
        share = 100.0 * each.grams / total if total else 0.0
        found[each.ingredient] = found.get(each.ingredient, 0.0) + share
    return {key: percent for key, percent in found.items() if percent > 0.0}


class Book:
    """All entries, and what counts of them: an entry counts until one corrects it."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self.entries = tuple(entries)
        self._corrected = {
            each.corrects: each for each in self.entries if each.corrects is not None
        }
        self._by_id = {each.id: each for each in self.entries}

    def entry(self, number: int) -> Entry | None:
        """Return an entry by its number, or None."""
        return self._by_id.get(number)

    def correction(self, number: int) -> Entry | None:
        """Return the entry that corrects one, or None while it stands."""
        return self._corrected.get(number)

    def latest(self, entry: Entry) -> Entry:
        """Return the last of the entries that correct each other from this one on."""
        while (later := self._corrected.get(entry.id)) is not None:
            entry = later
        return entry

    def root(self, entry: Entry) -> int:
        """Return the first entry of the batch that an entry belongs to."""
        return entry.id if entry.batch is None else entry.batch

    @property
    def batches(self) -> tuple[Recorded, ...]:
        """The batches that were not taken back, in the order of their days."""
        histories: dict[int, list[Entry]] = {}
        for each in self.entries:
            histories.setdefault(self.root(each), []).append(each)
        found = []
        for root, history in histories.items():
            made = self.latest(history[0]).fact
            if isinstance(made, BatchMade):
                standing = tuple(x for x in history if self._stands(x))
                found.append(Recorded(root, made, standing, tuple(history)))
        return tuple(sorted(found, key=lambda each: (each.made.made_on, each.id)))

    def _stands(self, entry: Entry) -> bool:
        return entry.fact is not None and entry.id not in self._corrected

    def batch(self, number: str) -> Recorded | None:
        """Return the batch of a number, or None."""
        same = number.strip().casefold()
        found = (x for x in self.batches if x.made.number.casefold() == same)
        return next(found, None)


def taken(batches: Sequence[Recorded], lot: Lot) -> float:
    """Return what batches took of a named lot since it was counted, g."""
    return sum(
        each.grams
        for batch in batches
        if counts_from(batch, lot)
        for each in batch.of(WeighedIn)
        if each.lot and is_of(each, lot)
    )


def counts_from(batch: Recorded, lot: Lot) -> bool:
    """Whether what a batch took is not in a lot's amount yet: made after the count."""
    return lot.counted is None or batch.made.made_on > lot.counted


def is_of(weighed: WeighedIn, lot: Lot) -> bool:
    """Whether something was weighed from a lot."""
    same = fold(weighed.lot) == fold(lot.lot)
    return weighed.ingredient == lot.ingredient and same


def shelf(lots: Sequence[Lot], batches: Sequence[Recorded]) -> tuple[Lot, ...]:
    """Return what is left of lots, kg; what more was taken than there was leaves none.

    What was weighed of a lot that nobody wrote down came from one without a name or,
    where that is empty, from the first to expire.
    """
    left = [lot.amount - taken(batches, lot) / 1000.0 for lot in lots]
    oldest = sorted(
        range(len(lots)),
        key=lambda at: (
            fold(lots[at].lot) != "",
            lots[at].expiry or date.max,
            lots[at].lot,
        ),
    )
    for batch in batches:
        for each in batch.of(WeighedIn):
            need = 0.0 if each.lot else each.grams / 1000.0
            for at in oldest:
                own = lots[at].ingredient == each.ingredient
                if need <= 0.0 or not own or not counts_from(batch, lots[at]):
                    continue
                kg = min(need, max(0.0, left[at]))
                left[at], need = left[at] - kg, need - kg
    return tuple(
        replace(lot, amount=kg if kg > DUST else 0.0)
        for lot, kg in zip(lots, left, strict=True)
    )
