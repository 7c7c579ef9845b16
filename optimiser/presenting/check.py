"""The page on a formula held against rules: the verdict first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.explaining.prices import is_broken
from optimiser.presenting import care, facts, formula, rules
from optimiser.presenting.answer import (
    about,
    asked_by_law,
    law,
    minding,
)
from optimiser.presenting.following import (
    begin_command,
    begin_following,
    following,
)
from optimiser.presenting.notes import (
    calibrated_told,
    law_lines,
    notes,
    unfirm_told,
)
from optimiser.presenting.opinion import opinion
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Section,
    items,
    section,
)
from optimiser.presenting.words import listed, plural

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import Checked, RuleLine

__all__ = ["broken", "broken_items", "check_page", "counted", "verdict"]

# Whose rules are told first: what must not be broken, then advice, then wishes.
_FIRST = ("law", "safety", "assessor", "supplier", "practice", "model", "wish")
MOST = 6  # broken rules on a short page


def counted(lines: Sequence[RuleLine]) -> list[RuleLine]:
    """Return the rules that are counted: all but those of arithmetic."""
    return [each for each in lines if each.rule.owner != "arithmetic"]


def broken(lines: Sequence[RuleLine]) -> list[RuleLine]:
    """Return the rules that are broken, by more than rounding; the law's first."""
    found = [each for each in lines if is_broken(each.rule, each.slack)]
    place = {owner: at for at, owner in enumerate(_FIRST)}
    return sorted(found, key=lambda each: place.get(each.rule.owner, len(place)))


def verdict(checked: Checked) -> str:
    """Return the outcome in a few words, as what a formula does."""
    count = len(broken(checked.lines))
    unknown = len(checked.missing)
    every = counted(checked.lines)
    if count:
        sums = count - len(broken(every))  # rules of arithmetic, else not counted
        told = f"breaks {plural(count, 'rule')} of {len(every) + sums}"
    elif not every and not unknown:
        told = "breaks no rule, for none speaks of it"
    elif unknown:
        judged = sum(each.slack is not None for each in every)
        told = f"keeps every rule that could be judged ({judged} of {len(every)})"
    else:
        eased = " as eased here" if checked.basis.over else ""
        told = f"keeps every rule{eased} ({len(every)})"
    said = checked.second_opinion
    fails = [] if said is None else [x for x in said.lines if x.holds is False]
    if fails and not count:
        told += (
            f" by straight sums; by the second opinion {plural(len(fails), 'window')}"
            f" {'does' if len(fails) == 1 else 'do'} not hold"
        )
    if unknown:
        told += f"; {plural(unknown, 'question')} could not be judged"
    blind = [line.market for line in checked.basis.law if line.kept is None]
    if blind:
        told += f"; the law of {listed(blind)} was NOT checked"
    return told


def check_page(
    checked: Checked,
    sources: Mapping[str, Source] | None = None,
    *,
    full: bool = False,
    begins: str = "",
    weighed: bool = False,
) -> Page:
    """Return the page on a checked formula, what is broken first.

    Parameters
    ----------
    sources : mapping of key to Source, optional
        Where rules were read; with it editions of law are told in full.
    begins : str
        The command that begins from the formula's file.
    weighed : bool
        Whether it is a batch sheet that was filled in.
    """
    held = checked.file or "limits of law, suppliers and practice alone"
    where = about(held, checked.use, checked.markets)
    first = (
        *section("Broken", broken_items(checked, full=full)),
        *section("Could not be judged", items(checked.missing)),
        *section("Taken for granted", items(checked.told)),
    )
    title = f"{checked.title}: {verdict(checked)}."
    if full:
        more = _everything(checked, sources or {})
        said = (*unfirm_told(checked.basis.unfirm), *law_lines(checked.basis))
        lines = section("", said)
        return Page(title, where, (*lines, *first, *more))
    mind = minding(checked.allergens, checked.cautions, checked.markets, rest=True)
    return Page(
        title,
        where,
        (
            *section("", [*unfirm_told(checked.basis.unfirm), *law(checked.basis)]),
            *first,
            *section("", [formula.formula_table(checked.formula)]),
            *section("Mind", mind),
            *section("Will it hold", _will_it_hold(checked)),
            *_next(checked, begins, weighed=weighed),
        ),
    )


def _will_it_hold(checked: Checked) -> Iterator[Block]:
    yield from facts.holding(checked.properties)
    yield from items(calibrated_told(checked.basis))


def _next(checked: Checked, begins: str, *, weighed: bool) -> tuple[Section, ...]:
    """Return what comes next: a batch, or a formula that breaks nothing."""
    begins = begins or begin_command("FOLDER", "RECIPE.csv")
    if not checked.file:
        return begin_following(begins)
    if checked.status != "kept":
        return following("check broken", checked.file)
    if weighed:
        return following("check weighed", checked.file)
    return following("check kept", checked.file, begins)


def broken_items(checked: Checked, *, full: bool) -> Iterator[Block]:
    """Yield the rules that are broken, by how much, and with ``full`` where from."""
    found = broken(checked.lines)
    for each in found if full else found[:MOST]:
        if each.slack is None or each.value is None:
            continue
        unit = each.rule.unit
        now = rules.with_unit(each.value, unit)
        if now == rules.with_unit(each.rule.limit, unit):
            now = f"{each.value:.6g} {unit}"
        by = rules.with_unit(-each.slack, "points" if unit == "%" else unit)
        under = (f"now {now}, out by {by}", rules.origin(each.rule))
        yield Item(rules.sentence(each.rule), under if full else under[:1])
    if not full and len(found) > MOST:
        yield Item(f"and {plural(len(found) - MOST, 'more rule')} (--full)")


def _everything(checked: Checked, sources: Mapping[str, Source]) -> tuple[Section, ...]:
    at_the_limit = [
        each.rule.sentence
        for each in counted(checked.lines)
        if each.binding and each.rule.limit
    ]
    said = notes(checked.basis, [("", checked.properties)])
    every = [line.rule for line in counted(checked.lines)]
    return (
        *section("At the limit", items(at_the_limit)),
        *section("Nearly at the limit", rules.near(checked.lines)),
        *section("Formula", _formula(checked)),
        *section("Properties", facts.properties(checked.properties)),
        *section("Second opinion", opinion(checked.second_opinion, ())),
        *section(
            "Allergens present or to ask about", facts.allergens(checked.allergens)
        ),
        *section("Names a label must carry", facts.label_names(checked.label_names)),
        *section("What the law asks for besides", asked_by_law(checked.basis)),
        *section("Notes", items(said)),
        *care.cautions(checked.cautions, full=True),
        *section("What was checked", facts.checked(every, sources)),
    )


def _formula(checked: Checked) -> Iterator[Block]:
    yield formula.formula_table(checked.formula, checked.currency, full=True)
    yield Item(formula.by_category(checked.formula))
    cost = formula.cost_told(
        checked.cost_per_kg, None, checked.formula, checked.currency
    )
    batch = formula.batch_cost(checked.cost_per_kg, checked.batch_kg, checked.currency)
    change = formula.change_told(checked.change, checked.formula)
    yield Item(" ".join(each for each in (cost, batch, change) if each))
