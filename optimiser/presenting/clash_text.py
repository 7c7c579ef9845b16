"""The report when no formula can keep every rule: causes first, then the clash."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.facts_text import left_out_lines
from optimiser.presenting.layout import item, paragraph, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.rules_text import origin, sentence
from optimiser.presenting.words import decimals, money, plural, short, unit_words

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import Clash, Easing

__all__ = ["clash_report"]

HOW_TO_TAKE = (
    "Each was solved again. `optimiser formulate SCENARIO --way N --write FILE` writes"
    " a scenario that takes way N."
)


def clash_report(
    clash: Clash, columns: int | None = None, *, can_write: bool = True
) -> str:
    """Return the report on a clash as text, in at most ``columns`` characters.

    ``can_write`` says whether `formulate --write` would meet the same clash.
    """
    wide = columns or width()
    lines = top_lines(clash.title, [clash.file], wide)
    lines += paragraph("No formula keeps every rule.", wide)
    causes = [line for cause in clash.causes for line in item(cause, wide)]
    lines += section("Why", causes)
    lines += section("Rules that cannot all hold", _rules(clash, wide))
    for other in clash.others:
        lines += section("Another clash", _rule_lines(other, wide))
    lines += section("Ways out", _ways(clash, wide, can_write))
    lines += section("Left out", left_out_lines(clash.left_out, wide))
    return "\n".join(lines) + "\n"


def _rules(clash: Clash, columns: int) -> list[str]:
    lines = _rule_lines(clash.rules, columns)
    able = [rule for rule in clash.rules if rule.may_ease]
    if not clash.rules:
        return []
    if not able:
        told = "None of these may be eased: other ingredients are needed"
    elif len(able) == len(clash.rules) > 1:
        told = "Take any one of these away and the rest of them can be met"
    else:
        told = (
            f"Of these {plural(len(clash.rules), 'rule')}, {len(able)} may be eased: "
            "take any one of those away and the rest of them can be met"
        )
    return [*lines, "", *item(f"{told}.", columns)]


def _rule_lines(rules: Sequence[Rule], columns: int) -> list[str]:
    lines: list[str] = []
    for rule in rules:
        lines += item(sentence(rule), columns)
        lines += paragraph(origin(rule), columns, "      ", "        ")
    return lines


def _ways(clash: Clash, columns: int, can_write: bool) -> list[str]:
    """Return the ways out, numbered: what to ease, and what the formula then costs."""
    lines: list[str] = []
    for number, way in enumerate(clash.ways_out, start=1):
        eases = " and ".join(
            f"{sentence(each.rule)} -> {_to(each)}" for each in way.easings
        )
        then = []
        if way.cost_per_kg is not None:
            then.append(f"{money(way.cost_per_kg)} {clash.currency}/kg")
        if way.change is not None:
            then.append(f"{decimals(way.change.by_ingredient, 1)} points from the base")
        told = f"{number}  {eases}: {', '.join(then)}" if then else f"{number}  {eases}"
        lines += paragraph(told, columns, "  ", "     ")
    if lines and can_write:
        lines += ["", *item(HOW_TO_TAKE, columns)]
    return lines


def _to(easing: Easing) -> str:
    """Return the limit eased to, in digits enough to tell it from the old one."""
    unit = unit_words(easing.rule.unit)
    none = easing.rule.limit == 0.0 and easing.rule.side == "max"
    most = "at most " if none or easing.rule.kind == "stock" else ""
    figures = next(
        (n for n in range(4, 13) if short(easing.to, n) != short(easing.rule.limit, n)),
        4,
    )
    return f"{most}{short(easing.to, figures)}{unit}"
