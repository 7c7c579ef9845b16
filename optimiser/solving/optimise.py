"""The aims in order: solve, keep, solve again, and prove the last corner."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import product

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices, Mask
from optimiser.domain.rule import Programme, Row
from optimiser.errors import ProofError
from optimiser.rules import at_their_least
from optimiser.solving.arrays import Arrays, dense, goal_rows
from optimiser.solving.counting import InCounts, counted
from optimiser.solving.diving import MANY
from optimiser.solving.proof import GAP_TOLERANCE, duality_gap, worst_violation
from optimiser.solving.session import Corner, CutShortError, Session, SolverError

__all__ = [
    "TRACE",
    "Infeasible",
    "Optimum",
    "attempted",
    "certified",
    "cleaned",
    "is_better",
    "less",
    "let_go",
    "optimise",
    "settled",
]

# Room left to an earlier aim so that rounding cannot make the next one impossible.
HOLD = 1e-10
# The same while choices are searched for, and more where the search then finds nothing.
SEARCHED = (1e-8, 1e-7, 1e-6)
# What an aim with the choices kept may be off the search's own value, of itself.
KEPT = 1e-5
# Percent that is no use of an ingredient but room that an earlier aim was left.
UNUSED = 1e-5
# Percent up to which it is tried whether an aim can do without.
BOUGHT = 1e-3
# Percent up to which an answer does not name an ingredient, and what is only rounding.
TRACE, ROUNDING = 1e-6, 1e-9
TAKEN = 1e-12  # of an aim: more above its least is room for rounding that is taken
SETTLED = 1e-5  # of an aim: less gain than that ends a start


class _Found(Struct, frozen=True, eq=False):
    """The last corner, each aim's least and its top, and how far each was proved.

    ``met`` is what the aims come to with the room that those before them are left for
    rounding, and ``best``, like the corner, what they come to without.
    """

    corner: Corner
    met: tuple[float, ...]
    best: tuple[float, ...]
    tops: tuple[float, ...]
    gap: float


class _Searched(Struct, frozen=True, eq=False):
    """Each aim's formula and its value as a search found them, and the widest gap."""

    amounts: tuple[Floats, ...]
    best: tuple[float, ...]
    gap: float


class Infeasible(Struct, frozen=True, eq=False):
    """No formula keeps every rule; the session is there to ask why."""

    session: Session


class Optimum(Struct, frozen=True, eq=False):
    """A proved answer.

    Attributes
    ----------
    amounts : float array, one a column of the programme
    best : tuple of float
        Each goal's least value, in order; each held at ``tops`` for the next.
    gap, worst_violation : float
        The proof: see :mod:`optimiser.solving.proof`. The gap is wide only where a
        search was cut short (:mod:`optimiser.solving.patience`).
    session : Session
        Left at the last goal with the choices kept, ready to re-solve.
    """

    amounts: Floats
    best: tuple[float, ...]
    tops: tuple[float, ...]
    gap: float
    worst_violation: float
    session: Session


def optimise(
    programme: Programme, solver: str = "highs", near: Floats | None = None
) -> Optimum | Infeasible:
    """Return the proved best amounts, aim after aim, or that none exist.

    Parameters
    ----------
    programme : Programme
    solver : {"highs", "cbc"}
        With "cbc", CBC solves every aim too, from the same arrays, and must find
        the same values; the amounts are HiGHS's in both cases, for they carry more
        digits (decision 5).
    near : float array, optional
        Amounts that keep every rule, one a column: a search begins from them, so that
        one that is cut short has at least those.

    Raises
    ------
    ProofError
        If an optimum does not pass its own check, or the solvers disagree.
    SolverError
        If a solver stops without an answer.
    """
    arrays = Arrays.of(programme)
    session = Session(programme, arrays, near)
    found: _Found | None
    if programme.whole:
        counts = _counts(session)
        try:
            found = _chosen(session, near, counts)
        except ProofError:
            if counts is None:
                raise
            session = Session(programme, arrays, near)  # as it stands
            found = _chosen(session, near, None)
        if found is None:
            return Infeasible(session)
    elif not session.run():
        return Infeasible(session)
    else:
        found = _in_order(session, lambda stage, tops: _aimed(session, stage, tops))
    if found is None:
        raise ProofError("an earlier aim could not be held for a later one")
    proved = found.gap <= (KEPT if programme.whole else GAP_TOLERANCE)
    if not proved and not session.cut_short:
        raise ProofError(f"the answer could not be proved best: gap {found.gap:g}")
    amounts, gap = _without_traces(session, found)
    amounts = at_their_least(programme, amounts)
    worst = worst_violation(programme, arrays, amounts)
    if solver == "cbc":
        _agree_with_cbc(programme, arrays, found.best)
    return Optimum(amounts, found.best, found.tops, gap, worst, session)


