"""Curves on the page: what a limit costs, to be dragged along, and how fats melt."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from optimiser.explaining.answer import Answer, Clash
from optimiser.explaining.solid_fat import solid_fat_curve
from optimiser.explaining.why import why_rule
from optimiser.presenting.fats import fats_page
from optimiser.presenting.html import LEFT, RIGHT, WIDE, blocks_html
from optimiser.presenting.page import Plot, Series
from optimiser.presenting.pictures import rule_picture
from optimiser.presenting.why import rule_page
from optimiser.solving.patience import within
from optimiser.web.desk import OnDesk
from optimiser.web.templates import rendered

__all__ = ["curve_html", "melting"]

WAITS = 20.0  # seconds for a curve
COLDEST, HOTTEST, STEP = 10.0, 45.0, 2.5  # deg C, of a melting curve
LINES = 2  # of it: the opinion and the straight sums, or those and the wax


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
    blocks = [b for each in rule_picture(found).sections for b in each.blocks]
    places = [
        at for b in blocks if isinstance(b, Plot) for s in b.series for at in s.at
    ]
    return rendered(
        "curve.html",
        clash=False,
        drawn=Drawn(min(places), max(places)) if places else None,
        plot=Markup(blocks_html(blocks)),
        rule=found.rule.id,
        what=found.rule.wording.what,
        limit=found.rule.limit,
        told=Markup(blocks_html(rule_page(found).sections[0].blocks)),
    )


def melting(answer: Answer, asked: OnDesk) -> Iterator[Plot]:
    """Yield how an answer's fats melt, marked where it is kept and on the skin."""
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    at = np.arange(COLDEST, HOTTEST + 1e-9, STEP).tolist()
    found = solid_fat_curve(answer.title, amounts, asked.catalogue, at)
    for section in fats_page(found).sections:
        for block in section.blocks:
            if isinstance(block, Plot):
                marks = list(_marks(block.series[0], asked))
                yield replace(block, series=(*block.series[:LINES], *marks))


def _marks(series: Series, asked: OnDesk) -> Iterator[Series]:
    """Yield the curve where the climate keeps it, and on the coolest skin."""
    kept = asked.scenario.zone and asked.catalogue.zone(asked.scenario.zone)
    skin = asked.catalogue.zone("skin")
    rows = zip(series.at, series.values, strict=True)
    known = {at: value for at, value in rows if value is not None}
    for zone, degrees in ((kept, kept and kept.high), (skin, skin and skin.low)):
        if not zone or not degrees or degrees > max(known, default=0.0):
            continue
        value = float(np.interp(degrees, list(known), list(known.values())))
        name = f"{zone.name}, {degrees:g} °C"
        yield Series(name, (degrees,), (value,))
