"""What is added to the book of a workshop, held against what it holds already."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.bench import Scales
from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import Lot
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.record import (
    BatchMade,
    Book,
    Entry,
    Fact,
    Recorded,
    Units,
    UnitWeight,
    VerdictGiven,
    WeighedIn,
    Yielded,
    percents,
    taken,
)
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import in_part
from optimiser.errors import InputError, Option, Problem, nearest, phrase
from optimiser.explaining.answer import Checked
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.check import check
from optimiser.reading.records import FIRST, New
from optimiser.science.mixing import blend_value

__all__ = [
    "Unusable",
    "as_made",
    "batch_named",
    "corrected",
    "left_unweighed",
    "lots_problems",
    "more_of",
    "new_batch",
    "shortages",
    "unit_name",
    "units_of",
    "untold_lots",
    "unusable_verdicts",
]

LONGEST = 40  # signs of a number
LEAST = 1e-6  # percent
FIRMNESS = PROPERTIES["firmness"]
ROOMS = range(41)  # deg C that are looked at for another room
ROUNDED = 1.001  # more than this times what went in cannot come out


def as_made(
    weighed: Sequence[WeighedIn],
    scenario: Scenario,
    catalogue: Catalogue,
    scales: Scales | None = None,
) -> Checked:
    """Return what was weighed held against a scenario's rules.

    What was made came off the shelf: a rule on what is left there says nothing of it.

    Parameters
    ----------
    scales : Scales, optional
        What it was weighed on: a dose of one's own that is missed by no more than a
        step of the scale that bears it, beside the digit that formulas are written
        to, is no rule broken.
    """
    shares = percents(weighed)
    kg = sum(each.grams for each in weighed) / 1e3
    weighed_to = None
    if scales is not None and kg:
        weighed_to = {
            key: 100.0 * scales.step_at(kg * shares.get(key, 0.0) / 100.0) / kg
            for key in catalogue.ingredients
        }
    asked = replace(scenario, stock_only=None)
    return check(shares, asked, catalogue, weighed_to=weighed_to)


def left_unweighed(
    weighed: Sequence[WeighedIn],
    held: Checked,
    scenario: Scenario,
    catalogue: Catalogue,
) -> tuple[str, ...]:
    """Return names of what the scenario's formula has and nothing was weighed of.

    None where what was weighed keeps every rule: then it is a formula of its own.
    """
    if held.status == "kept":
        return ()
    try:
        solved = answer(scenario, catalogue, beside=True)
    except InputError:  # what stops the formula is told where it is asked for
        return ()
    if isinstance(solved, NoFormula):
        return ()
    had = {each.ingredient for each in weighed}
    used = [key for key, percent in solved.amounts.items() if percent > LEAST]
    return tuple(catalogue.ingredients[key].name for key in used if key not in had)


def batch_named(book: Book, number: str) -> Recorded:
    """Return a batch by its number.

    Raises
    ------
    InputError
        If there is none.
    """
    found = book.batch(number)
    if found is not None:
        return found
    known = [each.made.number for each in book.batches]
    wrong = f"is no batch that was recorded; {nearest(number, known)}"
    if not known:
        wrong = "is no batch: none is recorded yet"
    fix = "see them with: optimiser record list"
    raise InputError([Problem(wrong, field="batch", found=number, fix=fix)])


def new_batch(
    book: Book,
    made: BatchMade,
    facts: Sequence[Fact],
    lots: Sequence[Lot],
    sheet: str | None = None,
) -> list[New]:
    """Return the entries of a new batch; without a number it gets the day's next.

    ``sheet`` is the file that names the lots, for messages.

    Raises
    ------
    InputError
        If the number is taken, the same was recorded already, or a lot is not known.
    """
    weighed = [each for each in facts if isinstance(each, WeighedIn)]
    problems = []
    if made.number:
        problems += _number_problems(book, made.number)
        problems += _lot_problems(made.number, weighed, lots)
    facts = [_spelled(x, lots) if isinstance(x, WeighedIn) else x for x in facts]
    problems += lots_problems(book, weighed, lots, sheet)
    problems += _yield_problems(sum(x.grams for x in weighed), facts)
    same = [x for x in book.batches if x.made.made_on == made.made_on]
    twin = next(
        (x for x in same if _weighings(x.of(WeighedIn)) == _weighings(facts)), None
    )
    if twin is not None and not made.number:
        wrong = f"is recorded already, as {twin.made.number}: the same day and weights"
        number = Option("number", "NAME")
        fix = phrase("if it was made twice, give this one a number: ", number)
        problems.append(Problem(wrong, field="batch", fix=fix))
    if problems:
        raise InputError(problems)
    if not made.number:
        made = replace(made, number=_next_number(book, made.made_on))
    return [New(made), *(New(each, FIRST) for each in facts)]


def _weighings(facts: Sequence[Fact]) -> list[tuple[str, str, float]]:
    weighed = [each for each in facts if isinstance(each, WeighedIn)]
    return sorted((x.ingredient, fold(x.lot), x.grams) for x in weighed)


def _next_number(book: Book, day: date) -> str:
    """Return the first free number of a day; one that was taken back stays taken."""
    used = {
        each.fact.number.casefold()
        for each in book.entries
        if isinstance(each.fact, BatchMade)
    }
    place = 1
    while f"{day}-{place}" in used:
        place += 1
    return f"{day}-{place}"


def _number_problems(book: Book, number: str) -> list[Problem]:
    if not number.strip() or len(number) > LONGEST or not number.isprintable():
        wrong, fix = "is no number for a batch", f"write up to {LONGEST} letters"
    elif "/" in number:
        wrong, fix = "has a /, which parts a batch from its unit", "write - instead"
    elif book.batch(number) is not None:
        wrong, fix = "is the number of another batch", "give this one its own"
    else:
        return []
    return [Problem(wrong, field="--number", found=number, fix=fix)]


def _lot_problems(
    number: str, weighed: Sequence[WeighedIn], lots: Sequence[Lot]
) -> list[Problem]:
    """Return that a batch would have the name of a lot: a trace could not tell."""
    named = [(x.lot, x.ingredient) for x in lots]
    named += [(x.lot, x.ingredient) for x in weighed]
    of = {fold(lot): key for lot, key in named if lot}.get(fold(number))
    if of is None:
        return []
    wrong = f"is a lot of {of.replace('_', ' ')}: a trace could not tell them apart"
    fix = "give the batch a number of its own, or none: it gets the day's next"
    return [Problem(wrong, field="--number", found=number, fix=fix)]


def lots_problems(
    book: Book,
    weighed: Sequence[WeighedIn],
    lots: Sequence[Lot],
    sheet: str | None = None,
) -> list[Problem]:
    """Return which lots are known neither to stock.csv nor to an earlier batch.

    An ingredient of which stock.csv has no row may come from any lot.
    """
    found = []
    for each in weighed:
        known = [x.lot for x in lots if x.ingredient == each.ingredient and x.lot]
        if not each.lot or not known:
            continue
        if fold(each.lot) in map(fold, (*known, *_used(book, each.ingredient))):
            continue
        wrong = f"is no lot of {each.name} in stock.csv; {nearest(each.lot, known)}"
        fix = "correct it, or add a row for that lot to stock.csv"
        found.append(Problem(wrong, sheet, None, "lots", each.lot, fix))
    return found


def untold_lots(
    book: Book, batch: Recorded, lots: Sequence[Lot]
) -> tuple[WeighedIn, ...]:
    """Return weighings from a lot that neither stock.csv nor an earlier batch names.

    It may be a slip of the pen, which would be missed when the lot is called back.
    """
    shelf = {(each.ingredient, fold(each.lot)) for each in lots}
    found = {}
    for each in batch.of(WeighedIn):
        lot = (each.ingredient, fold(each.lot))
        earlier = map(fold, _used(book, each.ingredient, before=batch))
        if each.lot and lot not in shelf and lot[1] not in earlier:
            found[lot] = each
    return tuple(found.values())


def _used(book: Book, ingredient: str, before: Recorded | None = None) -> set[str]:
    """Return the lots of an ingredient that batches took from, but for one batch."""
    return {
        each.lot
        for batch in book.batches
        for each in batch.of(WeighedIn)
        if each.ingredient == ingredient and (before is None or batch.id < before.id)
    }


def _spelled(weighed: WeighedIn, lots: Sequence[Lot]) -> WeighedIn:
    """Return a weighing with its lot as stock.csv writes it."""
    for lot in lots:
        same = lot.ingredient == weighed.ingredient
        if same and weighed.lot and fold(lot.lot) == fold(weighed.lot):
            return replace(weighed, lot=lot.lot)
    return weighed


def _yield_problems(went_in: float, facts: Sequence[Fact]) -> list[Problem]:
    found = []
    for each in facts:
        if isinstance(each, Yielded) and each.grams > went_in * ROUNDED:
            wrong = f"is more than the {went_in:.10g} g that went in"
            fix = "weigh it again without its vessel"
            found.append(
                Problem(wrong, field="yield", found=f"{each.grams:.10g} g", fix=fix)
            )
    return found


def more_of(batch: Recorded, facts: Sequence[Fact]) -> list[New]:
    """Return more entries of a batch: what there is once is not written twice.

    Raises
    ------
    InputError
        If a yield, a count of units or a unit's weight is there already.
    """
    problems = _yield_problems(batch.grams, facts)
    known = {unit_name(each.unit): each for each in batch.of(UnitWeight)}
    by_fact = {id(each.fact): each.id for each in batch.standing}
    weights = [each for each in facts if isinstance(each, UnitWeight)]
    for each in weights:
        before = known.get(unit_name(each.unit))
        if before is not None:
            problems.append(_there(f"unit {each.unit}", by_fact[id(before)]))
    for kind, what in ((Yielded, "the yield"), (Units, "the count of units")):
        had = batch.of(kind)
        if had and any(isinstance(each, kind) for each in facts):
            problems.append(_there(what, by_fact[id(had[0])]))
    count = next((each.count for each in batch.of(Units)), None)
    if weights and count is not None and len(weights) + len(known) > count:
        wrong = f"has {count} units, and more than that would be weighed"
        fix = "correct the count first: optimiser record correct ENTRY --to COUNT"
        problems.append(Problem(wrong, field=f"batch {batch.made.number}", fix=fix))
    verdicts = [each for each in facts if isinstance(each, VerdictGiven)]
    problems += [
        Problem(
            f"is no unit of batch {batch.made.number}",
            field="--unit",
            found=each.unit,
            fix="name one that was weighed, or a number up to how many were filled",
        )
        for each in verdicts
        if each.unit and unit_name(each.unit) not in map(unit_name, units_of(batch))
    ]
    if problems:
        raise InputError(problems)
    return [New(each, batch.id) for each in facts]


def _there(what: str, entry: int) -> Problem:
    fix = f"put it right with: optimiser record correct {entry} --to VALUE --why WHY"
    return Problem(f"{what} is recorded already, as entry {entry}", fix=fix)


def unit_name(text: str) -> str:
    """Return a unit as it is compared.

    >>> unit_name(" 07"), unit_name("A7")
    ('7', 'a7')
    """
    plain = text.strip().casefold()
    return str(int(plain)) if plain.isascii() and plain.isdigit() else plain


def units_of(batch: Recorded) -> tuple[str, ...]:
    """Return the names of a batch's units: numbers to its count, and those weighed."""
    count = max((each.count for each in batch.of(Units)), default=0)
    named = [each.unit for each in batch.of(UnitWeight)]
    names = {unit_name(x): x for x in [*map(str, range(1, count + 1)), *named]}
    return tuple(names.values())


