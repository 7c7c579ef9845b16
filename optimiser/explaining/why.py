"""Why a formula is the one: rules along their limits, ingredients along prices."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule, eased_ends, ids_told, named, natural
from optimiser.domain.scenario import Aim, Scenario
from optimiser.errors import InputError, Option, Phrase, Problem, nearest, phrase
from optimiser.explaining.answer import Clash, RuleLine
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.basis import LawLine, laws
from optimiser.explaining.compared import (
    LetIn,
    Reached,
    holding,
    standing,
    without_each,
)
from optimiser.explaining.curve import Leg, PriceCurve, legs, price_curves
from optimiser.explaining.entering import Entering, entering, open_session
from optimiser.explaining.facts import cost_per_kg
from optimiser.explaining.formulate import clash_of, rule_lines
from optimiser.explaining.overstepped import Overstepped, overstepped
from optimiser.explaining.staying import Staying, staying
from optimiser.explaining.ties import Tie, tied
from optimiser.solving import CutShortError, Infeasible, Optimum, optimise
from optimiser.solving import within as in_time

__all__ = ["Again", "Reasons", "RuleCurve", "by_cost", "why", "why_rule"]


# How long the prices of ingredients are searched for, where choices are made anew.
SECONDS = 3.0


class Again(Struct, frozen=True):
    """The aims, as (name, value, unit), with a limit moved and everything chosen anew.

    None: no formula.
    """

    limit: float
    aims: tuple[tuple[str, float, str], ...] | None


class RuleCurve(Struct, frozen=True):
    """One rule and its price curves, one an aim; ``again`` where that was asked for.

    ``priced`` is False for a rule on the choices themselves, or one that keeps
    ingredients out: with the choices kept, what it costs does not show. With ``cut``
    not all of ``again`` was found in the time for it.
    """

    rule: Rule
    value: float | None
    slack: float | None
    curves: tuple[PriceCurve, ...]
    priced: bool = True
    again: tuple[Again, ...] = ()
    cut: bool = False

    def way(self, direction: float) -> tuple[Leg, ...]:
        """Return what tells one side of the limit; see `curve.legs`."""
        return legs(self.curves, self.rule.limit, direction)


class Reasons(Struct, frozen=True):
    """Why the formula of a scenario is the one.

    ``lines`` are the rules that bind, with the prices that `formulate` tells of them.
    ``curves`` are of those, ``unpriced`` those of them that cannot be
    priced while choices are kept; ``ties`` are another formula at the same value and
    one within the part asked for, where such are found. ``near`` says that a window is
    held by the second opinion, so that all this is told for near this formula; ``law``
    what was looked at of each market's. ``aims`` are those of the scenario in order;
    ``invented`` tells how many of the prices behind it are: "all" or "some", and
    ``invented_of`` names those of them that are in, or might come in.
    With ``cut`` not all ingredients were looked at in the time for it. ``step`` is that
    in which the scenario wants its formula, percent: the reasons are of one in none.
    ``over`` are limits of others that it keeps only as they are eased.
    ``all_priced`` tells whether all of the base has a price; ``by_cost`` that
    cost was asked for in place of the scenario's own aims.
    ``made`` is what the formula comes to that `formulate` shows, ``free`` the one
    without steps (None where it is the same, or there are none), ``base_cost`` the
    base, money per kg. ``holding`` are rules at their limit in ``made``, ``without``
    what the question comes to without each thing that is kept out, and ``rest`` names
    the ingredient that is off its step.
    """

    title: str
    file: str
    currency: str
    lines: tuple[RuleLine, ...]
    curves: tuple[RuleCurve, ...]
    unpriced: tuple[Rule, ...]
    entering: tuple[Entering, ...]
    staying: tuple[Staying, ...]
    ties: tuple[Tie, ...]
    choices_kept: bool
    near: bool = False
    law: tuple[LawLine, ...] = ()
    aims: tuple[str, ...] = ()
    invented: str | None = None
    invented_of: tuple[str, ...] = ()
    cut: bool = False
    step: float | None = None
    all_priced: bool = True
    by_cost: bool = False
    over: tuple[Overstepped, ...] = ()
    made: Reached | None = None
    free: Reached | None = None
    base_cost: float | None = None
    holding: tuple[Rule, ...] = ()
    without: tuple[LetIn, ...] = ()
    rest: str | None = None


def by_cost(scenario: Scenario) -> Scenario:
    """Return a scenario whose one aim is to be cheap, whatever its aims were."""
    return replace(scenario, aims=(Aim("cost"),), cost_asked=False)


def why(
    scenario: Scenario,
    catalogue: Catalogue,
    within: float = 0.01,
    *,
    cheapest: bool = False,
) -> Reasons | Clash:
    """Return the reasons for a scenario's formula, or the clash of its rules.

    Parameters
    ----------
    within : float
        Part of the last aim's value that a near tie may be off by.
    cheapest : bool
        Ask for the cheapest formula instead of what the scenario aims at.

    Raises
    ------
    InputError
        If something that is to be cheap has no price.
    """
    own = tuple(each.name for each in scenario.aims)
    scenario = by_cost(scenario) if cheapest else scenario
    solved = answer(scenario, catalogue, beside=True)
    if isinstance(solved, NoFormula):
        return clash_of(solved, catalogue)
    programme, optimum = solved.programme, solved.optimum
    lines = rule_lines(solved)
    binding = [number for number, line in enumerate(lines) if line.binding]
    told = [
        _curve(optimum, number)
        for number in _apart(programme, binding)
        if _moves(programme.rules[number])
    ]
    ties = (tied(optimum, catalogue), tied(optimum, catalogue, within))
    session = open_session(optimum)
    with in_time(SECONDS) as patience:
        out = entering(optimum, scenario, catalogue, session)
        used = staying(optimum, catalogue, session)
    with in_time(SECONDS):
        without = tuple(without_each(solved, catalogue))
    stepped = solved.steps is not None and solved.steps.optimum is not None
    rest = None if solved.steps is None else solved.steps.rest
    amounts = dict(zip(programme.ingredients, optimum.amounts, strict=False))
    return Reasons(
        title=scenario.title,
        file=scenario.file,
        currency=catalogue.currency,
        lines=tuple(line for line in lines if line.binding),
        curves=tuple(each for each in told if each.priced),
        unpriced=(
            *(each.rule for each in told if not each.priced),
            *(
                programme.rules[number]
                for number in binding
                if programme.rules[number].counts
            ),
        ),
        entering=out,
        staying=used,
        ties=tuple(tie for tie in ties if tie is not None),
        choices_kept=programme.whole,
        near=any(rule.kind == "opinion" for rule in programme.rules),
        law=laws(amounts, scenario, catalogue),
        over=overstepped(amounts, scenario, catalogue),
        aims=tuple(aim.name for aim in scenario.aims),
        all_priced=all(map(catalogue.price_per_kg, scenario.base)),
        by_cost=cheapest and own != ("cost",),
        invented=catalogue.invented_prices,
        invented_of=catalogue.invented_among(
            (*(x.ingredient for x in used), *(x.ingredient for x in out))
        ),
        cut=patience.cut,
        step=None if scenario.steps is None else scenario.steps.step,
        made=standing(solved, catalogue),
        free=standing(replace(solved, steps=None), catalogue) if stepped else None,
        base_cost=cost_per_kg(scenario.base, catalogue) if scenario.base else None,
        holding=holding(lines) if stepped else (),
        without=without,
        rest=None if rest is None else catalogue.ingredients[rest].name,
    )


def why_rule(
    scenario: Scenario,
    catalogue: Catalogue,
    rule_id: str,
    *,
    low: float | None = None,
    high: float | None = None,
    again: bool = False,
) -> RuleCurve | Clash:
    """Return the whole price curve of one rule, or the clash of the rules.

    Parameters
    ----------
    low, high : float, optional
        Where the curve stops, in the rule's unit.
    again : bool
        Solve anew, choices and all, at the two nearest steps on either side.

    Raises
    ------
    InputError
        If there is no such rule, or its limit cannot be moved.
    """
    solved = answer(scenario, catalogue, beside=True)
    asked = solved.question if isinstance(solved, NoFormula) else solved
    programme = asked.programme
    number = _number(programme, rule_id, scenario)
    _refuse_a_span(programme.rules[number], low, high, scenario)
    if isinstance(solved, NoFormula):
        return clash_of(solved, catalogue)
    optimum = solved.optimum
    found = _curve(optimum, number, low, high)
    if not again:
        return found
    anew = []
    with in_time(SECONDS) as patience, suppress(CutShortError):
        for limit in _nearest_steps(found):
            each = Again(limit, _aims_anew(programme, number, limit))
            if patience.cut:
                break
            anew.append(each)
    return replace(found, again=tuple(anew), cut=patience.cut)


def _curve(
    optimum: Optimum, number: int, low: float | None = None, high: float | None = None
) -> RuleCurve:
    programme = optimum.session.programme
    rule = programme.rules[number]
    value, slack = rule.value(optimum.amounts), rule.slack(optimum.amounts)
    found = RuleCurve(rule, value, slack, price_curves(optimum, number, low, high))
    keeps_out = rule.side == "max" and rule.limit == 0.0
    if programme.whole and keeps_out and not (found.way(-1.0) or found.way(1.0)):
        return replace(found, priced=False)
    return found


def _aims_anew(
    programme: Programme, number: int, limit: float
) -> tuple[tuple[str, float, str], ...] | None:
    """Return the aims with a limit moved and all chosen anew; None if no formula."""
    rules = list(programme.rules)
    by = limit - rules[number].limit
    for each in programme.together().get(number, (number,)):
        rules[each] = replace(rules[each], limit=rules[each].limit + by)
    found = optimise(replace(programme, rules=tuple(rules)))
    if isinstance(found, Infeasible):
        return None
    return tuple(
        (goal.name, best, goal.unit)
        for goal, best in zip(programme.goals, found.best, strict=True)
    )


def _apart(programme: Programme, numbers: Sequence[int]) -> list[int]:
    """Return rules by number, but one only of those whose limits move together."""
    together = programme.together()
    first: dict[tuple[int, ...], int] = {}
    for number in numbers:
        first.setdefault(together.get(number, (number,)), number)
    return list(first.values())


def _moves(rule: Rule) -> bool:
    """Whether moving a rule's limit means anything while choices are kept."""
    return rule.owner != "arithmetic" and not rule.counts


