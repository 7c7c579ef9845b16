"""Why a formula is the one, as plain data for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.data import rule_data, tie_data

if TYPE_CHECKING:
    from optimiser.explaining.why import Reasons, RuleCurve

__all__ = ["rule_curve_data", "why_data"]

Data = dict[str, Any]


def why_data(reasons: Reasons) -> Data:
    """Return the reasons as data: every step of every binding rule."""
    return {
        "status": "answered",
        "title": reasons.title,
        "scenario": reasons.file,
        "currency": reasons.currency,
        "choices_kept": reasons.choices_kept,
        "rules": [rule_curve_data(each) for each in reasons.curves],
        "used": reasons.staying,
        "unused": reasons.entering,
        "ties": [tie_data(tie) for tie in reasons.ties],
    }


def rule_curve_data(found: RuleCurve) -> Data:
    """Return one rule and its whole price curve."""
    curve = found.curve
    return {
        **rule_data(found.rule),
        "value": found.value,
        "slack": found.slack,
        "curve": {
            "of": curve.of,
            "unit": curve.unit,
            "tolerance": curve.tolerance,
            "choices_kept": curve.choices_kept,
            "low_end": curve.low_end,
            "high_end": curve.high_end,
            "points": [{"limit": p.limit, "value": p.value} for p in curve.points],
        },
        "again": found.again,
    }
