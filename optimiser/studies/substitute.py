"""Substitutes: the closest formula without something, what moved where, and why."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import is_near, is_out, listed_in
from optimiser.domain.material import MINOR, Ingredient, Origin
from optimiser.domain.scenario import Aim, Bound, Scenario, Window
from optimiser.errors import InputError, Problem
from optimiser.explaining import Answer, Clash, formulate
from optimiser.explaining.answer import LeftOut, RuleLine
from optimiser.explaining.answering import NoFormula, answer, best, questions
from optimiser.explaining.facts import apart
from optimiser.rules.pool import choose
from optimiser.rules.steps import step_of
from optimiser.studies.made import About, Made, by_category, made, of_amounts
from optimiser.studies.without import GivenUp, without

__all__ = ["Move", "RunnerUp", "Substitution", "kept_out", "substitute", "unpriced"]

RUNNERS_UP = 3
AS_FIRM = 0.1  # of the base's firmness, either way, that no thumb tells apart
MOVED = 2.0  # points by ingredient that being as firm as the base may cost
GAVE_WAY = 0.5  # points between categories: less is steps and rounding
# Moves below what a formula is printed to are rounding, in percent.
SEEN = 0.005
# What is closest: by ingredient, then kind, category, and in cost (decision 13); of
# few ingredients before it, where the scenario aims at that too.
AIMS = ("change", "kind change", "category change", "count", "cost")


class Move(Struct, frozen=True):
    """Points that an ingredient or a category gained (+) or lost (-)."""

    what: str
    category: str
    points: float


class RunnerUp(Struct, frozen=True):
    """The closest formula once the better substitutes are out too.

    ``brings`` are the allergens that a list names and the base does not hold.
    """

    names: tuple[str, ...]
    apart: float
    apart_by_kind: float
    apart_by_category: float
    formula: Made
    brings: tuple[str, ...] = ()


class Substitution(Struct, frozen=True):
    """A base, the closest formula without something, and what lies between.

    ``given_up`` are rules about what is out, which went with it; ``held`` are the
    binding rules without which it would be closer or cheaper. ``nothing_out`` says
    that the base held nothing of it; ``no_other`` are the categories that lost and of
    which nothing else may be chosen; ``unreplaced`` what left of minor categories and
    nothing took the place of; ``also_less`` is what lost besides. ``passed_over`` is
    how many that might have come in were not looked at, for they are unlike the base.
    ``left_out`` are ingredients that could not be considered, and ``unpriced`` those
    of them that are like what left and lack no more than a price. ``untried`` says
    that more of its categories might have come in than what did.
    """

    about: About
    out: tuple[str, ...]
    base: Made
    base_from: str
    formula: Made
    answer: Answer
    apart: float
    apart_by_kind: float
    apart_by_category: float
    moves: tuple[Move, ...]
    category_moves: tuple[Move, ...]
    came_in: tuple[str, ...]
    held: tuple[RuleLine, ...]
    given_up: tuple[GivenUp, ...]
    runners_up: tuple[RunnerUp, ...]
    nothing_out: bool
    no_other: tuple[str, ...]
    unreplaced: tuple[Move, ...]
    also_less: tuple[Move, ...]
    passed_over: int = 0
    left_out: tuple[LeftOut, ...] = ()
    unpriced: tuple[str, ...] = ()
    untried: bool = True


def substitute(
    scenario: Scenario,
    catalogue: Catalogue,
    names: Sequence[str],
    also: Sequence[str] = (),
    runners_up: int = RUNNERS_UP,
) -> Substitution | Clash:
    """Return the closest formula without some ingredients, categories or allergens.

    Parameters
    ----------
    names : sequence of str
        What must go: an ingredient by any of its names, a category, or an allergen.
    also : sequence of str
        Ingredients that may come in although the scenario does not choose from them.
    runners_up : int
        How many next-best substitutes to look for at most.

    Returns
    -------
    Substitution or Clash
        A clash when no formula without them keeps every rule.

    Raises
    ------
    InputError
        If a name is not known, or the base itself has no formula to start from.
    """
    base, base_from = _base(scenario, catalogue)
    start = replace(scenario, base=base.amounts)
    asked, gone, given_up = without(start, catalogue, names, also)
    asked = replace(asked, aims=_aims(scenario, asked, catalogue))
    question, left_out = asked, _left_out(asked, catalogue)
    brings = _bringing(asked, catalogue)
    first = _first_answer(asked, catalogue, brings)
    if isinstance(first.told, Clash):
        return first.told
    wide = first.asked
    first = _as_firm(first, first.told, base, catalogue)
    told, asked = first.told, first.asked
    if isinstance(told, Clash):
        return told
    base = of_amounts(base.title, base.amounts, asked, catalogue, base.proof)
    used = {each.ingredient: each.percent for each in told.formula if each.percent}
    said = told.second_opinion
    formula = replace(
        of_amounts("without it", used, asked, catalogue, told.proof),
        held=said is not None and said.outcome == "held",
    )
    moves, category_moves = _moves(base, formula, catalogue)
    out, left = _out(asked, catalogue)
    lost = {move.category for move in category_moves if move.points < 0}
    places = _places(asked, catalogue, base, formula, out)
    like = places.alike(left_out.chosen, question.let_in)
    alike = frozenset[str]() if scenario.only else like
    next_closest = (
        _runners_up(each, places, formula, runners_up, brings, alike)
        for each in ((asked,) if asked is wide else (asked, wide))
    )
    return Substitution(
        about=About.of(scenario, catalogue),
        out=gone,
        base=base,
        base_from=base_from,
        formula=formula,
        answer=told,
        apart=_apart(base, formula, catalogue, "ingredient"),
        apart_by_kind=_apart(base, formula, catalogue, "kind"),
        apart_by_category=_apart(base, formula, catalogue, "category"),
        moves=moves,
        category_moves=category_moves,
        came_in=_came_in(base, formula, catalogue),
        held=_held(told),
        given_up=given_up,
        runners_up=next(filter(None, next_closest), ()),
        nothing_out=not out & set(base.amounts),
        no_other=tuple(sorted(lost - left)),
        passed_over=first.passed_over,
        unreplaced=tuple(_unreplaced(base, formula, lost & left, out, catalogue)),
        also_less=tuple(
            move
            for move in moves
            if move.points < 0 and catalogue.find(move.what) not in out
        ),
        left_out=tuple(
            LeftOut(key, catalogue.ingredients[key].name, why)
            for key, why in left_out.why.items()
            if not _keeps_out(question, catalogue, key)
        ),
        unpriced=tuple(_unpriced(question, catalogue, left_out, out)),
        untried=any(
            not _keeps_out(question, catalogue, key)
            for key in like - out - base.amounts.keys() - formula.amounts.keys()
        ),
    )


def unpriced(
    scenario: Scenario,
    catalogue: Catalogue,
    names: Sequence[str],
    also: Sequence[str] = (),
) -> tuple[str, ...]:
    """Return what is like what must go, and is left out for want of a price.

    As `substitute` is asked. Names of ingredients, those of its kind first.
    """
    asked, _, _ = without(scenario, catalogue, names, also)
    asked = replace(asked, aims=_aims(scenario, asked, catalogue))
    out, _ = _out(asked, catalogue)
    left_out = _left_out(asked, catalogue)
    return tuple(_unpriced(asked, catalogue, left_out, out))


class _LeftOut(Struct, frozen=True):
    """What may be chosen, why other things are not, and what lacks only a price."""

    chosen: tuple[str, ...]
    why: Mapping[str, str]
    unpriced: tuple[str, ...]


def _left_out(asked: Scenario, catalogue: Catalogue) -> _LeftOut:
    """Return what a question leaves out.

    Raises
    ------
    InputError
        If what the scenario asks for, or `--with` names, lacks a price or a figure.
    """
    priced = questions(asked, catalogue)[0].programme
    known = questions(replace(asked, aims=()), catalogue)[0].programme
    return _LeftOut(
        chosen=priced.ingredients,
        why={
            key: "; ".join(dict.fromkeys(filter(None, (why, known.left_out.get(key)))))
            for key, why in priced.left_out.items()
        },
        unpriced=tuple(key for key in priced.left_out if key in known.ingredients),
    )


def _unpriced(
    asked: Scenario, catalogue: Catalogue, left_out: _LeftOut, out: set[str]
) -> list[str]:
    """Return names of what is left out for want of a price and like what must go.

    No small doses, which never come in unasked.
    """
    gone = [catalogue.ingredients[key] for key in out & {*asked.base}]
    found = [
        catalogue.ingredients[key]
        for key in left_out.unpriced
        if catalogue.ingredients[key].category in {x.category for x in gone} - {*MINOR}
        and not _keeps_out(asked, catalogue, key)
    ]
    kinds = {each.group("kind") for each in gone}
    found.sort(key=lambda each: each.group("kind") not in kinds)
    return [each.name for each in found]


def _keeps_out(asked: Scenario, catalogue: Catalogue, key: str) -> bool:
    """Whether a question keeps an ingredient out, or what is near to an allergen."""
    exclude, markets = asked.exclude, asked.markets
    return is_out(exclude, markets, catalogue, key) or any(
        is_near(catalogue, key, each, markets) for each in exclude.allergens
    )


def _aims(scenario: Scenario, asked: Scenario, catalogue: Catalogue) -> tuple[Aim, ...]:
    """Return what is closest, and last in cost.

    A scenario that does not aim at cost, with something in it that has no price, is
    asked about closeness alone.
    """
    few = any(each.name == "count" for each in scenario.aims)
    aims = tuple(Aim(name) for name in AIMS if few or name != "count")
    by_cost = any(each.name == "cost" for each in scenario.aims)
    if by_cost or not choose(replace(asked, aims=aims), catalogue).problems:
        return aims
    return aims[:-1]


def kept_out(
    scenario: Scenario,
    catalogue: Catalogue,
    names: Sequence[str],
    also: Sequence[str] = (),
) -> tuple[str, ...]:
    """Return what a list of `[only]` keeps out that is like what must go.

    As `substitute` is asked. Names of ingredients with a price: of its kind, or where
    there are none, of its category. None without a list: then all were looked at.
    None is, or is close to, an allergen that is out; what brings another comes last.
    """
    if not scenario.only:
        return ()
    asked, _, _ = without(scenario, catalogue, names, also)
    out, _ = _out(asked, catalogue)
    gone = [catalogue.ingredients[key] for key in out & set(scenario.base)]
    near = [
        each
        for key, each in catalogue.ingredients.items()
        if key not in asked.only
        and not _keeps_out(asked, catalogue, key)
        and catalogue.price_per_kg(key) is not None
        and each.category in {x.category for x in gone}
    ]
    alike = [each for each in near if each.kind in {x.kind for x in gone}]
    held = _held_in(scenario, catalogue)
    told = alike or near
    markets = asked.markets
    told.sort(key=lambda each: bool(listed_in(catalogue, each.key, markets) - held))
    return tuple(each.name for each in told)


def _held_in(asked: Scenario, catalogue: Catalogue) -> set[str]:
    """Return the allergens that a list names and the base holds."""
    return {
        each for key in asked.base for each in listed_in(catalogue, key, asked.markets)
    }


def _bringing(asked: Scenario, catalogue: Catalogue) -> dict[str, set[str]]:
    """Return what would bring an allergen that the base does not hold, and which.

    Of the base's categories and not asked for by name: by key, what a list names of it.
    """
    held = _held_in(asked, catalogue)
    categories = {catalogue.ingredients[key].category for key in asked.base}
    found = {
        key: listed_in(catalogue, key, asked.markets) - held
        for key in choose(asked, catalogue).chosen
        if key not in asked.asked_by_name
        and catalogue.ingredients[key].category in categories
    }
    out, _ = _out(asked, catalogue)
    return {key: new for key, new in found.items() if new and key not in out}


class _First(Struct, frozen=True):
    """A first answer, its question, and how many that might come in it leaves."""

    told: Answer | Clash
    asked: Scenario
    passed_over: int

    @property
    def gave_way(self) -> float:
        """Points between categories; without end where nothing keeps the rules."""
        if isinstance(self.told, Clash):
            return math.inf
        return 0.0 if self.told.change is None else self.told.change.by_category


def _first_answer(
    asked: Scenario, catalogue: Catalogue, brings: Mapping[str, object]
) -> _First:
    """Return the closest answer, without what ``brings`` an allergen that is new.

    Where categories have to give way for that, it is as good as any other.
    """
    found = _narrowest(asked, catalogue, brings)
    if not brings or found.gave_way <= GAVE_WAY:
        return found
    other = _narrowest(asked, catalogue, {})
    return other if found.gave_way > other.gave_way + GAVE_WAY else found


def _as_firm(first: _First, told: Answer, base: Made, catalogue: Catalogue) -> _First:
    """Return an answer about as firm as the base, where one is as close by ingredient.

    A window holds what a maker may sell; of what takes the place of a wax less is as
    near to the base as more, and sets no harder than it.
    """
    windows = tuple(_as_the_base(x, base, told) for x in first.asked.windows)
    if windows == first.asked.windows or told.change is None:
        return first
    asked = replace(first.asked, windows=windows)
    found = formulate(asked, catalogue)
    if isinstance(found, Clash) or found.change is None or _is_not_reached(found):
        return first
    if found.change.by_ingredient > told.change.by_ingredient + MOVED:
        return first
    return replace(first, told=found, asked=asked)


def _is_not_reached(found: Answer) -> bool:
    said = found.second_opinion
    return said is not None and said.outcome == "not reached"


def _as_the_base(window: Window, base: Made, told: Answer) -> Window:
    """Return a window on firmness near the base's own, if an answer is far from it."""
    if window.property != "firmness":
        return window
    place = (window.property, window.at, window.over)
    was, now = (
        next((x.value for x in each if (x.property, x.at, x.over) == place), None)
        for each in (base.properties, told.properties)
    )
    low = -math.inf if window.low is None else window.low
    high = math.inf if window.high is None else window.high
    if was is None or now is None or not low <= was <= high:
        return window
    room = AS_FIRM * was
    if math.floor(was - room) <= now <= math.ceil(was + room):
        return window
    words = "as firm as the base, give or take a tenth"
    least, most = float(math.floor(was - room)), float(math.ceil(was + room))
    return replace(
        window,
        low=max(low, least),
        high=min(high, most),
        low_as=words if least > low else window.low_as,
        high_as=words if most < high else window.high_as,
    )


