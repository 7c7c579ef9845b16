"""Why a formula is the one: rules along their limits, ingredients along prices."""

from __future__ import annotations

import math

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem, nearest
from optimiser.explaining.curve import Curve, price_curve, true_value
from optimiser.explaining.opinions import answered
from optimiser.explaining.prices import is_binding
from optimiser.explaining.staying import Entering, Staying, entering, staying
from optimiser.explaining.ties import Tie, tied
from optimiser.rules import build
from optimiser.solving import Infeasible, Optimum

__all__ = ["Again", "Reasons", "RuleCurve", "why", "why_rule"]


class Again(Struct, frozen=True):
    """The aim with a limit moved and everything chosen anew; None: no formula."""

    limit: float
    value: float | None


class RuleCurve(Struct, frozen=True):
    """One rule and its price curve; ``again`` where solving anew was asked for."""

    rule: Rule
    value: float | None
    slack: float | None
    curve: Curve
    again: tuple[Again, ...] = ()


class Reasons(Struct, frozen=True):
    """Why the formula of a scenario is the one.

    ``curves`` are of the rules that bind; ``ties`` are another formula at the same
    value and one within the part asked for, where such are found.
    """

    title: str
    file: str
    currency: str
    curves: tuple[RuleCurve, ...]
    entering: tuple[Entering, ...]
    staying: tuple[Staying, ...]
    ties: tuple[Tie, ...]
    choices_kept: bool


def why(
    scenario: Scenario, catalogue: Catalogue, within: float = 0.01
) -> Reasons | None:
    """Return the reasons for a scenario's formula; None if its rules clash.

    Parameters
    ----------
    within : float
        Part of the last aim's value that a near tie may be off by.
    """
    solved = _as_formulated(scenario, catalogue, build(scenario, catalogue))
    if solved is None:
        return None
    programme, optimum = solved
    curves = tuple(
        _curve(optimum, number)
        for number, rule in enumerate(programme.rules)
        if _moves(rule) and is_binding(rule, rule.slack(optimum.amounts))
    )
    ties = (tied(optimum, catalogue), tied(optimum, catalogue, within))
    return Reasons(
        title=scenario.title,
        file=scenario.file,
        currency=catalogue.currency,
        curves=curves,
        entering=entering(optimum, scenario, catalogue),
        staying=staying(optimum, catalogue),
        ties=tuple(tie for tie in ties if tie is not None),
        choices_kept=programme.whole,
    )


def why_rule(
    scenario: Scenario,
    catalogue: Catalogue,
    rule_id: str,
    *,
    low: float | None = None,
    high: float | None = None,
    again: bool = False,
) -> RuleCurve | None:
    """Return the whole price curve of one rule; None if the scenario's rules clash.

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
    programme = build(scenario, catalogue)
    number = _number(programme, rule_id, scenario)
    _refuse_a_span(programme.rules[number], low, high, scenario)
    solved = _as_formulated(scenario, catalogue, programme)
    if solved is None:
        return None
    programme, optimum = solved
    found = _curve(optimum, number, low, high)
    if not again:
        return found
    steps = _nearest_steps(found.curve, found.rule.limit)
    anew = tuple(
        Again(limit, true_value(programme, number, limit, found.curve.of))
        for limit in steps
    )
    return RuleCurve(found.rule, found.value, found.slack, found.curve, anew)


def _as_formulated(
    scenario: Scenario, catalogue: Catalogue, programme: Programme
) -> tuple[Programme, Optimum] | None:
    """Return the question and the answer that `formulate` shows; None for a clash."""
    found = answered(scenario, catalogue, programme)
    return None if isinstance(found, Infeasible) else (found.programme, found.optimum)


def _curve(
    optimum: Optimum, number: int, low: float | None = None, high: float | None = None
) -> RuleCurve:
    rule = optimum.session.programme.rules[number]
    value, slack = rule.value(optimum.amounts), rule.slack(optimum.amounts)
    return RuleCurve(rule, value, slack, price_curve(optimum, number, low, high))


def _moves(rule: Rule) -> bool:
    """Whether moving a rule's limit means anything while choices are kept."""
    return rule.owner != "arithmetic" and rule.kind != "choice"


def _number(programme: Programme, rule_id: str, scenario: Scenario) -> int:
    """Return the number of the rule with an id, or written under a key."""
    ids = [rule.id for rule in programme.rules]
    keys = [rule.origin.field for rule in programme.rules]
    if rule_id not in ids and keys.count(rule_id) == 1:
        rule_id = ids[keys.index(rule_id)]
    if rule_id not in ids:
        wrong = f"is no rule of this scenario; {nearest(rule_id, ids)}"
        fix = "take an id from `optimiser formulate --json`"
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
    for option, end, side in (("--from", low, -1.0), ("--to", high, 1.0)):
        if end is None:
            continue
        share = rule.unit == "%"
        if not math.isfinite(end) or (share and not 0.0 <= end <= 100.0):
            wrong, fix = "is no limit that this rule could have", "give a plain limit"
        elif side * (end - rule.limit) < 0.0:
            wrong = f"leaves out the limit as it is, {rule.limit:g}"
            fix = "let it lie between --from and --to"
        else:
            continue
        problems.append(
            Problem(wrong, scenario.file, field=option, found=f"{end:g}", fix=fix)
        )
    if problems:
        raise InputError(problems)


def _nearest_steps(curve: Curve, limit: float) -> list[float]:
    """Return up to two break points on either side of a limit."""
    below = [p.limit for p in curve.points if p.limit < limit - 1e-9]
    above = [p.limit for p in curve.points if p.limit > limit + 1e-9]
    return [*below[-2:], *above[:2]]
