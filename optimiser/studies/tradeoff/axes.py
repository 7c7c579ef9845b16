"""The two things a trade-off is between: aims, and properties of the formula."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.properties import PROPERTIES, property_named
from optimiser.domain.rule import Goal, Rule
from optimiser.domain.scenario import AIMS, Aim, Scenario, Window
from optimiser.domain.wording import Measured
from optimiser.errors import InputError, Problem, nearest
from optimiser.explaining.answering import Question, questions
from optimiser.reading.cells import COLDEST, HOTTEST

__all__ = ["Axis", "axes_of", "ceiling", "goals_of", "with_property"]

HERE = Origin("the command line", field="--between")
_PROPERTY = re.compile(
    r"(?:(less|more) )?(.+?)(?: at (-?\d+(?:\.\d+)?)(?: ?(?:degC|°C|C))?)?"
)


class Axis(Struct, frozen=True):
    """An aim, or a property at a temperature in deg C; ``more`` if more is wished."""

    name: str
    unit: str
    at: float | None = None
    over: str | None = None
    more: bool = False

    @property
    def is_property(self) -> bool:
        """Whether it is a property of the formula and no aim."""
        return self.over is not None


def axes_of(
    names: Sequence[str], scenario: Scenario, catalogue: Catalogue
) -> tuple[Axis, Axis]:
    """Return the two axes: what is made small, and what it is weighed against.

    Parameters
    ----------
    names : two of str
        One of AIMS ("cost", "change", "kind change" ...), or a property
        such as "firmness", "solid fat at 35 degC" or "less solid fat at 35 degC".

    Raises
    ------
    InputError
        If a name is not known, both are the same or properties, or a base is missing.
    """
    problems: list[Problem] = []
    found = [_axis(name, scenario, catalogue, problems) for name in names]
    if not problems and _place(found[0]) == _place(found[1]):
        problems.append(
            _problem(names[1], "is there twice", "name two different things")
        )
    if not problems and all(axis.is_property for axis in found):
        fix = f"name an aim beside it: {', '.join(AIMS)}"
        problems.append(_problem(names[0], "is a property, as the other one is", fix))
    if any("change" in axis.name for axis in found) and not scenario.base:
        fix = "write a [base] to change from, or weigh two other things"
        problems.append(
            Problem("has no base to change from", file=scenario.file, fix=fix)
        )
    if problems:
        raise InputError(problems)
    first, second = found
    return (second, first) if first.is_property else (first, second)


def _place(axis: Axis) -> tuple[str, float | None]:
    return axis.name, axis.at


def _problem(found: str, wrong: str, fix: str) -> Problem:
    return Problem(wrong, field="--between", found=found, fix=fix)


def _axis(
    text: str, scenario: Scenario, catalogue: Catalogue, problems: list[Problem]
) -> Axis:
    name = " ".join(text.split())
    if name in AIMS:
        units = {"cost": f"{catalogue.currency}/kg", "count": "ingredients"}
        return Axis(name, units.get(name, "%" if name == "bought" else "points"))
    match = _PROPERTY.fullmatch(name)
    sense, bare, degrees = match.groups() if match else (None, name, None)
    kind = property_named(bare, catalogue)
    if kind is None:
        kinds = [
            property_named(n, catalogue) for n in {**PROPERTIES, **catalogue.figures}
        ]
        known = [*AIMS, *(each.name for each in kinds if each and each.mixing)]
        wrong = f"is no aim and no property; {nearest(bare, known)}"
        aims = ", ".join(AIMS)
        fix = f'name an aim ({aims}) or a property, as in "firmness at 25 degC"'
        problems.append(_problem(text, wrong, fix))
        return Axis(name, "")
    if not kind.mixing:
        wrong = "is never averaged over a blend"
        problems.append(_problem(text, wrong, kind.instead))
    at = float(degrees) if degrees else kind.looked_at
    if at is not None and not COLDEST <= at <= HOTTEST:
        fix = f"name one from {COLDEST:g} to {HOTTEST:g} degC"
        problems.append(_problem(text, "is at no temperature of a kitchen", fix))
    same = [w for w in scenario.windows if w.property == bare and w.at == at]
    over = same[0].over if same else kind.over
    return Axis(bare, kind.unit, at, over, sense != "less")


def with_property(
    axis: Axis, scenario: Scenario, catalogue: Catalogue
) -> tuple[tuple[Question, ...], tuple[Rule, ...]]:
    """Return questions over ingredients with the figures, and each one's property rule.

    The rule is not among the question's own; the limit it has means nothing.

    Raises
    ------
    InputError
        If a figure is not known for an ingredient of the base, or no ingredient
        that may be used belongs to the part the property is told of.
    """
    low, high = (1.0, None) if axis.more else (None, 1.0)
    over = axis.over or "product"
    window = Window(axis.name, axis.at, None, over, low, high, None, HERE)
    wider = replace(scenario, windows=(*scenario.windows, window))
    asked, rules = [], []
    for each in questions(wider, catalogue):
        own = [rule for rule in each.programme.rules if rule.about is window]
        if not own or own[0].amounts.columns.size + own[0].per.columns.size == 0:
            wrong = f"says nothing here: nothing that may be used belongs to the {over}"
            raise InputError([_problem(axis.name, wrong, "name another property")])
        kept = tuple(rule for rule in each.programme.rules if rule is not own[0])
        plain = replace(each.scenario, windows=scenario.windows)
        asked.append(Question(plain, replace(each.programme, rules=kept)))
        rules.append(own[0])
    return tuple(asked), tuple(rules)


def goals_of(axes: Sequence[Axis], scenario: Scenario) -> Scenario:
    """Return the scenario whose goals are the axes that are aims, in order."""
    aims = tuple(Aim(axis.name) for axis in axes if not axis.is_property)
    return replace(scenario, aims=aims, cost_asked=False)


def ceiling(goal: Goal, limit: float) -> Rule:
    """Return the rule that keeps an aim at or below a level."""
    return Rule(
        id=f"tradeoff/{goal.name}",
        wording=Measured(goal.name, goal.unit),
        kind="tradeoff",
        side="max",
        limit=limit,
        unit=goal.unit,
        amounts=goal.row,
        per_constant=1.0,
        owner="wish",
        origin=HERE,
    )