def _narrowest(
    asked: Scenario, catalogue: Catalogue, not_yet: Mapping[str, object]
) -> _First:
    """Return the answer of the narrowest question that keeps the categories.

    Where none does, that of the widest.
    """
    for narrow, left in _widening(asked, catalogue, not_yet):
        found = _First(formulate(narrow, catalogue), narrow, left)
        # What is unlike may do better only where categories had to give way.
        if found.gave_way <= GAVE_WAY:
            break
    return found


def _widening(
    asked: Scenario, catalogue: Catalogue, not_yet: Mapping[str, object]
) -> Iterator[tuple[Scenario, int]]:
    """Yield a question over what is like the base, then over more, and what it leaves.

    First over the kinds of the base, where each thing that leaves has another of its
    kind, then over its categories, then over everything;
    where the scenario says itself what may come in, only that; all without what is
    ``not_yet`` to be looked at.
    """
    if asked.only:
        # Never empty, which would be everything: the base is chosen from anyway.
        yield replace(asked, only=(asked.only | {*asked.base}) - {*not_yet}), 0
        return
    pool = [x for x in choose(asked, catalogue).chosen if x not in not_yet]
    own = [catalogue.ingredients[key] for key in asked.base]
    named = {each.what for each in (*asked.limits, *asked.pins)} | set(asked.base)
    kinds = {each.group("kind") for each in own}
    categories = {each.category for each in own}
    out, _ = _out(asked, catalogue)
    others = {
        catalogue.ingredients[x].group("kind")
        for x in pool
        if x not in out and x not in asked.base
    }
    lost = {catalogue.ingredients[x].group("kind") for x in out & set(asked.base)}
    alone = lost <= others  # each thing that leaves has another of its kind
    last = 0
    alike: tuple[Callable[[Ingredient], bool], ...] = (
        *([lambda each: each.group("kind") in kinds] if alone else []),
        lambda each: each.category in categories,
        lambda _: True,
    )
    for like in alike:
        near = [x for x in pool if x in named or like(catalogue.ingredients[x])]
        if len(near) > last:
            last = len(near)
            left = len(set(pool) - set(near) - out)
            yield replace(asked, only=frozenset(near)), left


