"""The price curve of a rule on the page: its limit is dragged along it."""

from __future__ import annotations

from markupsafe import Markup
from msgspec import Struct

from optimiser.explaining.answer import Clash
from optimiser.explaining.curve import PriceCurve
from optimiser.explaining.why import RuleCurve, why_rule
from optimiser.presenting.html import LEFT, RIGHT, WIDE, blocks_html
from optimiser.presenting.page import Plot, Series
from optimiser.presenting.why import rule_page
from optimiser.presenting.words import unit_words
from optimiser.solving.patience import within
from optimiser.web.desk import OnDesk
from optimiser.web.templates import rendered

__all__ = ["curve_html"]

WAITS = 20.0  # seconds for a curve
LEAST_SPAN = 1e-6  # of a curve that is worth drawing


class Drawn(Struct, frozen=True):
    """Where a plot's axis begins and ends: in its own units, and in the limit's."""

    low: float
    high: float
    left: float = LEFT
    right: float = WIDE - RIGHT


def curve_html(asked: OnDesk, rule_id: str) -> str:
    """Return the price curve of a rule of the last question.

    Raises
    ------
    InputError
        If there is no such rule, or its limit cannot be moved.
    """
    with within(WAITS):
        found = why_rule(asked.scenario, asked.catalogue, rule_id)
    if isinstance(found, Clash):
        return rendered("curve.html", clash=True)
    curve = _told(found)
    places = [point.limit for point in curve.points]
    drawn = Drawn(min(places), max(places))
    seen = drawn.high - drawn.low > LEAST_SPAN
    return rendered(
        "curve.html",
        clash=False,
        drawn=drawn if seen else None,
        plot=Markup(blocks_html([_plot(found, curve)] if seen else [])),
        rule=found.rule.id,
        what=found.rule.wording.what,
        limit=found.rule.limit,
        told=Markup(blocks_html(rule_page(found).sections[0].blocks)),
    )


def _told(found: RuleCurve) -> PriceCurve:
    """Return the curve of the first aim that responds, on either side."""
    legs = (*found.way(-1.0), *found.way(1.0))
    return legs[0].curve if legs else found.curves[0]


def _plot(found: RuleCurve, curve: PriceCurve) -> Plot:
    what = found.rule.wording.what
    unit = unit_words(found.rule.unit).strip()
    places = tuple(point.limit for point in curve.points)
    values = tuple(point.value for point in curve.points)
    return Plot(
        caption=f"{curve.of.capitalize()} as the limit of {what} moves",
        across=unit or "limit",
        up=curve.unit,
        series=(Series(curve.of, places, values),),
        places=2 if curve.of == "cost" else None,
        zero=False,
    )
