"""What holds the formula where it is: each binding rule, what it costs, and how far.

Prices are told as sentences, for a step small enough that the price holds over it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.explaining.prices import is_broken
from optimiser.presenting.page import Item
from optimiser.presenting.price_words import (
    helping,
    idle_words,
    price_lines,
    relief,
    weight,
    with_unit,
)
from optimiser.presenting.words import (
    clean,
    evidence_words,
    keys,
    listed,
    plural,
)

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import RuleLine

__all__ = [
    "binding",
    "dearest",
    "free",
    "helping_first",
    "in_few_words",
    "is_pin",
    "near",
    "nearly_binding",
    "nothing_fits",
    "origin",
    "ranked",
    "sentence",
    "with_unit",
]

NEAR = 0.05  # a rule with less room than this share of its limit is nearly binding
UNPRICED = "Not priced while the chosen ingredients are kept"
_LOCKED = {
    "law": " (law; not to be eased)",
    "safety": " (for safety; not to be eased)",
    "assessor": " (your assessor's; not to be eased)",
    "arithmetic": " (arithmetic; not to be eased)",
    "model": " (a limit of the model)",
}


def sentence(rule: Rule) -> str:
    """Return a rule's sentence, and whether it may not be eased."""
    return rule.sentence + _LOCKED.get(rule.owner, "")


def origin(rule: Rule) -> str:
    """Return where a rule was written, and the source that was read for it."""
    read_in = keys(rule.source)
    told = f"; source: {listed(read_in, 2)}" if read_in else ""
    if rule.evidence not in {None, "", "defined"}:
        told += f"; weakest figure: {evidence_words(str(rule.evidence))}"
    return f"from {rule.origin}{told}"


def ranked(lines: Sequence[RuleLine], aims: Sequence[str]) -> list[RuleLine]:
    """Return the binding rules a maker can act on, those that cost most first.

    Rules that move the first aim come before those that move a later one; what a pin
    asks for comes last: it is there because somebody wants it.
    """
    held = [each for each in lines if each.binding and each.rule.owner != "arithmetic"]
    return sorted(
        held,
        key=lambda each: (
            is_pin(each.rule),
            _aim(each, aims),
            -round(weight(each), 9),
        ),
    )


def helping_first(lines: Sequence[RuleLine], aims: Sequence[str]) -> list[RuleLine]:
    """Return the rules ranked, but before the others those whose easing would show."""
    return sorted(
        ranked(lines, aims), key=lambda each: (is_pin(each.rule), not relief(each))
    )


def is_pin(rule: Rule) -> bool:
    """Whether a rule says how much there is of something, no more and no less."""
    return rule.side == "exact"


def _aim(line: RuleLine, aims: Sequence[str]) -> int:
    """Return the place of the first aim that the rule moves."""
    moved = [
        aims.index(price.of)
        for price in (line.ease, line.tighten)
        if price is not None and price.price and price.of in aims
    ]
    return min(moved, default=len(aims))


def in_few_words(rule: Rule) -> str:
    """Return a rule's statement alone, without why it is there or whose it is."""
    return rule.wording.say(rule.side, rule.limit)


def binding(
    lines: Sequence[RuleLine],
    aims: Sequence[str],
    currency: str,
    *,
    choices_kept: bool,
) -> Iterator[Item]:
    """Yield the binding rules with their prices and where each was written."""
    if choices_kept:
        yield Item("Prices hold with the chosen ingredients kept.")
    nothing = nothing_fits(lines, choices_kept)
    idle: dict[str, list[str]] = {}
    found = False
    for line in ranked(lines, aims):
        found = True
        if weight(line) or line.jumps:
            told = price_lines(line, currency, nothing)
            yield Item(sentence(line.rule), (told, origin(line.rule)))
            continue
        told = f"Met exactly; {idle_words(line, nothing)}"
        if choices_kept and _on_choices(line.rule):
            told = UNPRICED
        idle.setdefault(told, []).append(clean(line.rule.sentence))
    for told in sorted(idle, key=UNPRICED.__eq__):
        yield Item(f"{told}: {'; '.join(idle[told])}")
    if not found:
        yield Item("No rule does: every one has room to spare.")