def _base(scenario: Scenario, catalogue: Catalogue) -> tuple[Made, str]:
    """Return the base: as written, or the scenario's own best formula."""
    if scenario.base:
        base = of_amounts("base", scenario.base, scenario, catalogue)
        return base, "the base as written"
    found = answer(scenario, catalogue)
    if isinstance(found, NoFormula):
        problem = Problem(
            "has no base, and no formula keeps its rules, so there is nothing to"
            " substitute in",
            file=scenario.file,
            fix=f"write a [base], or see optimiser formulate {scenario.file}",
        )
        raise InputError([problem])
    base = made("base", found, catalogue)
    return base, "the scenario's own best formula, for it has no base"


def _moves(
    base: Made, formula: Made, catalogue: Catalogue
) -> tuple[tuple[Move, ...], tuple[Move, ...]]:
    """Return the moves by ingredient and by category, the largest loss first."""
    by_ingredient, categories = [], []
    for key in {**base.amounts, **formula.amounts}:
        points = formula.amounts.get(key, 0.0) - base.amounts.get(key, 0.0)
        each = catalogue.ingredients[key]
        if abs(points) >= SEEN:
            by_ingredient.append(Move(each.name, each.category, points))
    was, now = (by_category(m.amounts, catalogue) for m in (base, formula))
    for category in {**was, **now}:
        points = now.get(category, 0.0) - was.get(category, 0.0)
        if abs(points) >= SEEN:
            categories.append(Move(category, category, points))
    by_ingredient.sort(key=lambda move: move.points)
    categories.sort(key=lambda move: move.points)
    return tuple(by_ingredient), tuple(categories)


