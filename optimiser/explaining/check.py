"""A given formula held against the rules of a scenario."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts, opinions
from optimiser.explaining.answer import Checked, RuleLine
from optimiser.explaining.notes import notes, rule_notes
from optimiser.explaining.prices import is_binding, is_broken
from optimiser.rules import build, complete
from optimiser.rules.emulsifiers import nearest_total
from optimiser.rules.space import Space
from optimiser.science.properties import figure

__all__ = ["check"]


def check(
    formula: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> Checked:
    """Return a given formula held against a scenario's rules.

    Parameters
    ----------
    formula : mapping of ingredient key to percent, summing to 100
        Any ingredients of the catalogue, also ones that the scenario would not
        choose. A window that needs a figure which one of them lacks is not judged,
        and ``missing`` says so.
    """
    used = {key: percent for key, percent in formula.items() if percent > 0.0}
    asked = replace(nearest_total(scenario, _emulsified(used, catalogue)), aims=())
    programme = build(asked, catalogue, tuple({**used, **scenario.base}))
    amounts = complete(programme, used)
    opinion = opinions.formed(scenario, catalogue, programme.ingredients, amounts)
    not_judged = _not_judged(used, scenario, catalogue)
    lines = []
    for rule in programme.rules:
        slack = rule.slack(amounts)
        if rule.kind == "window" and _window_key(rule.origin.field) in not_judged:
            lines.append(RuleLine(rule, None, None, binding=False))
        else:
            lines.append(
                RuleLine(rule, rule.value(amounts), slack, is_binding(rule, slack))
            )
    broken = any(is_broken(line.rule, line.slack) for line in lines)
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
        missing=tuple(dict.fromkeys(not_judged.values())),
        allergens=facts.allergens(used, catalogue),
        label_names=facts.label_names(used, scenario, catalogue),
        second_opinion=opinions.told(opinion, programme, amounts),
        cautions=cautions.cautions(used, scenario, catalogue),
        notes=(
            *rule_notes(programme.rules, scenario),
            *notes(used, scenario, catalogue),
        ),
    )


def _emulsified(used: Mapping[str, float], catalogue: Catalogue) -> float:
    """Return the emulsifiers of a formula, percent of its lipids."""
    sums = {"emulsifier": 0.0, "lipids": 0.0}
    for key, percent in used.items():
        category = catalogue.ingredients[key].category
        if category == "emulsifier":
            sums["emulsifier"] += percent
        elif category in PARTS["lipids"]:
            sums["lipids"] += percent
    return 100.0 * sums["emulsifier"] / sums["lipids"] if sums["lipids"] else 0.0


def _window_key(field: str | None) -> str:
    return (field or "").rsplit(".", 1)[0]


def _not_judged(
    used: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> dict[str, str]:
    """Return, by window, which ingredient lacks the figure that it needs."""
    space = Space(scenario, catalogue, tuple(used))
    found = {}
    for window in scenario.windows:
        lacking = [
            catalogue.ingredients[key].name
            for key in used
            if space.belongs(key, window.over)
            and figure(catalogue, window.property, key, window.at) is None
        ]
        if lacking:
            at = "" if window.at is None else f" at {window.at:g} °C"
            found[window.origin.field or ""] = (
                f"{window.property}{at} over the {window.over} was not judged: nothing"
                f" is known of it for {', '.join(lacking)}"
            )
    return found