def settled(found: Optimum) -> Optimum:
    """Return an answer at the one of its corners that no order of rows decides."""
    if found.session.answer_is_unique():
        return found
    from optimiser.solving.settling import preferred  # noqa: PLC0415 - seldom needed

    return preferred(found)


def _aimed(session: Session, stage: int, tops: list[float]) -> bool:
    """Solve for an aim, those before it held; the first has been solved for already."""
    if stage:
        session.aim_at(stage, tops)
    return stage == 0 or session.run()


def _in_order(
    session: Session,
    solved: Callable[[int, list[float]], bool],
    room: float = HOLD,
) -> _Found | None:
    """Return what solving for each aim in turn comes to; None where one is lost.

    Parameters
    ----------
    solved : callable
        Solves for an aim by its number, those before it held at their tops, and tells
        whether there was a formula.
    room : float
        What an aim may be above its least and its slack for those after it, of itself.
    """
    met: list[float] = []
    tops: list[float] = []
    best: list[float] = []
    bare: list[float] = []
    gaps: list[float] = []
    for stage, goal in enumerate(session.programme.goals):
        if not solved(stage, tops):
            return None
        corner = session.corner()
        least = corner.objective
        gaps.append(certified(session, tops, corner.amounts, corner.row_prices))
        met.append(least)
        tops.append(least + goal.slack + room * max(1.0, abs(least)))
        corner, gap = _without_room(session, corner, bare)
        gaps.append(gap)
        best.append(corner.objective)
        bare.append(corner.objective + goal.slack)
    return _Found(corner, tuple(met), tuple(best), tuple(tops), float(np.max(gaps)))


def _without_room(
    session: Session, corner: Corner, bare: list[float]
) -> tuple[Corner, float]:
    """Return an aim's corner with those before it held to the last digit, and its gap.

    Next to a tie a room of 1e-10 buys a later aim some millionths of itself. The corner
    is left as it was found where it is not in that room, or rounding cannot do without.
    """
    pairs = zip(session.programme.goals, bare, strict=False)
    if all(_part_above(goal.at(corner.amounts), top) <= TAKEN for goal, top in pairs):
        return corner, 0.0
    session.aim_at(len(bare), bare)
    try:
        if not session.run():
            return corner, 0.0
    except SolverError:
        session.start_afresh()
        return corner, 0.0
    exact = session.corner()
    gap = certified(session, bare, exact.amounts, exact.row_prices)
    return (exact, gap) if gap <= GAP_TOLERANCE else (corner, 0.0)


def _counts(session: Session) -> InCounts | None:
    """Return the question over counts alone, where they tell amounts and are few."""
    few = np.count_nonzero(session.arrays.whole) < MANY
    return counted(session.programme, session.arrays) if few else None


def _chosen(
    session: Session, near: Floats | None, counts: InCounts | None
) -> _Found | None:
    """Search, and keep what is chosen; None where nothing keeps every rule.

    A search over counts simplifies first: what it comes to may hold only nearly.
    """
    if counts is None:
        if not session.run():
            return None
        return _with_choices_kept(session, _searched(session))
    near = None if near is None else near[counts.left]
    search = Session(counts.programme, counts.arrays, near)
    search.simplify()
    if not search.run():
        return None
    searched = _searched(search)
    session.cut_short = search.cut_short
    amounts = tuple(counts.told @ each for each in searched.amounts)
    return _with_choices_kept(session, replace(searched, amounts=amounts))


def _searched(session: Session) -> _Searched:
    """Return what a search finds for each aim, those before it held."""
    best: list[float] = []
    amounts: list[Floats] = []
    gaps: list[float] = []
    for stage in range(len(session.programme.goals)):
        if stage and not any(_found_with(session, best, room) for room in SEARCHED):
            raise _lost(session, "an earlier aim could not be held for a later one")
        value, bound = session.objective(), session.search_bound()
        found = session.corner().amounts
        if not session.cut_short:
            value, found = _without_bought_traces(session, value, found)
        gaps.append(abs(value - bound) / max(1.0, abs(value)))
        best.append(value)
        amounts.append(found)
    return _Searched(tuple(amounts), tuple(best), float(np.max(gaps)))


