"""Ingredients that are out: the price below which each would come in, and how."""

from __future__ import annotations

import math

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Goal
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answer import Unused
from optimiser.explaining.facts import TRACE
from optimiser.explaining.trial_prices import LEAST_PRICE, TrialPrices, decided_later
from optimiser.solving import CutShortError, OneMore, Optimum, Session, within

__all__ = [
    "SAME",
    "SHOWN",
    "Entering",
    "Forcing",
    "cost_stage",
    "entering",
    "open_session",
    "unused_ingredients",
]

# How many unused ingredients are looked at closely: those nearest to coming in.
NEAREST = 25
# A dose to force in where a scenario gives no least dose, percent.
USUAL_DOSE = 1.0
# Costs that differ by no more than this part are the same: choices are proved to it.
SAME = 3e-9
# An aim that a dose adds no more to than this is not moved by it.
MOVED = 1e-6
# Percent that counts as coming in, or as a fall: less is a trace.
SHOWN = 0.1
# How long the prices of all that is unused are searched for, where choices are.
SECONDS = 2.0
FULL = 1e-6  # of one choice
# Part by which to stay below the price that the answer's own choices let expect.
BELOW = 1e-3


class Entering(Struct, frozen=True):
    """An ingredient that is out.

    ``enters_below`` is money per kg (None: no price brings it in), ``enters_with``
    the percent it comes in with just below that (None: little by little). With at
    least ``forced_dose`` percent of it in, the first aim that gets worse is
    ``forced_of``, by ``forced_by`` in ``forced_unit`` (cost, by 0: none does); None
    where no formula keeps the rules, and ``sure`` is False if one might that is
    further from the answer, because the second opinion's tangents hold only near it.
    """

    ingredient: str
    name: str
    price_per_kg: float | None
    enters_below: float | None
    enters_with: float | None
    forced_dose: float
    forced_of: str | None
    forced_unit: str
    forced_by: float | None
    sure: bool = True


def cost_stage(session: Session) -> int | None:
    """Return which of the aims is cost; None where it is none of them."""
    names = [goal.name for goal in session.programme.goals]
    return names.index("cost") if "cost" in names else None


def open_session(optimum: Optimum) -> Session:
    """Return a session in which everything is chosen anew at each solve.

    Without choices that is the answer's own.
    """
    kept = optimum.session
    return Session(kept.programme, kept.arrays) if kept.programme.whole else kept


def entering(
    optimum: Optimum,
    scenario: Scenario,
    catalogue: Catalogue,
    session: Session | None = None,
) -> tuple[Entering, ...]:
    """Return the unused ingredients nearest to coming in, nearest first.

    Parameters
    ----------
    session : Session, optional
        Where to ask: one with the choices open, or by default with them kept. Where a
        search in it is cut short, what was not looked at by then is left out.
    """
    session = session or optimum.session
    stage = cost_stage(session)
    if stage is None:
        return ()
    near = sorted(_by_cost(optimum, catalogue), key=_drop)[:NEAREST]
    found = []
    try:
        with within(None) as patience:
            session.aim_at(stage, optimum.tops)
            session.run()
            best = session.objective()
            for each in near:
                told = _looked_at(each, session, stage, best, optimum, scenario)
                if patience.cut:
                    break
                found.append(told)
            session.aim_at(len(optimum.best) - 1, optimum.tops)
            session.run()
    except CutShortError:
        pass  # those that were looked at by then are told
    return tuple(sorted(found, key=_drop))


def _looked_at(
    each: Unused,
    session: Session,
    stage: int,
    best: float,
    optimum: Optimum,
    scenario: Scenario,
) -> Entering:
    """Return what an unused ingredient is told of, where aim number ``stage`` is cost.

    ``best`` is what that aim comes to in the session.
    """
    column = session.programme.ingredients.index(each.ingredient)
    session.aim_at(stage, optimum.tops)
    below, amount = None, None
    if each.price_per_kg is not None and decided_later(session.programme, stage):
        trials = TrialPrices(session.programme, stage, column, each.price_per_kg)
        below, amount = trials.comes_in(SHOWN, each.enters_below)
    elif each.price_per_kg is not None:
        below, amount = _enters(session, column, each.enters_below or 0.0, best)
    dose = _usual_dose(scenario, each.ingredient)
    goal, by = _forced(session, column, dose, optimum)
    return Entering(
        each.ingredient,
        each.name,
        each.price_per_kg,
        below,
        amount,
        dose,
        None if goal is None else goal.name,
        "" if goal is None else goal.unit,
        by,
        sure=goal is not None or not _tangents_forbid(session, column, dose),
    )