def _number(programme: Programme, rule_id: str, scenario: Scenario) -> int:
    """Return the number of the rule with an id, or written under a key."""
    ids = [rule.id for rule in programme.rules]
    meant = [rule.id for rule in named(rule_id, programme.rules)]
    if len(meant) == 1:
        rule_id = meant[0]
    if len(meant) > 1:
        wrong = f"names {len(meant)} rules"
        fix = f"name one of them: {', '.join(meant)}"
    elif not meant:
        wrong = f"is no rule of this scenario; {nearest(rule_id, ids)}"
        fix = f"name one of {ids_told(programme.rules)}"
    elif not _moves(programme.rules[ids.index(rule_id)]):
        wrong = "has no price curve: its limit is not one that can be moved a little"
        fix = "ask for a band, a limit, a window or a ratio"
    else:
        return ids.index(rule_id)
    raise InputError(
        [Problem(wrong, scenario.file, field="--rule", found=rule_id, fix=fix)]
    )


def _refuse_a_span(
    rule: Rule, low: float | None, high: float | None, scenario: Scenario
) -> None:
    """Refuse ends between which the limit does not lie, or that no limit has."""
    problems = []
    least, most = eased_ends(rule)
    if rule.unit == "%":  # a window's too, where it is a share of what it is over
        least, most = max(least, 0.0), min(most, natural(rule)[1])
    for option, end, side in (("--from", low, -1.0), ("--to", high, 1.0)):
        if end is None:
            continue
        if not math.isfinite(end) or not least <= end <= most:
            wrong = "is no limit that this rule could have"
            fix: str | Phrase = "give a plain limit"
        elif side * (end - rule.limit) < 0.0:
            wrong = f"leaves out the limit as it is, {rule.limit:g}"
            fix = phrase("let it lie between ", Option("from"), " and ", Option("to"))
        else:
            continue
        problems.append(
            Problem(wrong, scenario.file, field=option, found=f"{end:g}", fix=fix)
        )
    if problems:
        raise InputError(problems)


def _nearest_steps(found: RuleCurve) -> list[float]:
    """Return up to two break points on either side of a limit."""
    steps = []
    for direction in (-1.0, 1.0):
        points = [p.limit for leg in found.way(direction) for p in leg.points]
        steps += points[:2]
    return sorted(steps)
