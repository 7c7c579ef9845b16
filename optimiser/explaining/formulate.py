"""The main job: a scenario in, a proved formula out with its reasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.domain.wording import number
from optimiser.errors import InputError
from optimiser.explaining import cautions, facts
from optimiser.explaining.answer import (
    Answer,
    Clash,
    Easing,
    KeptOut,
    LeftOut,
    Proof,
    RuleLine,
    StepsTaken,
    TotalClash,
    Unused,
    WayOut,
)
from optimiser.explaining.answering import NoFormula, Question, answer, best
from optimiser.explaining.basis import basis, laws
from optimiser.explaining.clashes import (
    distinct_clashes,
    smallest_clash,
    structural_causes,
)
from optimiser.explaining.entering import unused_ingredients
from optimiser.explaining.opinions import Solved
from optimiser.explaining.prices import Sides, is_binding, price_sides
from optimiser.explaining.stepping import stepped
from optimiser.explaining.ties import tied
from optimiser.explaining.totals import nearest_that_fits
from optimiser.explaining.ways import MOST, Way, different, eased, eased_by, ways_out
from optimiser.rules import build
from optimiser.rules.exclusions import undecided
from optimiser.solving import CutShortError, Optimum, within

__all__ = ["answer_of", "clash_of", "formulate", "proof_of", "rule_lines"]

# How to let in what is close to an allergen that is kept out.
NEAR = " (to let one in, ask for it by name: min = 0 below [limits])"
KEPT = 1e-6  # of a limit: less is rounding
# How long a clash and its ways out are searched for, and then what each of them comes
# to: in steps that hardly fit it is not worth more than so many nodes.
SECONDS, EACH, NODES = 2.5, 1.5, 300


def formulate(
    scenario: Scenario, catalogue: Catalogue, solver: str = "highs"
) -> Answer | Clash:
    """Return the best formula of a scenario and why it is that one.

    Parameters
    ----------
    scenario, catalogue
        As :func:`optimiser.reading.read_scenario` returns them.
    solver : {"highs", "cbc"}
        With "cbc" a second solver must find the same values.

    Returns
    -------
    Answer or Clash
        A clash names a smallest set of rules that cannot all hold.

    Raises
    ------
    InputError
        If an ingredient of the base lacks a price or a figure that a rule needs.
    ProofError
        If the answer does not pass its own check.
    """
    found = answer(scenario, catalogue, beside=True, solver=solver)
    if isinstance(found, NoFormula):
        return clash_of(found, catalogue)
    return answer_of(found, catalogue, solver)


def clash_of(nothing: NoFormula, catalogue: Catalogue) -> Clash:
    """Return why no formula keeps the rules of a question, and the ways out."""
    scenario, programme = nothing.question.scenario, nothing.question.programme
    with within(SECONDS) as patience:
        clashes = distinct_clashes(nothing.found.session)
        told = [clashes[0], *(smallest_clash(x.session) for x in nothing.beside)]
        ways = _ways(nothing, told)
        totals = _eased_totals(nothing, told, catalogue)
    causes = structural_causes(scenario, catalogue, programme)
    expired = () if scenario.stock_only is None else facts.expired_lots(catalogue)
    tried = [_way_out(way, nothing, catalogue) for way in ways]
    tried += [_priced((each,), (asked,), catalogue) for each, asked in totals]
    priced = [each for each in tried if each is not None]
    if totals:
        priced.sort(key=lambda way: (len(way.easings), eased_by(way.easings)))
    # What is not the maker's to move comes last, but for what he would keep out.
    priced.sort(key=lambda way: (way.lets_in, way.asks_supplier))
    return Clash(
        title=scenario.title,
        file=scenario.file,
        rules=clashes[0],
        causes=(*_totals_tried(nothing.totals, told), *causes, *expired),
        currency=catalogue.currency,
        others=clashes[1:],
        ways_out=tuple(priced[:MOST]),
        left_out=_left_out(programme, catalogue),
        law=laws({}, scenario, catalogue),
        cut=patience.cut,
        totals=tuple(_other_totals(nothing.totals, told)),
    )


def _ways(nothing: NoFormula, told: Sequence[Sequence[Rule]]) -> tuple[Way, ...]:
    """Return the ways out of all questions, each easing other rules than another."""
    every = [
        way
        for asked, clash in zip(nothing.asked, told, strict=True)
        for way in ways_out(asked.programme, clash)
    ]
    return different(every)[:MOST] if len(told) > 1 else tuple(every)


def _eased_totals(
    nothing: NoFormula, told: Sequence[Sequence[Rule]], catalogue: Catalogue
) -> list[tuple[Easing, Question]]:
    """Return the total of emulsifiers nearest to a listed one that would fit, if any.

    It is looked for where what was written for a total is part of the clash.
    """
    found = [
        nearest_that_fits(asked, catalogue)
        for asked, clash in zip(nothing.asked, told, strict=True)
        if any(
            rule.about is not None and rule.about == asked.scenario.emulsify
            for rule in clash
        )
    ]
    near = [each for each in found if each is not None]
    return sorted(near, key=lambda each: eased_by((each[0],)))[:1]


def _totals_tried(
    totals: Sequence[float], told: Sequence[Sequence[Rule]]
) -> tuple[str, ...]:
    """Say which of several totals of emulsifiers were tried, and which are told of."""
    if len(totals) < 2:
        return ()
    each = ", ".join(number(total) for total in totals)
    alike = not list(_other_totals(totals, told))
    which = "each of them" if alike else f"{number(totals[0])} %, then for the others"
    return (
        f"none of the totals of emulsifiers fits ({each} % of the lipids); what follows"
        f" is for {which}",
    )


def _other_totals(
    totals: Sequence[float], told: Sequence[Sequence[Rule]]
) -> Iterator[TotalClash]:
    """Yield the clashes of totals after the first that are of other rules than its."""
    if len(totals) < 2:
        return
    first = {rule.id for rule in told[0]}
    for total, rules in zip(totals[1:], told[1:], strict=True):
        if {rule.id for rule in rules} != first:
            yield TotalClash(total, tuple(rules))


def _way_out(way: Way, nothing: NoFormula, catalogue: Catalogue) -> WayOut | None:
    """Return a way out with what it costs, asked as the file that takes it will be.

    None where that file asks for more: what else is written for a limit (so much of
    the base's scent as others leave) is written anew for the one that it is eased to.
    """
    limits = {easing.rule.id: easing.to for easing in way.easings}
    wider = []
    for asked in nothing.asked:
        moved = dict(asked.scenario.eased)
        moved |= {each.rule.id: (each.to, each.rule.origin) for each in way.easings}
        scenario = replace(asked.scenario, eased=moved)
        programme = eased(asked.programme, limits)
        if _as_written(asked, catalogue):
            try:
                programme = build(scenario, catalogue)
            except InputError:
                return None
        wider.append(Question(scenario, programme))
    return _priced(way.easings, wider, catalogue)


def _as_written(asked: Question, catalogue: Catalogue) -> bool:
    """Whether a question is that of its scenario alone, with no rules of a study's."""
    own = build(asked.scenario, catalogue)
    mine, theirs = (
        ([rule.id for rule in each.rules], [goal.name for goal in each.goals])
        for each in (own, asked.programme)
    )
    return mine == theirs


def _priced(
    easings: tuple[Easing, ...], wider: Sequence[Question], catalogue: Catalogue
) -> WayOut | None:
    """Return a way out with what the questions that it leads to come to, if any."""
    with within(EACH) as patience:
        try:
            found = best(wider, catalogue, beside=True, steps=False)
        except CutShortError:  # it was found with nothing to make least
            return WayOut(easings, None, None, cut=True)
        if isinstance(found, NoFormula):
            return None
        found = stepped(found, catalogue, nodes=NODES, offer=False)
    # Cut short, what is told of it may be another that does as well: no other cost
    # is told than that of the formula one gets.
    aimed = any(goal.name == "cost" for goal in found.programme.goals)
    sure = aimed or not patience.cut
    return WayOut(
        easings,
        facts.cost_per_kg(found.amounts, catalogue) if sure else None,
        facts.change(found.amounts, found.scenario, catalogue),
        cut=patience.cut,
        stepped=found.steps is None or found.steps.optimum is not None,
    )


def answer_of(found: Solved, catalogue: Catalogue, solver: str = "highs") -> Answer:
    """Return what is told of a proved answer: its formula, and why it is that one."""
    scenario, programme, optimum = found.scenario, found.programme, found.optimum
    amounts = found.amounts
    return Answer(
        title=scenario.title,
        file=scenario.file,
        use=scenario.use,
        markets=scenario.markets,
        currency=catalogue.currency,
        cost_per_kg=facts.cost_per_kg(amounts, catalogue),
        base_cost_per_kg=facts.cost_per_kg(scenario.base, catalogue)
        if scenario.base
        else None,
        batch_kg=scenario.batch_kg,
        aims=found.aims,
        formula=facts.formula_lines(amounts, scenario, catalogue),
        rules=rule_lines(found),
        unused=_unused(programme, optimum, catalogue),
        properties=facts.properties(amounts, scenario, catalogue, found.opinion),
        change=facts.change(amounts, scenario, catalogue),
        proof=proof_of(found),
        choices_kept=programme.whole,
        solver="HiGHS and CBC" if solver == "cbc" else "HiGHS",
        allergens=facts.allergens(amounts, catalogue, scenario),
        label_names=facts.label_names(amounts, scenario, catalogue),
        left_out=_left_out(programme, catalogue),
        second_opinion=found.said,
        cautions=cautions.cautions(amounts, scenario, catalogue),
        tie=None if found.steps else tied(optimum, catalogue),
        steps=_steps_taken(found, catalogue),
        room={goal.name: goal.slack for goal in programme.goals},
        basis=basis(amounts, scenario, catalogue, programme.rules),
        base_keeps=_base_keeps(found),
        kept_out=tuple(_kept_out(found, catalogue)),
    )


def _kept_out(found: Solved, catalogue: Catalogue) -> Iterator[KeptOut]:
    """Yield what of the base is kept out by an exclusion, and by which."""
    scenario, keys = found.scenario, found.programme.ingredients
    for rule in found.programme.rules:
        if not rule.excludes:
            continue
        for key in (keys[int(column)] for column in rule.amounts.columns):
            if scenario.base.get(key):
                lacking = undecided(rule, key, scenario, catalogue)
                name = catalogue.ingredients[key].name
                yield KeptOut(name, rule.sentence, lacking)


def _base_keeps(found: Solved) -> bool | None:
    """Return whether the base keeps every rule as it stands; None without one."""
    base = found.scenario.base
    if not base:
        return None
    places = {key: at for at, key in enumerate(found.programme.ingredients)}
    columns = np.zeros_like(found.columns)
    for key, percent in base.items():
        columns[places[key]] = percent
    slacks = [(rule, rule.slack(columns)) for rule in found.programme.rules]
    return all(
        slack is None or slack >= -KEPT * max(1.0, abs(rule.limit))
        for rule, slack in slacks
    )


def _steps_taken(found: Solved, catalogue: Catalogue) -> StepsTaken | None:
    asked, steps = found.scenario.steps, found.steps
    if asked is None or steps is None:
        return None
    without = replace(found, steps=None)
    rest = None if steps.rest is None else catalogue.ingredients[steps.rest].name
    return StepsTaken(
        step=asked.step,
        own=asked.own,
        kept=steps.optimum is not None,
        rest=rest,
        finer=steps.finer,
        cut=steps.cut,
        aims=without.aims,
        cost_per_kg=facts.cost_per_kg(without.amounts, catalogue),
        as_good=_as_good(steps.as_good, catalogue),
    )


def _as_good(
    pairs: Sequence[tuple[str, str]], catalogue: Catalogue
) -> dict[str, tuple[str, ...]]:
    """Return the names of what could stand in for each that came in, by its name."""
    known = catalogue.ingredients
    found: dict[str, tuple[str, ...]] = {}
    for out, instead in pairs:
        name = known[instead].name
        found[name] = (*found.get(name, ()), known[out].name)
    return found


def proof_of(found: Solved) -> Proof:
    """Return what an answer's proof rests on."""
    shown = found.shown
    by = "search" if shown.session.programme.whole else "duality"
    return Proof(shown.worst_violation, shown.gap, by)


def rule_lines(found: Solved) -> tuple[RuleLine, ...]:
    """Return how each rule stands; what holds the formula is told without steps."""
    programme, optimum, shown = found.programme, found.optimum, found.columns
    binding = [
        n
        for n, rule in enumerate(programme.rules)
        if is_binding(rule, rule.slack(optimum.amounts))
    ]
    sides = price_sides(optimum, binding)
    none = Sides(None, None)
    return tuple(
        RuleLine(
            rule,
            rule.value(shown),
            rule.slack(shown),
            n in binding,
            sides.get(n, none).ease,
            sides.get(n, none).tighten,
            sides.get(n, none).lowering,
            sides.get(n, none).raising,
            sides.get(n, none).jumps,
        )
        for n, rule in enumerate(programme.rules)
    )


def _unused(
    programme: Programme, optimum: Optimum, catalogue: Catalogue
) -> tuple[Unused, ...]:
    out = {
        int(column)
        for rule in programme.rules
        if rule.excludes or (rule.kind in {"minor", "near"} and rule.limit == 0.0)
        for column in rule.amounts.columns
    }
    kept_out = {programme.ingredients[column] for column in out}
    return tuple(
        each
        for each in unused_ingredients(optimum, catalogue)
        if each.ingredient not in kept_out
    )


def _left_out(programme: Programme, catalogue: Catalogue) -> tuple[LeftOut, ...]:
    why = dict(programme.left_out)
    for rule in programme.rules:
        if rule.kind == "near" and rule.keeps_out:
            for column in rule.amounts.columns:
                why.setdefault(programme.ingredients[column], f"{rule.sentence}{NEAR}")
    return tuple(
        LeftOut(key, catalogue.ingredients[key].name, told) for key, told in why.items()
    )
