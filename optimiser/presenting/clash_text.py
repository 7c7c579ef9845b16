"""The report when no formula can keep every rule: causes first, then the clash."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.presenting.facts_text import left_out_lines
from optimiser.presenting.layout import item, paragraph, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.rules_text import origin, sentence
from optimiser.presenting.words import plural

if TYPE_CHECKING:
    from optimiser.explaining.answer import Clash

__all__ = ["clash_report"]


def clash_report(clash: Clash, columns: int | None = None) -> str:
    """Return the report on a clash as text, in at most ``columns`` characters."""
    wide = columns or width()
    lines = top_lines(clash.title, [clash.file], wide)
    lines += paragraph("No formula keeps every rule.", wide)
    causes = [line for cause in clash.causes for line in item(cause, wide)]
    lines += section("Why", causes)
    lines += section("Rules that cannot all hold", _rules(clash, wide))
    lines += section("Left out", left_out_lines(clash.left_out, wide))
    return "\n".join(lines) + "\n"


def _rules(clash: Clash, columns: int) -> list[str]:
    lines: list[str] = []
    for rule in clash.rules:
        lines += item(sentence(rule), columns)
        lines += paragraph(origin(rule), columns, "      ", "        ")
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