def _drop(unused: Unused | Entering) -> float:
    """Return by what part a price would have to fall; endless if no fall is enough.

    Rounded, so that what falls alike stays in order.
    """
    if not unused.price_per_kg or unused.enters_below is None:
        return math.inf
    return round(1.0 - unused.enters_below / unused.price_per_kg, 9)


def _usual_dose(scenario: Scenario, key: str) -> float:
    own = scenario.least_if_used.get(key) or scenario.least_if_used.get("default")
    return USUAL_DOSE if own is None else own[0]


def _enters(
    session: Session, column: int, hint: float, best: float
) -> tuple[float | None, float | None]:
    """Return the price below which an ingredient comes in, and with how much.

    The cost is a concave function of one price, with the amount as its slope, and is
    ``best`` from that price on: the line from a lower price meets ``best`` nearer to
    it, and so on until nothing is gained there (Newton's method, finite). Where a
    trace comes in first, its line takes the place of ``best``.

    Parameters
    ----------
    hint : float
        A price near which that may be; it need not be right.
    """
    found: tuple[float | None, float | None] = (None, None)
    price, level, trace = hint * (1.0 - BELOW), best, 0.0
    try:
        for _ in range(60):
            session.charge(column, price / 100.0)
            if not session.run():
                break
            amount, cost = float(session.corner().amounts[column]), session.objective()
            gained = level + trace * price / 100.0 - cost
            if gained > SAME * max(1.0, abs(best)) and amount >= SHOWN:
                price += 100.0 * gained / (amount - trace)
                found = (price, amount)
            elif gained > SAME * max(1.0, abs(best)) and amount > trace + TRACE:
                level, trace = cost - amount * price / 100.0, amount
                found, price = (None, None), 0.0
            elif found[0] is not None or price == 0.0:
                break
            else:  # the hint was too high
                price = 0.0
    finally:
        session.charge(column, None)
    return (None, None) if found[0] is not None and found[0] < LEAST_PRICE else found


def _forced(
    session: Session, column: int, dose: float, optimum: Optimum
) -> tuple[Goal | None, float | None]:
    """Return the first aim that a dose makes worse, and by how much.

    The aims are solved in order with the dose in, as `formulate` would.
    """
    upper = float(session.arrays.upper[column])
    if dose > upper:
        return None, None
    session.bound(column, dose, upper)
    tops: list[float] = []
    try:
        for stage, goal in enumerate(session.programme.goals):
            session.aim_at(stage, tops)
            if not session.run():
                return None, None
            by = session.objective() - optimum.best[stage]
            if by > MOVED:
                return goal, by
            tops.append(max(optimum.tops[stage], session.objective() + 1e-9))
        return session.programme.goals[-1], 0.0
    finally:
        session.unbound(column)


def _tangents_forbid(session: Session, column: int, dose: float) -> bool:
    """Whether a dose would fit but for the tangents of the second opinion."""
    rules = session.programme.rules
    tangents = [n for n, rule in enumerate(rules) if rule.kind == "opinion"]
    upper = float(session.arrays.upper[column])
    if not tangents or dose > upper:
        return False
    session.aim_at(0, ())
    session.bound(column, dose, upper)
    for each in tangents:
        session.free(each)
    try:
        return session.run()
    finally:
        session.unbound(column)
        for each in tangents:
            session.restore(each)


def unused_ingredients(optimum: Optimum, catalogue: Catalogue) -> tuple[Unused, ...]:
    """Return every ingredient that could be used and is not.

    Where an aim after the cost decides what is shown, the prices of those nearest to
    coming in are found by asking anew, as long as there is time for it; the others are
    told by the cost alone.
    """
    unused = _by_cost(optimum, catalogue)
    programme = optimum.session.programme
    stage = cost_stage(optimum.session)
    if stage is None or not decided_later(programme, stage):
        return unused
    index = {key: i for i, key in enumerate(programme.ingredients)}
    asked = {}
    with within(SECONDS) as patience:
        for each in sorted(unused, key=_drop)[:NEAREST]:
            if each.price_per_kg is None:
                continue
            column = index[each.ingredient]
            trials = TrialPrices(programme, stage, column, each.price_per_kg)
            below, _ = trials.comes_in(SHOWN, each.enters_below)
            if patience.cut:
                break
            asked[each.ingredient] = below
    return tuple(
        replace(each, enters_below=asked.get(each.ingredient, each.enters_below))
        for each in unused
    )


