"""From a unit or a batch to its lots, and from a lot to its batches and units."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import Lot
from optimiser.domain.record import Book, Recorded, UnitWeight, WeighedIn
from optimiser.errors import InputError, Problem, nearest
from optimiser.workshop.recording import unit_name, units_of

__all__ = [
    "BatchTrace",
    "LotTrace",
    "lots_in",
    "lots_of_sheet",
    "of_batch",
    "trace",
    "without_lot",
]


class BatchTrace(Struct, frozen=True):
    """A batch, or one unit of it with its weight, g; and when its lots expire."""

    batch: Recorded
    expiries: dict[tuple[str, str], date]
    unit: str | None = None
    unit_grams: float | None = None


class LotTrace(Struct, frozen=True):
    """A lot of an ingredient: what it was, what is left, kg, and who took of it, g.

    ``counted`` and ``left`` are None where stock.csv does not tell of it. ``perhaps``
    are batches that took of the ingredient from a lot that nobody wrote down.
    """

    ingredient: str
    name: str
    lot: str
    counted: float | None
    left: float | None
    expiry: date | None
    uses: tuple[tuple[Recorded, float], ...]
    perhaps: tuple[tuple[Recorded, float], ...] = ()


def trace(
    book: Book, catalogue: Catalogue, asked: str
) -> tuple[BatchTrace | LotTrace, ...]:
    """Return what a name stands for: a batch, a unit (BATCH/UNIT), a lot; all of them.

    Raises
    ------
    InputError
        If nothing has that name.
    """
    found: list[BatchTrace | LotTrace] = []
    batch = book.batch(asked)
    if batch is not None:
        found.append(of_batch(batch, catalogue))
    else:
        found += _unit(book, catalogue, asked)
    found += _lots(book, catalogue, asked)
    if not found:
        numbers = [each.made.number for each in book.batches]
        lots = [lot for _, lot in _known(book, catalogue)]
        wrong = f"is no batch, unit or lot; {nearest(asked, [*numbers, *lots])}"
        fix = "name a batch, a unit as BATCH/7, or a lot as it is printed on its pack"
        raise InputError([Problem(wrong, found=asked, fix=fix)])
    return tuple(found)


def of_batch(batch: Recorded, catalogue: Catalogue | None) -> BatchTrace:
    """Return the trace of a batch; without a catalogue no lot's expiry is known."""
    return BatchTrace(batch, {} if catalogue is None else _expiries(batch, catalogue))


def without_lot(batch: Recorded, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the names of what went into a batch of which no lot was written down."""
    went_in = batch.of(WeighedIn)
    written = {each.ingredient for each in went_in if each.lot}
    bare = {x.ingredient: x.name for x in went_in if x.ingredient not in written}
    known = catalogue.ingredients
    return tuple(known[x].name if x in known else name for x, name in bare.items())


def lots_of_sheet(
    weighed: Sequence[WeighedIn], catalogue: Catalogue
) -> tuple[Lot, ...]:
    """Return the lots that a filled-in batch sheet was weighed from.

    Of what has no lot written down it may be any that is on the shelf.
    """
    own = {(x.ingredient, fold(x.lot)) for x in weighed if x.lot}
    written = {ingredient for ingredient, _ in own}
    named = (x for x in catalogue.lots if (x.ingredient, fold(x.lot)) in own)
    return (*named, *(x for x in catalogue.stock if x.ingredient not in written))


def lots_in(batch: Recorded, catalogue: Catalogue) -> tuple[Lot, ...]:
    """Return the lots of stock.csv that a batch was weighed from."""
    own = {(x.ingredient, fold(x.lot)) for x in batch.of(WeighedIn) if x.lot}
    return tuple(x for x in catalogue.lots if (x.ingredient, fold(x.lot)) in own)


def _unit(book: Book, catalogue: Catalogue, asked: str) -> list[BatchTrace]:
    number, mark, unit = asked.rpartition("/")
    batch = book.batch(number) if mark else None
    if batch is None:
        return []
    same = [each for each in units_of(batch) if unit_name(each) == unit_name(unit)]
    if not same:
        count = len(units_of(batch))
        wrong = f"is no unit of batch {batch.made.number}, of which {count} are known"
        fix = "name one that was weighed, or a number up to how many were filled"
        raise InputError([Problem(wrong, found=unit, fix=fix)])
    weights = {unit_name(each.unit): each.grams for each in batch.of(UnitWeight)}
    grams = weights.get(unit_name(unit))
    return [BatchTrace(batch, _expiries(batch, catalogue), same[0], grams)]


def _expiries(batch: Recorded, catalogue: Catalogue) -> dict[tuple[str, str], date]:
    known = {(x.ingredient, fold(x.lot)): x.expiry for x in catalogue.lots}
    found = {}
    for each in batch.of(WeighedIn):
        expiry = known.get((each.ingredient, fold(each.lot)))
        if each.lot and expiry is not None:
            found[each.ingredient, each.lot] = expiry
    return found


def _known(book: Book, catalogue: Catalogue) -> dict[tuple[str, str], Lot | None]:
    """Return every lot that stock.csv or a batch names, as either writes it first."""
    found: dict[tuple[str, str], tuple[str, Lot | None]] = {}
    for lot in catalogue.lots:
        if lot.lot:
            found[lot.ingredient, fold(lot.lot)] = (lot.lot, lot)
    for batch in book.batches:
        for each in batch.of(WeighedIn):
            if each.lot:
                found.setdefault((each.ingredient, fold(each.lot)), (each.lot, None))
    return {(ingredient, name): lot for (ingredient, _), (name, lot) in found.items()}


def _lots(book: Book, catalogue: Catalogue, asked: str) -> list[LotTrace]:
    found = []
    for (ingredient, name), lot in _known(book, catalogue).items():
        if fold(name) != fold(asked):
            continue
        uses = _uses(book, ingredient, name)
        label = ingredient
        if ingredient in catalogue.ingredients:
            label = catalogue.ingredients[ingredient].name
        found.append(
            LotTrace(
                ingredient,
                label,
                name,
                None if lot is None else lot.amount,
                None if lot is None else _left(catalogue, ingredient, name),
                None if lot is None else lot.expiry,
                uses,
                _uses(book, ingredient, ""),
            )
        )
    return found


def _uses(book: Book, ingredient: str, lot: str) -> tuple[tuple[Recorded, float], ...]:
    """Return the batches that took of a lot, and g; of an empty name, of none told."""
    found = []
    for batch in book.batches:
        own = [
            each.grams
            for each in batch.of(WeighedIn)
            if each.ingredient == ingredient and fold(each.lot) == fold(lot)
        ]
        if own:
            found.append((batch, sum(own)))
    return tuple(found)


def _left(catalogue: Catalogue, ingredient: str, lot: str) -> float:
    """Return what is left of a lot, kg."""
    return sum(
        each.amount
        for each in catalogue.stock
        if each.ingredient == ingredient and fold(each.lot) == fold(lot)
    )
