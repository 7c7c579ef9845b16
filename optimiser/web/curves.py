"""Curves on the page: what a limit costs, to be dragged along, and how firm it is."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup
from msgspec import Struct

from optimiser.explaining.answer import Answer, Clash
from optimiser.explaining.firmness import firmness_curve
from optimiser.explaining.why import why_rule
from optimiser.presenting.firmness import firmness_plots
from optimiser.presenting.html import LEFT, RIGHT, WIDE, blocks_html
from optimiser.presenting.page import Plot
from optimiser.presenting.pictures import rule_picture
from optimiser.presenting.why import rule_page
from optimiser.solving.patience import within
from optimiser.web.desk import OnDesk
from optimiser.web.templates import rendered

__all__ = ["SIDES", "curve_html", "firm"]

SIDES = {"min": "at least", "max": "at most", "exact": "exactly"}
WAITS = 20.0  # seconds for a curve


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
    rule = next(each for each in asked.programme.rules if each.id == rule_id)
    about = {"what": rule.wording.what, "side": SIDES[rule.side]}
    if isinstance(found, Clash):
        return rendered("curve.html", clash=True, **about)
    blocks = [b for each in rule_picture(found).sections for b in each.blocks]
    places = [
        at for b in blocks if isinstance(b, Plot) for s in b.series for at in s.at
    ]
    return rendered(
        "curve.html",
        clash=False,
        **about,
        drawn=Drawn(min(places), max(places)) if places else None,
        plot=Markup(blocks_html(blocks)),
        rule=found.rule.id,
        limit=found.rule.limit,
        told=Markup(blocks_html(rule_page(found).sections[0].blocks)),
    )


def firm(answer: Answer, asked: OnDesk) -> Iterator[Plot]:
    """Yield how firm an answer is, marked where it is kept and on the skin."""
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    return firmness_plots(
        firmness_curve(answer.title, amounts, asked.scenario, asked.catalogue)
    )