def _without_bought_traces(
    session: Session, least: float, amounts: Floats
) -> tuple[float, Floats]:
    """Return an aim's value and formula without what its earlier ones' room bought.

    A trace that this aim gains next to nothing by would be one more ingredient for
    those after it, which are held to what it gained.
    """
    if not session.stage:
        return least, amounts
    try:
        other = let_go(session, amounts, BOUGHT)
    except CutShortError:
        other = None
    if other is None:
        return least, amounts
    value = session.programme.goals[session.stage].at(other)
    return (value, other) if _part_above(value, least) <= KEPT else (least, amounts)


def _found_with(session: Session, best: list[float], room: float) -> bool:
    """Search for the next aim, those before held with some room; whether it was met."""
    tops = [
        least + goal.slack + room * max(1.0, abs(least))
        for least, goal in zip(best, session.programme.goals, strict=False)
    ]
    session.aim_at(len(best), tops)
    return session.run()


def certified(
    session: Session, tops: list[float], amounts: Floats, row_prices: Floats
) -> float:
    """Return the duality gap of amounts for the aim after those held at ``tops``."""
    goals, arrays, stage = session.programme.goals, session.arrays, len(tops)
    if session.programme.whole:
        lower = np.where(arrays.whole, amounts, arrays.lower)
        upper = np.where(arrays.whole, amounts, arrays.upper)
        arrays = replace(arrays, lower=lower, upper=upper)
    prices, held_prices = np.split(row_prices[: session.rows + stage], [session.rows])
    held = (goal_rows(goals[:stage], session.size), np.array(tops), held_prices)
    costs = dense(goals[stage], session.size)
    return float(duality_gap(arrays, costs, amounts, prices, held))


def _with_choices_kept(session: Session, searched: _Searched) -> _Found:
    """Keep the choices that a search found, and solve for each aim once more.

    Those of the last aim are kept for all, but where an aim that leaves room to the
    next ones is at its least with other choices only: then its own are. A choice left
    on for an ingredient that is not used is turned off, unless a rule counts it.
    """
    rounded = [
        np.where(session.arrays.whole, np.round(amounts), amounts)
        for amounts in searched.amounts
    ]
    tidied = [_tidied(session.programme, amounts) for amounts in rounded]
    # What a search had when it was cut short may keep the rules by its own tolerance
    # only: what its choices come to exactly is an answer too, if not as good a one.
    ends = (KEPT, math.inf) if session.cut_short else (KEPT,)
    for above, room in product(ends, (HOLD, *SEARCHED)):
        for choices in (tidied, rounded):

            def solved(
                stage: int,
                tops: list[float],
                own: list[Floats] = choices,
                above: float = above,
            ) -> bool:
                least = searched.best[stage]
                return _as_searched(session, stage, tops, own, least, above)

            kept = _in_order(session, solved, room)
            if kept is not None:
                off = max(0.0, *map(_part_above, kept.met, searched.best))
                below = _part_above(searched.best[0], kept.met[0])
                # A later aim gains where a trace that served an earlier one is let go.
                gap = max(searched.gap + off, kept.gap, below)
                return replace(kept, gap=gap)
    raise _lost(session, "the choices the search found do not hold exactly")


def _lost(session: Session, what: str) -> ProofError | CutShortError:
    """Return why an answer was lost: a fault here, or a search cut short too early."""
    if session.cut_short:
        return CutShortError(f"the search was ended too early: {what}")
    return ProofError(what)


def _tidied(programme: Programme, amounts: Floats) -> Floats:
    """Return amounts with no choice left on for an ingredient that is not used."""
    tidy = amounts.copy()
    owners = {key: place for place, key in enumerate(programme.ingredients)}
    for number, column in enumerate(programme.columns):
        if column.kind == "used" and tidy[owners[column.key]] <= UNUSED:
            tidy[number] = 0.0
    return tidy


def _as_searched(
    session: Session,
    stage: int,
    tops: list[float],
    choices: list[Floats],
    least: float,
    above: float,
) -> bool:
    """Solve for an aim with choices kept; whether it comes to what a search found.

    It may be ``above`` that, as a part of itself.
    """
    slack = session.programme.goals[stage].slack
    for kept, near in (
        (choices[-1], SEARCHED[0] if slack > 0.0 else above),
        (choices[stage], above),
    ):
        session.keep_choices(stage, kept)
        session.aim_at(stage, tops)
        if session.run() and _part_above(session.objective(), least) <= near:
            return True
    return False


def _part_above(value: float, least: float) -> float:
    """Return by what part of itself, or of one unit, an aim is above a value."""
    return (value - least) / max(1.0, abs(least))


