"""The main job: a scenario in, a proved formula out with its reasons."""

from __future__ import annotations

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts, opinions
from optimiser.explaining.answer import (
    Answer,
    Clash,
    LeftOut,
    Proof,
    RuleLine,
    Unused,
    WayOut,
)
from optimiser.explaining.clashes import distinct_clashes, structural_causes
from optimiser.explaining.entering import unused_ingredients
from optimiser.explaining.notes import notes, rule_notes
from optimiser.explaining.prices import Sides, is_binding, price_sides
from optimiser.explaining.ties import tied
from optimiser.explaining.ways import Way, ways_out
from optimiser.rules import build
from optimiser.rules.emulsifiers import each_total
from optimiser.rules.space import number
from optimiser.solving import Infeasible, Optimum, is_better, optimise

__all__ = ["formulate"]


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
    asked = scenario
    scenario, programme, found = _best_total(asked, catalogue, solver)
    if isinstance(found, Infeasible):
        return _clash(asked, scenario, catalogue, programme, found)
    heard = opinions.heard(scenario, catalogue, programme, found, beside=True)
    return _answer(scenario, catalogue, heard, solver)


def _best_total(
    scenario: Scenario, catalogue: Catalogue, solver: str
) -> tuple[Scenario, Programme, Optimum | Infeasible]:
    """Solve for each total of emulsifiers that is to be tried; return the best.

    Where none has an answer the first is returned, to say why.
    """
    tried: list[tuple[Scenario, Programme, Optimum | Infeasible]] = []
    for each in each_total(scenario):
        programme = build(each, catalogue)
        tried.append((each, programme, optimise(programme, solver)))
    best = tried[0]
    for candidate in tried[1:]:
        found, known = candidate[2], best[2]
        if isinstance(found, Infeasible):
            continue
        if isinstance(known, Infeasible) or is_better(found, known):
            best = candidate
    return best


def _clash(
    asked: Scenario,
    scenario: Scenario,
    catalogue: Catalogue,
    programme: Programme,
    found: Infeasible,
) -> Clash:
    clashes = distinct_clashes(found.session)
    causes = structural_causes(scenario, catalogue, programme)
    return Clash(
        title=scenario.title,
        file=scenario.file,
        rules=clashes[0],
        causes=(*_totals_tried(asked), *causes),
        currency=catalogue.currency,
        others=clashes[1:],
        ways_out=tuple(
            _way_out(way, scenario, catalogue)
            for way in ways_out(programme, clashes[0])
        ),
        left_out=_left_out(programme, catalogue),
    )


def _totals_tried(asked: Scenario) -> tuple[str, ...]:
    """Say for which of several totals of emulsifiers the clash is told."""
    totals = asked.emulsify.totals if asked.emulsify else ()
    if len(totals) < 2:
        return ()
    each = ", ".join(number(total) for total in totals)
    return (
        f"none of the totals of emulsifiers fits ({each} % of the lipids); what follows"
        f" is for {number(totals[0])} %",
    )


def _way_out(way: Way, scenario: Scenario, catalogue: Catalogue) -> WayOut:
    """Return a way out with what it costs once the second opinion is heard too."""
    asked = way.optimum.session.programme
    heard = opinions.heard(scenario, catalogue, asked, way.optimum)
    used = _used(heard.programme, heard.optimum)
    return WayOut(
        way.easings,
        facts.cost_per_kg(used, catalogue),
        facts.change(used, scenario, catalogue),
    )


def _answer(
    scenario: Scenario, catalogue: Catalogue, heard: opinions.Heard, solver: str
) -> Answer:
    programme, optimum = heard.programme, heard.optimum
    amounts = _used(programme, optimum)
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
        aims=tuple(
            (goal.name, best, goal.unit)
            for goal, best in zip(programme.goals, optimum.best, strict=True)
        ),
        formula=facts.formula_lines(amounts, scenario, catalogue),
        rules=_rule_lines(programme, optimum),
        unused=_unused(programme, optimum, catalogue),
        properties=facts.properties(amounts, scenario, catalogue, heard.opinion),
        change=facts.change(amounts, scenario, catalogue),
        proof=Proof(
            optimum.worst_violation,
            optimum.gap,
            "search" if programme.whole else "duality",
        ),
        choices_kept=programme.whole,
        solver="HiGHS and CBC" if solver == "cbc" else "HiGHS",
        allergens=facts.allergens(amounts, catalogue),
        label_names=facts.label_names(amounts, scenario, catalogue),
        left_out=_left_out(programme, catalogue),
        second_opinion=heard.said,
        cautions=cautions.cautions(amounts, scenario, catalogue),
        tie=tied(optimum, catalogue),
        room={goal.name: goal.slack for goal in programme.goals},
        notes=(
            *rule_notes(programme.rules, scenario),
            *notes(amounts, scenario, catalogue),
        ),
    )


def _used(programme: Programme, optimum: Optimum) -> dict[str, float]:
    return {
        key: round(float(optimum.amounts[column]), 8)
        for column, key in enumerate(programme.ingredients)
        if optimum.amounts[column] > facts.TRACE
    }


def _rule_lines(programme: Programme, optimum: Optimum) -> tuple[RuleLine, ...]:
    slacks = [rule.slack(optimum.amounts) for rule in programme.rules]
    binding = [
        number
        for number, rule in enumerate(programme.rules)
        if is_binding(rule, slacks[number])
    ]
    sides = price_sides(optimum, binding)
    none = Sides(None, None)
    return tuple(
        RuleLine(
            rule,
            rule.value(optimum.amounts),
            slacks[number],
            number in binding,
            sides.get(number, none).ease,
            sides.get(number, none).tighten,
            sides.get(number, none).lowering,
            sides.get(number, none).raising,
            sides.get(number, none).jumps,
        )
        for number, rule in enumerate(programme.rules)
    )


def _unused(
    programme: Programme, optimum: Optimum, catalogue: Catalogue
) -> tuple[Unused, ...]:
    out = {
        int(column)
        for rule in programme.rules
        if rule.kind == "exclusion"
        for column in rule.amounts.columns
    }
    return tuple(
        each
        for each in unused_ingredients(optimum, catalogue)
        if programme.ingredients.index(each.ingredient) not in out
    )


def _left_out(programme: Programme, catalogue: Catalogue) -> tuple[LeftOut, ...]:
    return tuple(
        LeftOut(key, catalogue.ingredients[key].name, why)
        for key, why in programme.left_out.items()
    )
