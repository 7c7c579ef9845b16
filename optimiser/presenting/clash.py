"""The page when no formula can keep every rule: causes first, then the clash."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.explaining.answer import BandsMiss, KeptOut
from optimiser.presenting.care import kept_out, out_for
from optimiser.presenting.facts import left_out
from optimiser.presenting.following import told_command
from optimiser.presenting.notes import AGREED, law_in_short
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Section,
    section,
)
from optimiser.presenting.rules import origin, sentence
from optimiser.presenting.words import (
    beside,
    clean,
    decimals,
    money,
    plural,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import BaseHeld, Clash, Easing, WayOut

__all__ = ["clash_page", "eased_to", "ways_told"]

SOLVED = "Each was solved again."
HOW_TO_TAKE = (
    "`optimiser formulate SCENARIO --way N --write FILE` writes a scenario that takes"
    " way N."
)


LET_IN = "No other way was found than to let in some of what you keep out:"
BEHIND = "Other clashes are behind this one: a way out ends them all."
MORE = "With --full: the rules that cannot all hold, and ways out."
NOT_ALL = (
    "The search was ended after some seconds: fewer rules may be enough to clash, and"
    " there may be other ways out, or smaller ones."
)
LOOKS_ON = "--thorough looks for them."


def cause_told(cause: str | BandsMiss | BaseHeld | KeptOut) -> str:
    """Return why nothing fits, in words.

    >>> from optimiser.explaining.answer import BandsMiss
    >>> cause_told(BandsMiss("min", 110.0))
    'the minimums of the bands already add up to 110 %'
    """
    if isinstance(cause, str):
        return cause
    if isinstance(cause, KeptOut):
        return out_for(cause.wish, [clean(cause.name)], cause.lacking)
    if isinstance(cause, BandsMiss):
        total = f"{beside(cause.total, 100.0)} %"
        if cause.side == "max":
            return f"the maximums of the bands add up to only {total}"
        return f"the minimums of the bands already add up to {total}"
    return (
        f"the base is {short(cause.value)} % where '{cause.rule.sentence}' holds,"
        " further off than the change from the base may be"
    )


def clash_page(
    clash: Clash,
    *,
    can_write: bool = True,
    first: Sequence[Block] = (),
    full: bool = True,
) -> Page:
    """Return the page on a clash.

    ``can_write`` says whether `formulate --write` would meet the same clash. ``first``
    is what tells it by itself, where something does: all else is then for ``full``.
    """
    if first and not full:
        law = tuple(law_in_short(clash.law))
        told = (*section("", first), *section("", [*law, Paragraph(MORE)], close=True))
        return Page(clash.title, (clash.file,), told)
    others = [
        each
        for other in clash.others
        for each in section("Another clash", _rules(other))
    ]
    return Page(
        clash.title,
        (clash.file,),
        (
            *section("", first),
            *section(
                "",
                [Paragraph("No formula keeps every rule."), *law_in_short(clash.law)],
            ),
            *section("Why", _why(clash)),
            *section("Rules that cannot all hold", _clash(clash)),
            *_of_other_totals(clash),
            *section("Ways out", _ways(clash, can_write=can_write)),
            *others,
            *section("Left out", left_out(clash.left_out)),
        ),
    )


def way_page(clash: Clash, way: int, file: str) -> Page:
    """Return what is written of a way out that was chosen, and what to run next."""
    told = list(ways_told(clash))[way - 1]
    return Page(
        clash.title,
        (clash.file,),
        section(
            "",
            [
                Paragraph(f"Way {way} out of the clash: {told}."),
                Paragraph(f"Next: {told_command('optimiser formulate {file}', file)}."),
            ],
        ),
    )


def _of_other_totals(clash: Clash) -> Iterator[Section]:
    """Yield what clashes with other totals of emulsifiers, where it is other rules."""
    for each in clash.totals:
        title = f"With {short(each.total)} % of emulsifiers"
        yield from section(title, _rules(each.rules))


def _why(clash: Clash) -> Iterator[Item]:
    """Yield the causes, those of what is kept out told together."""
    for each in clash.causes:
        if not isinstance(each, KeptOut):
            yield Item(cause_told(each))
    yield from kept_out(each for each in clash.causes if isinstance(each, KeptOut))


def _clash(clash: Clash) -> Iterator[Block]:
    yield from _rules(clash.rules)
    able = [rule for rule in clash.rules if rule.may_ease]
    if not clash.rules:
        return
    if not able:
        told = "None of these may be eased: other ingredients are needed"
    elif len(able) == len(clash.rules) > 1:
        told = "Take any one of these away and the rest of them can be met"
    else:
        one = "that one" if len(able) == 1 else "any one of those"
        told = (
            f"Of these {plural(len(clash.rules), 'rule')}, {len(able)} may be eased: "
            f"take {one} away and the rest of them can be met"
        )
    behind = f" {BEHIND}" if able and _more_behind(clash) else ""
    yield Item(f"{told}.{behind}")


def _more_behind(clash: Clash) -> bool:
    """Whether some way out has to ease more than a rule of this clash."""
    ids = {rule.id for rule in clash.rules}
    return bool(clash.others) or any(
        len(way.easings) > 1 or each.rule.id not in ids
        for way in clash.ways_out
        for each in way.easings
    )


def _rules(rules: Sequence[Rule]) -> Iterator[Item]:
    for rule in rules:
        # That percentages add up is written nowhere.
        under = () if rule.kind == "total" else (origin(rule),)
        yield Item(sentence(rule), under)


def _ways(clash: Clash, *, can_write: bool) -> Iterator[Block]:
    """Yield the ways out, numbered."""
    if clash.ways_out and all(way.lets_in for way in clash.ways_out):
        yield Item(LET_IN)
    for number, told in enumerate(ways_told(clash), start=1):
        yield Item(f"{number}  {told}")
    if clash.cut:
        yield Item(NOT_ALL, typed=LOOKS_ON)
    if clash.ways_out and can_write:
        yield Item(SOLVED, typed=HOW_TO_TAKE)


def ways_told(clash: Clash) -> Iterator[str]:
    """Yield each way out: what it eases, and what the formula then costs."""
    for way in clash.ways_out:
        eases = " and ".join(
            f"{sentence(each.rule)} -> {eased_to(each)}" for each in way.easings
        )
        if way.asks_supplier:
            eases += f", {AGREED}"
        then = []
        if way.cost_per_kg is not None:
            then.append(f"{money(way.cost_per_kg)} {clash.currency}/kg")
        if way.change is not None:
            different = decimals(way.change.by_ingredient, 1)
            then.append(f"{different} % different from the base")
        if way.cut:
            then.append(_not_searched(way))
        told = f": {', '.join(then)}" if then else ""
        yield f"{eases}{told}"


def _not_searched(way: WayOut) -> str:
    """Return what is open where the search for what a way comes to was ended."""
    if way.cost_per_kg is None and way.change is None:
        return "what it comes to was not found in the time for it"
    if way.stepped:
        return "perhaps less, for not all was tried"
    return "without whole steps, for none that fit were found in the time for it"


def eased_to(easing: Easing) -> str:
    """Return the limit eased to, in digits enough to tell it from the old one."""
    if easing.rule.all_or_nothing:
        return "dropped"
    unit = unit_words(easing.rule.unit)
    none = easing.rule.limit == 0.0 and easing.rule.side == "max"
    most = "at most " if none or easing.rule.kind == "stock" else ""
    figures = next(
        (n for n in range(4, 13) if short(easing.to, n) != short(easing.rule.limit, n)),
        4,
    )
    return f"{most}{short(easing.to, figures)}{unit}"