def _by_cost(optimum: Optimum, catalogue: Catalogue) -> tuple[Unused, ...]:
    """Return what is unused with the prices at which the cost alone would use it.

    Forcing a small dose in costs ``D`` per percent; a fall of its price by ``p``
    earns ``p/100`` per percent, so it comes in below its price less ``100 D``.
    That holds at corners, where a solver's own figure can be too high.
    """
    session = optimum.session
    stage = cost_stage(session)
    forcing = known = None
    if stage is not None:
        session.aim_at(stage, optimum.tops)
        session.run()
        if not session.programme.whole and session.prices_are_unique():
            known = session.reduced_costs()
        forcing = Forcing(session, session.objective())
    unused = []
    for column, key in enumerate(session.programme.ingredients):
        if optimum.amounts[column] > TRACE:
            continue
        price = catalogue.price_per_kg(key)
        below = None
        if forcing is not None and price is not None:
            forced = forcing.cost_of(column) if known is None else float(known[column])
            below = None if forced is None else price - 100.0 * forced
        if below is not None and below < LEAST_PRICE:
            below = None
        unused.append(Unused(key, catalogue.ingredients[key].name, price, below))
    return tuple(unused)


# The dose an ingredient is forced in at, percent, to feel what it would cost.
DOSE = 0.01


class Forcing:
    """What it costs to force ingredients in, one at a time, with the choices kept.

    Parameters
    ----------
    best : float
        What the session's goal comes to as it stands.
    """

    def __init__(self, session: Session, best: float) -> None:
        self._session, self._best = session, best
        self._off: frozenset[int] = frozenset()
        columns = session.programme.columns
        self._flags = {
            each.key: number
            for number, each in enumerate(columns)
            if each.kind == "used"
        }
        self._least = _least_doses(session, set(self._flags.values()))
        self._full = self._flags_of_full_counts() if self._flags else frozenset()
        self._one_more = self._with_choices_kept()
        self._slopes = None if self._one_more is None else self._one_more.slopes()

    def cost_of(self, column: int) -> float | None:
        """Return money per kg of product per percent of it; None if impossible."""
        session = self._session
        flag = self._flags.get(session.programme.ingredients[column])
        if flag in self._full:
            return None
        if flag is None and self._slopes is not None:
            return self._slopes[column]
        dose = DOSE if flag is None else max(DOSE, self._least.get(flag, 0.0))
        upper = float(session.arrays.upper[column])
        if self._one_more is not None and (flag is None or flag in self._off):
            more = self._one_more
            goal = (
                more.forced(column, dose, upper)
                if flag is None
                else more.value(column, flag, dose, upper)
            )
            return None if goal is None else (goal - self._best) / dose
        try:
            if flag is not None:
                session.bound(flag, 1.0, 1.0)
            session.bound(column, dose, upper)
            return (session.objective() - self._best) / dose if session.run() else None
        finally:
            session.unbound(column)
            if flag is not None:
                session.unbound(flag)

    def _with_choices_kept(self) -> OneMore | None:
        """Return the question over what the choices leave; None where none are kept."""
        session = self._session
        kept = session.arrays_held() if self._flags else None
        if kept is None:
            return None
        owners = {key: n for n, key in enumerate(session.programme.ingredients)}
        off = {key: flag for key, flag in self._flags.items() if kept.upper[flag] < 0.5}
        self._off = frozenset(off.values())
        out = {*off.values(), *(owners[key] for key in off)}
        return OneMore(session, kept, out)

    def _flags_of_full_counts(self) -> frozenset[int]:
        """Return what cannot be turned on: a rule counts choices alone, and is full.

        A search would find nothing either, but for each of them anew.
        """
        kept = self._session.corner().amounts
        flags = set(self._flags.values())
        full: set[int] = set()
        for rule in self._session.programme.rules:
            counted = rule.amounts.columns.tolist()
            if rule.side == "min" or rule.curved or not flags.issuperset(counted):
                continue
            room = rule.limit * rule.per_constant - rule.amounts.at(kept)
            full |= {
                column
                for column, each in zip(counted, rule.amounts.coefficients, strict=True)
                if each > room + FULL and kept[column] < 0.5
            }
        return frozenset(full)


def _least_doses(session: Session, flags: set[int]) -> dict[int, float]:
    """Return the least dose that a rule or a link asks of what is used, by its flag."""
    doses: dict[int, float] = {}
    for rule in session.programme.rules:
        # So much of something for each time that it is used.
        if rule.side == "min" and flags.issuperset(rule.per.columns.tolist()):
            for column in rule.per.columns.tolist():
                doses[column] = max(doses.get(column, 0.0), rule.limit)
    for link in session.programme.links:
        if link.lower == 0.0:
            for column, by in zip(
                link.row.columns.tolist(), link.row.coefficients.tolist(), strict=True
            ):
                if column in flags:
                    doses[column] = max(doses.get(column, 0.0), -by)
    return doses