def _apart(base: Made, formula: Made, catalogue: Catalogue, by: str) -> float:
    return apart(base.amounts, formula.amounts, catalogue, by)


def _came_in(base: Made, formula: Made, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the names of what gained, what the base did not hold first."""
    gained = _gained(base, formula)
    return tuple(catalogue.ingredients[key].name for key in gained)


def _gained(base: Made, formula: Made) -> list[str]:
    moves = {
        key: percent - base.amounts.get(key, 0.0)
        for key, percent in formula.amounts.items()
    }
    gained = [key for key, points in moves.items() if points >= SEEN]
    return sorted(gained, key=lambda key: (key in base.amounts, -moves[key]))


def _held(answer: Answer) -> tuple[RuleLine, ...]:
    """Return the rules that the answer would be closer or cheaper without.

    What is kept out or pinned is asked for as such and needs no reason.
    """
    lines = [
        (AIMS.index(line.ease.of), line.ease.price, line)
        for line in answer.rules
        if line.ease is not None
        and line.ease.price < -1e-6
        and line.rule.kind not in {"exclusion", "near", "pin", "minor"}
    ]
    lines.sort(key=lambda each: each[:2])
    return tuple(line for _, _, line in lines)


def _no_more_of(keys: Iterable[str], asked: Scenario) -> Scenario:
    """Return a question in which some of the base's ingredients do not gain."""
    held = [
        Bound(key, None, asked.base[key], "product", None, Origin("", field="base"))
        for key in keys
    ]
    return replace(asked, limits=(*asked.limits, *held))


class _Places(Struct, frozen=True):
    """The categories whose place is taken: ``step`` by category, percent.

    A move of an ingredient of the base up to a step is rounding.
    """

    step: Mapping[str, float]
    base: Made
    catalogue: Catalogue

    def taking(self, formula: Made) -> list[str]:
        """Return what takes a place: newcomers first, then what the base has."""
        return [key for key in self.coming(formula) if self._category(key) in self.step]

    def coming(self, formula: Made) -> list[str]:
        """Return what comes in or gains more than rounding, newcomers first."""
        return [
            key
            for key in _gained(self.base, formula)
            if key not in self.base.amounts
            or formula.amounts[key] - self.base.amounts[key]
            > self.step.get(self._category(key), self._largest) + SEEN
        ]

    def alike(self, keys: Iterable[str], named: Set[str]) -> frozenset[str]:
        """Return what might take a place; small doses only come in by their name."""
        return frozenset(
            key
            for key in keys
            if self._category(key) in self.step
            and (key in named or self._category(key) not in MINOR)
        )

    def _category(self, key: str) -> str:
        return self.catalogue.ingredients[key].category

    @property
    def _largest(self) -> float:
        return max(self.step.values(), default=0.0)


def _places(
    asked: Scenario, catalogue: Catalogue, base: Made, first: Made, out: set[str]
) -> _Places:
    """Return the places to be taken: of the categories of what leaves.

    Where nothing of them takes its place, of the categories of what came in for it;
    but for a small dose nothing does.
    """
    left = by_category({k: base.amounts[k] for k in out & {*base.amounts}}, catalogue)
    places = _Places(
        {
            category: _rounding(asked, category, share)
            for category, share in left.items()
        },
        base,
        catalogue,
    )
    if places.taking(first) or left.keys() <= {*MINOR}:
        return places
    new = {k: first.amounts[k] for k in _gained(base, first) if k not in base.amounts}
    others = by_category(new, catalogue)
    step = {each: _rounding(asked, each, share) for each, share in others.items()}
    return replace(places, step=step)


def _rounding(asked: Scenario, category: str, share: float) -> float:
    """Return what a move may be for the steps alone, where a share leaves; percent."""
    if asked.steps is None:
        return 0.0
    return min(step_of(asked.steps, "", category), share / 2)


def _runners_up(
    asked: Scenario,
    places: _Places,
    first: Made,
    most: int,
    brings: Mapping[str, set[str]],
    alike: frozenset[str],
) -> tuple[RunnerUp, ...]:
    """Return the next-closest formulas, each without the substitutes before it.

    In each something else takes the place of what left. Newcomers are taken out; what
    the base holds already is no substitute to run out of: it gives no more than the
    base has of it. Once nothing of the question is left, what is ``alike`` is looked
    at; what ``brings`` an allergen that the base does not hold comes last.
    """
    found: list[RunnerUp] = []
    before: dict[str, None] = {}
    base, catalogue, last = places.base, places.catalogue, first
    only, new_in = asked.only, frozenset(brings)
    wider = (only, only | (alike - new_in), only | alike | new_in)
    for each in (replace(asked, only=keys) for keys in dict.fromkeys(wider)):
        while len(found) < most and (took := places.taking(last)):
            new = [key for key in took if key not in base.amounts]
            before |= dict.fromkeys(new[:1] or took)
            out = [key for key in before if key not in base.amounts]
            asked_next = _no_more_of(before.keys() & base.amounts.keys(), each)
            exclude = each.exclude
            exclude = replace(exclude, ingredients=(*exclude.ingredients, *out))
            question = questions(replace(asked_next, exclude=exclude), catalogue)
            next_best = best(question, catalogue, [last.amounts])
            if isinstance(next_best, NoFormula):
                break
            other = made(f"runner-up {len(found) + 1}", next_best, catalogue)
            if not places.taking(other):
                break
            last = other
            found.append(_runner_up(places, last, brings))
    return tuple(found)


def _runner_up(
    places: _Places,
    last: Made,
    brings: Mapping[str, set[str]],
) -> RunnerUp:
    base, catalogue, coming = places.base, places.catalogue, places.coming(last)
    new = {each for key in _gained(base, last) for each in brings.get(key, ())}
    return RunnerUp(
        tuple(catalogue.ingredients[key].name for key in coming),
        _apart(base, last, catalogue, "ingredient"),
        _apart(base, last, catalogue, "kind"),
        _apart(base, last, catalogue, "category"),
        last,
        tuple(sorted(new)),
    )


def _out(asked: Scenario, catalogue: Catalogue) -> tuple[set[str], set[str]]:
    """Return what is excluded, by key, and the categories that are left to choose."""
    programme = questions(replace(asked, aims=()), catalogue)[0].programme
    out = {
        programme.ingredients[column]
        for rule in programme.rules
        if rule.excludes or (rule.kind == "near" and rule.keeps_out)
        for column in rule.amounts.columns
        if column < len(programme.ingredients)
    }
    left = {
        catalogue.ingredients[key].category
        for key in programme.ingredients
        if key not in out
    }
    return out, left


def _unreplaced(
    base: Made, formula: Made, lost: set[str], out: set[str], catalogue: Catalogue
) -> Iterator[Move]:
    """Yield what leaves of minor categories of which nothing else came in."""
    taken = {catalogue.ingredients[key].category for key in _gained(base, formula)}
    for key in out & set(base.amounts):
        each = catalogue.ingredients[key]
        if each.category in MINOR and each.category in lost - taken:
            yield Move(each.name, each.category, -base.amounts[key])