def _without_traces(session: Session, found: _Found) -> tuple[Floats, float]:
    """Return the amounts with traces of ingredients let go, and their gap.

    An earlier aim's room is enough for a trace; the answer does not name it, but a
    figure over nothing else would be one of the trace. What a rule needs stays. An aim
    that a trace has served is held with a little more room.
    """
    corner, arrays, gap = found.corner, session.arrays, found.gap
    amounts = cleaned(corner.amounts, arrays)
    if not _traces(amounts, _able(session), TRACE).size:
        return amounts, gap
    stage, goals = len(found.best) - 1, session.programme.goals
    tops = [
        least + goal.slack for least, goal in zip(found.best[:-1], goals, strict=False)
    ]
    for room in (0.0, HOLD, *SEARCHED) if stage else (0.0,):
        session.aim_at(stage, [top + room * max(1.0, abs(top)) for top in tops])
        other = let_go(session, amounts, TRACE)
        if other is not None:
            again = certified(session, tops, other, corner.row_prices)
            if again <= (KEPT if session.programme.whole else GAP_TOLERANCE):
                amounts, gap = other, max(gap, again)
                break
    session.aim_at(stage, found.tops)
    return amounts, gap


# Times that other traces may take the place of those let go, before all that is as
# good as out stays out.
ROUNDS = 30


def let_go(session: Session, amounts: Floats, most: float) -> Floats | None:
    """Return the best amounts without any trace; None where a rule needs one.

    ``most`` is how much of an ingredient is a trace, percent.
    """
    able, out = _able(session), []
    amounts = cleaned(amounts, session.arrays)
    rounds = 0
    try:
        while (traces := _traces(amounts, able, most)).size:
            rounds += 1
            if rounds == ROUNDS:  # of thousands each would get its turn
                traces = np.flatnonzero(able & (np.abs(amounts) <= most))
            for column in traces:
                session.bound(int(column), 0.0, 0.0)
            out += traces.tolist()
            if not session.run():
                return None
            amounts = cleaned(session.corner().amounts, session.arrays)
            able[traces] = False
    finally:
        for column in out:
            session.unbound(column)
    return amounts


def _able(session: Session) -> Mask:
    """Return which columns are of ingredients that may be out."""
    arrays = session.arrays
    able: Mask = (arrays.lower <= 0.0) & (arrays.upper >= 0.0) & ~arrays.whole
    able[len(session.programme.ingredients) :] = False
    return able


def _traces(amounts: Floats, able: Mask, most: float) -> Indices:
    """Return which columns hold a trace that can be let go."""
    return np.flatnonzero(able & (amounts != 0.0) & (np.abs(amounts) <= most))


def cleaned(amounts: Floats, arrays: Arrays) -> Floats:
    """Return amounts inside their bounds, with what is only rounding set to zero."""
    inside = np.clip(amounts, arrays.lower, arrays.upper)
    return np.where(np.abs(inside) < ROUNDING, 0.0, inside)


def _agree_with_cbc(
    programme: Programme, arrays: Arrays, best: tuple[float, ...]
) -> None:
    from optimiser.solving import cbc  # noqa: PLC0415 - only when CBC is asked for

    holds: list[tuple[Row, float]] = []
    for goal, value in zip(programme.goals, best, strict=True):
        amounts = cbc.solve_with_cbc(cbc.to_pulp(arrays, goal, holds))
        found = None if amounts is None else goal.row.at(amounts)
        if found is None or abs(found - value) > 1e-6 * max(1.0, abs(value)):
            raise ProofError(
                f"the solvers disagree on {goal.name}: {value:g} and {found}"
            )
        room = goal.slack + 1e-7 * max(1.0, abs(value))
        holds.append((goal.row, value + room))


def is_better(one: Optimum, other: Optimum) -> bool:
    """Whether an answer serves the aims better."""
    return less(one.best, other.best)


def less(values: Iterable[float], others: Iterable[float]) -> bool:
    """Whether aims come to less, the first that differs deciding."""
    for mine, theirs in zip(values, others, strict=True):
        if abs(mine - theirs) > SETTLED * max(1.0, abs(theirs)):
            return mine < theirs
    return False


def attempted(programme: Programme) -> Optimum | None:
    """Return a proved answer; None where there is none, or none that can be proved.

    For one of several questions that an answer can do without.
    """
    try:
        found = optimise(programme)
    except (ProofError, SolverError):
        return None
    return None if isinstance(found, Infeasible) else found