def corrected(
    book: Book, number: int, fact: Fact | None, why: str, lots: Sequence[Lot]
) -> list[New]:
    """Return the entry that takes the place of another, or takes it back.

    Raises
    ------
    InputError
        If there is no such entry, or it was corrected already.
    """
    entry = book.entry(number)
    if entry is None:
        wrong = "is no entry of the book"
        fix = "see the entries of a batch with: optimiser record show BATCH --full"
        raise InputError([Problem(wrong, field="entry", found=str(number), fix=fix)])
    later = book.correction(number)
    if later is not None:
        wrong = f"was corrected already, by entry {later.id}"
        fix = f"correct entry {book.latest(entry).id} instead"
        raise InputError([Problem(wrong, field="entry", found=str(number), fix=fix)])
    if entry.fact is None:
        wrong = "takes another entry back, and holds nothing to correct"
        fix = "record it anew with: optimiser record add, weights or verdict"
        raise InputError([Problem(wrong, field="entry", found=str(number), fix=fix)])
    if isinstance(fact, WeighedIn):
        fact = _spelled(fact, lots)
    problems = _correction_problems(book, entry, fact, lots)
    if problems:
        raise InputError(problems)
    return [New(fact, book.root(entry), entry.id, why)]


class Unusable(Struct, frozen=True):
    """A verdict at a temperature at which nothing tells how firm its bar would be.

    ``room`` in deg C; ``unknown`` are names of ingredients; ``known`` the whole deg C
    between which the firmness of all is known, None where it is at none.
    """

    room: float
    unknown: tuple[str, ...]
    known: tuple[int, int] | None


