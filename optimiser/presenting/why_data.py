"""Why a formula is the one, as plain data for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.explaining.slopes import round_limit
from optimiser.presenting.data import rule_data, tie_data

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.why import Reasons, RuleCurve

__all__ = ["rule_curve_data", "why_data"]

Data = dict[str, Any]


def why_data(reasons: Reasons) -> Data:
    """Return the reasons as data: every step of every binding rule that is priced."""
    return {
        "status": "answered",
        "title": reasons.title,
        "scenario": reasons.file,
        "currency": reasons.currency,
        "choices_kept": reasons.choices_kept,
        "rules": [rule_curve_data(each) for each in reasons.curves],
        "used": reasons.staying,
        "unused": reasons.entering,
        "unpriced": [rule_data(rule) for rule in reasons.unpriced],
        "ties": [tie_data(tie) for tie in reasons.ties],
    }


def rule_curve_data(found: RuleCurve) -> Data:
    """Return one rule and its whole price curves, one an aim in order.

    ``down`` and ``up`` name the aims that tell a side: the first that responds, then
    an earlier one that gives way further on.
    """
    return {
        **rule_data(found.rule),
        "value": found.value,
        "slack": found.slack,
        "priced": found.priced,
        "down": [leg.curve.of for leg in found.way(-1.0)],
        "up": [leg.curve.of for leg in found.way(1.0)],
        "curves": [
            {
                "of": curve.of,
                "unit": curve.unit,
                "tolerance": curve.tolerance,
                "choices_kept": curve.choices_kept,
                "low_end": curve.low_end,
                "high_end": curve.high_end,
                "points": [
                    {"limit": _told(p.limit, found.rule), "value": p.value}
                    for p in curve.points
                ],
            }
            for curve in found.curves
        ],
        "again": [
            {
                "limit": each.limit,
                "aims": None
                if each.aims is None
                else [{"aim": n, "value": v, "unit": u} for n, v, u in each.aims],
            }
            for each in found.again
        ],
    }


def _told(limit: float, rule: Rule) -> float:
    """Return a limit without the last digits' noise; the rule's own as it is."""
    return limit if limit == rule.limit else round_limit(limit)