def dearest(
    lines: Sequence[RuleLine],
    aims: Sequence[str],
    currency: str,
    most: int,
    *,
    brief: bool = False,
) -> Iterator[Item]:
    """Yield the rules that cost most, with what easing one saves.

    ``brief`` where each has one line; what nobody would notice then waits for the
    full page.
    """
    told = dict.fromkeys(  # two rules of one limit are one line
        f"{in_few_words(line.rule)}: {helps}"
        for line in helping_first(lines, aims)
        if (helps := helping(line, currency, brief=brief)) is not None
    )
    yield from map(Item, list(told)[:most])


def nothing_fits(lines: Sequence[RuleLine], choices_kept: bool) -> str:
    """Return what there is where a limit cannot be moved, no surer than it is."""
    kept = "with the chosen ingredients " if choices_kept else ""
    near = any(line.rule.kind == "opinion" for line in lines)
    return f"{kept}nothing{' near this formula' if near else ''} would fit"


def _on_choices(rule: Rule) -> bool:
    """Whether a rule decides what is chosen: a count, or a rule that keeps out."""
    return rule.counts or (rule.side == "max" and rule.limit == 0.0)


def nearly_binding(lines: Sequence[RuleLine]) -> list[RuleLine]:
    """Return rules with little room left, least first."""
    close = [
        each
        for each in lines
        if not each.binding
        and each.value is not None
        and each.rule.owner != "arithmetic"
        and _share(each) < NEAR
    ]
    return sorted(close, key=lambda each: round(_share(each), 9))  # ties as written


def _share(line: RuleLine) -> float:
    """Return the room left as a share of the limit; without end where unknown."""
    if line.slack is None or not line.rule.limit or is_broken(line.rule, line.slack):
        return math.inf
    return max(0.0, line.slack) / abs(line.rule.limit)


def near(lines: Sequence[RuleLine]) -> Iterator[Item]:
    """Yield the nearly binding rules with the room that each has left."""
    for line in nearly_binding(lines):
        if line.value is None or line.slack is None:
            continue
        unit = line.rule.unit
        left = _room_left(max(0.0, line.slack), "points" if unit == "%" else unit)
        now = with_unit(line.value, unit)
        yield Item(f"{line.rule.sentence}: now {now}, {left} left")


def _room_left(room: float, unit: str) -> str:
    """Return the room left, to a hundredth of a point; less is told as such."""
    if unit != "points":
        return with_unit(room, unit)
    if room < 0.01:
        return f"less than {with_unit(0.01, unit)}"
    return with_unit(round(room, 2), unit)


def free(lines: Sequence[RuleLine], *, sure: bool) -> Iterator[Item]:
    """Yield how many rules do nothing here, and which of the maker's own.

    With those that hold, those that nearly do, and those about what is not used,
    which are counted too, these are all the rules that were checked.

    Parameters
    ----------
    lines : sequence of RuleLine
        Every rule at the answer; one without a value has nothing to say here.
    sure : bool
        Whether easing them is sure to change nothing: so with one aim and no
        choices, since then the binding rules alone hold the answer.
    """
    close = set(map(id, nearly_binding(lines)))
    rest = [
        each
        for each in lines
        if not each.binding
        and id(each) not in close
        and each.rule.owner != "arithmetic"
    ]
    roomy = [each for each in rest if each.value is not None]
    if roomy:
        yield Item(_free(roomy, sure))
    if idle := len(rest) - len(roomy):
        more = "more rule is" if roomy else "rule is"
        mores = "more rules are" if roomy else "rules are"
        yield Item(f"{plural(idle, more, mores)} about ingredients that are not used.")


def _free(roomy: Sequence[RuleLine], sure: bool) -> str:
    text = plural(len(roomy), "rule does", "rules do") + " nothing here"
    if sure:
        easing = "it" if len(roomy) == 1 else "any of them"
        text += f": easing {easing} would change nothing"
    own = [each for each in roomy if each.rule.owner == "wish"]
    own.sort(key=_share, reverse=True)
    if own:
        text += f". Of your own: {listed((each.rule.sentence for each in own), 5)}"
    return text + "."
