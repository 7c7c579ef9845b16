"""Why nothing fits: causes that show by themselves, then a smallest clash."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import Excluded, contains
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Bound, Scenario
from optimiser.explaining.answer import BandsMiss, BaseHeld, KeptOut
from optimiser.explaining.prices import is_broken
from optimiser.rules import complete
from optimiser.rules.exclusions import undecided
from optimiser.solving import CutShortError, Session

__all__ = ["distinct_clashes", "smallest_clash", "structural_causes"]


def distinct_clashes(session: Session, most: int = 4) -> tuple[tuple[Rule, ...], ...]:
    """Return clashes that share no rule but arithmetic, the first found first.

    After each, its rules are let go, and what is left is tried again: mending one
    clash would only have shown the next.
    """
    rules = session.programme.rules
    found: list[tuple[Rule, ...]] = []
    gone: set[int] = set()
    while len(found) < most:
        clash = _smallest(session, gone)
        found.append(tuple(rules[row] for row in clash))
        gone |= {row for row in clash if rules[row].owner != "arithmetic"}
        _only(session, set(range(len(rules))) - gone, len(rules))
        if _may_fit(session):
            break
    return tuple(found)


def smallest_clash(session: Session) -> tuple[Rule, ...]:
    """Return rules that cannot all hold, of which every one is needed.

    Every rule outside the set is let go; inside it, each rule was let go in turn
    and a formula was then found. Found by a deletion filter over the maker's rules
    (Chinneck and Dravnieks, ORSA J. Comput. 3:157, 1991), begun from the rows that
    the solver suggests. Arithmetic is tried last, so that it is named only where it
    is part of the clash.
    """
    return tuple(session.programme.rules[row] for row in _smallest(session, set()))


def _smallest(session: Session, gone: set[int]) -> list[int]:
    """Return the rows of a minimal clash that does without the rows ``gone``."""
    rules = session.programme.rules
    session.aim_at_nothing()
    kept = set(range(len(rules))) - gone
    _only(session, kept, len(rules))
    hint = None if session.programme.whole else session.conflicting_rows()
    if hint is not None:
        # The total holds whatever is let go: what clashes with it alone is enough.
        arithmetic = {row for row in kept if rules[row].owner == "arithmetic"}
        suggested = {row for row in hint if row in kept} | arithmetic
        _only(session, suggested, len(rules))
        if _may_fit(session):  # the suggestion does not clash by itself: start from all
            _only(session, kept, len(rules))
        else:
            kept = suggested
    for row in sorted(kept, key=lambda r: (rules[r].owner == "arithmetic", r)):
        session.free(row)
        if _may_fit(session):
            session.restore(row)
        else:
            kept.discard(row)
    return sorted(kept)


def _may_fit(session: Session) -> bool:
    """Whether there is a formula, as far as a search got to know."""
    try:
        return session.run()
    except CutShortError:
        return True


def _only(session: Session, kept: set[int], size: int) -> None:
    for row in range(size):
        if row in kept:
            session.restore(row)
        else:
            session.free(row)


def structural_causes(
    scenario: Scenario, catalogue: Catalogue, programme: Programme
) -> tuple[str | BandsMiss | BaseHeld | KeptOut, ...]:
    """Return causes that need no solver."""
    return (
        *_crossed(programme.rules),
        *_sums(programme.rules),
        *_nothing_left(catalogue, programme),
        *_base_held(scenario, catalogue, programme),
        *_unsettled(scenario, catalogue, programme),
    )


def _crossed(rules: Sequence[Rule]) -> list[str]:
    """Say where two rules on the very same sum leave no room between them."""
    least: dict[tuple[bytes, ...], tuple[float, Rule]] = {}
    most: dict[tuple[bytes, ...], tuple[float, Rule]] = {}
    for rule in rules:
        if rule.amounts.columns.size == 0 or rule.amounts.coefficients[0] <= 0.0:
            continue
        subject, limit = _subject(rule)
        if rule.side in {"min", "exact"} and limit > least.get(subject, (-1e9,))[0]:
            least[subject] = (limit, rule)
        if rule.side in {"max", "exact"} and limit < most.get(subject, (1e9,))[0]:
            most[subject] = (limit, rule)
    return [
        f"'{low.sentence}' goes against '{most[subject][1].sentence}'"
        for subject, (limit, low) in least.items()
        if subject in most and limit > most[subject][0] + 1e-9
    ]


def _subject(rule: Rule) -> tuple[tuple[bytes, ...], float]:
    """Return what a rule is about, and its limit told in the same measure.

    "Sorbic acid at most 0.6 %" and "potassium sorbate exactly 0.9 %" are about the
    same amount, told in two measures.
    """
    scale = 1.0
    if not rule.curved:
        scale = float(rule.amounts.coefficients[0]) / (rule.per_constant or 1.0)
    subject = (
        rule.amounts.columns.tobytes(),
        np.round(rule.amounts.coefficients / scale, 12).tobytes(),
        rule.per.columns.tobytes(),
        rule.per.coefficients.tobytes(),
    )
    return subject, rule.limit / scale


def _sums(rules: Sequence[Rule]) -> list[BandsMiss]:
    """Say when bands over separate categories ask for more or less than 100 %."""
    said: list[BandsMiss] = []
    for side in ("min", "max"):
        bands = [
            rule
            for rule in rules
            if rule.kind == "band" and rule.side == side and not rule.curved
        ]
        seen: set[int] = set()
        for rule in bands:
            here = set(rule.amounts.columns.tolist())
            if seen & here:
                return said
            seen |= here
        total = math.fsum(rule.limit for rule in bands)
        if side == "min" and total > 100.0:
            said.append(BandsMiss(side, total))
        everything = {
            c for rule in rules if rule.kind == "total" for c in rule.amounts.columns
        }
        if side == "max" and total < 100.0 and seen >= everything:
            said.append(BandsMiss(side, total))
    return said


def _nothing_left(catalogue: Catalogue, programme: Programme) -> list[str]:
    """Say which category has nothing to choose from, and what took it away."""
    out: dict[int, str] = {}
    for rule in programme.rules:
        if rule.keeps_out:
            for column in rule.amounts.columns.tolist():
                out.setdefault(column, rule.sentence)
    said = []
    for rule in programme.rules:
        if rule.kind != "band" or rule.side != "min" or rule.limit <= 0.0:
            continue
        columns = rule.amounts.columns.tolist()
        name = rule.wording.what
        if columns and all(column in out for column in columns):
            reasons = ", ".join(dict.fromkeys(f"'{out[c]}'" for c in columns))
            said.append(f"no {name} is left once {reasons} is kept")
        elif not columns:
            lacking = sorted(
                f"{catalogue.ingredients[key].name}: {why}"
                for key, why in programme.left_out.items()
                if catalogue.ingredients[key].category == name
            )
            because = f" ({'; '.join(lacking[:4])})" if lacking else ""
            said.append(f"no {name} can be chosen from{because}")
    return said


def _base_held(
    scenario: Scenario, catalogue: Catalogue, programme: Programme
) -> list[BaseHeld]:
    """Say where the base, which the formula must stay near, goes against a rule."""
    near = [rule for rule in programme.rules if rule.kind == "closeness"]
    amounts = complete(programme, scenario.base)
    said = []
    for rule in programme.rules if near else ():
        slack = rule.slack(amounts)
        if slack is None or not is_broken(rule, slack):
            continue
        if any(
            -slack > each.limit and _moves_no_more(rule, each, catalogue, programme)
            for each in near
        ):
            said.append(BaseHeld(rule.value(amounts) or 0.0, rule))
    return said


def _moves_no_more(
    rule: Rule, closeness: Rule, catalogue: Catalogue, programme: Programme
) -> bool:
    """Whether a rule's value, in percent of the product, moves no more than a change.

    It may, where what the change takes for one and the same counts differently.
    """
    if rule.unit != "%" or rule.curved or not isinstance(closeness.about, Bound):
        return False
    counted = np.zeros(len(programme.columns))
    counted[rule.amounts.columns] = rule.amounts.coefficients / rule.per_constant
    alike: dict[str, set[float]] = {}
    for key, each in zip(programme.ingredients, counted.tolist(), strict=False):
        group = catalogue.ingredients[key].group(closeness.about.what)
        alike.setdefault(group, set()).add(each)
    spread = float(np.ptp(counted[: len(programme.ingredients)]))
    return spread <= 1.0 and all(len(each) == 1 for each in alike.values())


def _unsettled(
    scenario: Scenario, catalogue: Catalogue, programme: Programme
) -> Iterator[str | KeptOut]:
    """Yield what is asked for and kept out by a reading or for want of knowledge."""
    asked = {each.what for each in (*scenario.limits, *scenario.pins) if each.low}
    asked |= set(scenario.base) if scenario.closeness else set()
    for rule in programme.rules:
        if not rule.excludes:
            continue
        out = rule.about
        keys = (programme.ingredients[int(column)] for column in rule.amounts.columns)
        for key in (each for each in keys if each in asked):
            name = catalogue.ingredients[key].name
            lacking = undecided(rule, key, scenario, catalogue)
            listed: bool | None = True
            if isinstance(out, Excluded) and out.kind == "allergens":
                listed = contains(catalogue, key, out.entry, scenario.markets, "listed")
            if lacking or listed is None:
                yield KeptOut(name, rule.sentence, lacking)
            if listed is False:
                yield (
                    f"{name} is kept out by the cautious reading only; with reading ="
                    ' "listed" it may stay'
                )
