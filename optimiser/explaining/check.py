"""A given formula held against the rules of a scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.domain.rule import Lack, Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts, opinions
from optimiser.explaining.answer import Checked, RuleLine
from optimiser.explaining.basis import basis
from optimiser.explaining.prices import is_binding, is_broken
from optimiser.rules import build, complete
from optimiser.rules.emulsifiers import nearest_total

__all__ = ["DIGIT", "TO_THE_DIGIT", "check"]

# Kinds of rule on a dose that the maker, or the base, says to so many digits.
TO_THE_DIGIT = frozenset({"pin", "least", "minor", "limit"})
DIGIT = 0.005 + 1e-9  # half of the 0.01 % that formulas are written to


def check(
    formula: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    *,
    weighed_to: Mapping[str, float] | None = None,
) -> Checked:
    """Return a given formula held against a scenario's rules.

    Parameters
    ----------
    formula : mapping of ingredient key to percent, summing to 100
        Any ingredients of the catalogue, also ones that the scenario would not
        choose. A window that needs a figure which one of them lacks is not judged,
        and ``missing`` says so.
    weighed_to : mapping of ingredient key to percentage points, optional
        To what each share was weighed, beside the digit that formulas are written to:
        a pin, a limit or a least dose of one's own may be missed by so much.
    """
    used = {key: percent for key, percent in formula.items() if percent > 0.0}
    asked = replace(nearest_total(scenario, _emulsified(used, catalogue)), aims=())
    programme = build(asked, catalogue, tuple({**used, **scenario.base}))
    amounts = complete(programme, used)
    opinion = opinions.formed(scenario, catalogue, programme.ingredients, amounts)
    missing: dict[str, None] = {}
    lines = []
    for rule in programme.rules:
        lacking = rule.lacks(amounts)
        if lacking:
            missing[_not_judged(rule, lacking, programme, catalogue)] = None
            lines.append(RuleLine(rule, None, None, binding=False))
            continue
        slack = _slack(rule, amounts, DIGIT + _weighed_to(rule, programme, weighed_to))
        value, binding = rule.value(amounts), is_binding(rule, slack)
        lines.append(RuleLine(rule, value, slack, binding))
    broken = [line.rule for line in lines if is_broken(line.rule, line.slack)]
    return Checked(
        title=scenario.title,
        file=scenario.file,
        use=scenario.use,
        markets=scenario.markets,
        currency=catalogue.currency,
        cost_per_kg=facts.cost_per_kg(used, catalogue),
        batch_kg=scenario.batch_kg,
        formula=facts.formula_lines(used, scenario, catalogue),
        lines=tuple(lines),
        properties=facts.properties(used, scenario, catalogue, opinion),
        change=facts.change(used, scenario, catalogue),
        status="broken" if broken else "kept",
        missing=tuple(missing),
        allergens=facts.allergens(used, catalogue, scenario),
        label_names=facts.label_names(used, scenario, catalogue),
        second_opinion=opinions.told(opinion, programme, amounts),
        cautions=cautions.cautions(used, scenario, catalogue),
        basis=basis(used, scenario, catalogue, programme.rules, broken),
    )


def _slack(rule: Rule, amounts: Floats, digit: float) -> float | None:
    """Return the room left before a limit; doses are kept to a formula's digits."""
    slack = rule.slack(amounts)
    if rule.kind in TO_THE_DIGIT and slack is not None and slack >= -digit:
        return max(slack, 0.0)
    return slack


def _weighed_to(
    rule: Rule, programme: Programme, weighed_to: Mapping[str, float] | None
) -> float:
    """Return to what the shares of a rule were weighed, the coarsest counting."""
    if weighed_to is None:
        return 0.0
    used = set(rule.amounts.columns.tolist())
    own = [key for n, key in enumerate(programme.ingredients) if n in used]
    return max((weighed_to[key] for key in own), default=0.0)


def _emulsified(used: Mapping[str, float], catalogue: Catalogue) -> float:
    """Return the emulsifiers of a formula, percent of its lipids."""
    sums = {"emulsifier": 0.0, "fats": 0.0}
    for key, percent in used.items():
        category = catalogue.ingredients[key].category
        if category == "emulsifier":
            sums["emulsifier"] += percent
        elif category in PARTS["fats and waxes"]:
            sums["fats"] += percent
    return 100.0 * sums["emulsifier"] / sums["fats"] if sums["fats"] else 0.0


def _not_judged(
    rule: Rule, lacking: Sequence[Lack], programme: Programme, catalogue: Catalogue
) -> str:
    """Say of which ingredients a figure is lacking that a rule needs."""
    names = dict.fromkeys(
        catalogue.ingredients[programme.ingredients[each.column]].name
        for each in lacking
    )
    return (
        f"{rule.wording.what} was not judged: nothing is known of it for"
        f" {', '.join(names)}"
    )