def unusable_verdicts(batch: Recorded, catalogue: Catalogue) -> tuple[Unusable, ...]:
    """Return verdicts that the model cannot be held against where they were given."""
    formula = {k: p for k, p in batch.formula.items() if k in catalogue.ingredients}
    part = in_part(formula, catalogue, "lipids")
    rooms = [x.room for x in batch.of(VerdictGiven) if x.room is not None]
    found = []
    for room in dict.fromkeys(rooms):
        unknown = blend_value(FIRMNESS, part, room, catalogue).missing
        if unknown:
            able = [at for at in ROOMS if _is_known(part, at, catalogue)]
            known = (able[0], able[-1]) if able else None
            found.append(Unusable(room, unknown, known))
    return tuple(found)


def _is_known(part: Mapping[str, float], at: float, catalogue: Catalogue) -> bool:
    return not blend_value(FIRMNESS, part, at, catalogue).missing


def _correction_problems(
    book: Book, entry: Entry, fact: Fact | None, lots: Sequence[Lot]
) -> list[Problem]:
    if fact == entry.fact:
        right = (Option("to"), ", ", Option("lot"), " or ", Option("made"))
        fix = phrase("write what is right with ", *right, ", or ", Option("withdraw"))
        fix = phrase(fix, " it")
        wrong = "says that already"
        return [Problem(wrong, field="entry", found=str(entry.id), fix=fix)]
    if isinstance(fact, BatchMade) and isinstance(entry.fact, BatchMade):
        same = fact.number.casefold() == entry.fact.number.casefold()
        return [] if same else _number_problems(book, fact.number)
    if isinstance(fact, WeighedIn):
        return lots_problems(book, [fact], lots)
    batch = next((x for x in book.batches if x.id == book.root(entry)), None)
    if isinstance(fact, Yielded) and batch is not None:
        return _yield_problems(batch.grams, [fact])
    return []


def shortages(book: Book, catalogue: Catalogue) -> Mapping[tuple[str, str], float]:
    """Return lots of which batches took more than they held: g that are too much."""
    found = {}
    for lot in catalogue.lots:
        over = taken(book.batches, lot) - 1000.0 * lot.amount
        if over > 0.05:
            found[lot.ingredient, lot.lot] = over
    return found
