"""Pictures of a result as pages: bands, where the money goes, price curves.

They stand beside what the pages of a result say in words, where there is room for them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from optimiser.domain.scenario import Bound
from optimiser.presenting.amounts import adding_up
from optimiser.presenting.formula import in_order
from optimiser.presenting.page import (
    BandLine,
    Bands,
    Block,
    Number,
    Page,
    Plot,
    Series,
    Table,
    TableColumn,
    section,
    words,
)
from optimiser.presenting.rules import sentence
from optimiser.presenting.why import curves_in_order
from optimiser.presenting.words import clean, listed, money, plural, short, tidy

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.explaining.answer import Answer, RuleLine
    from optimiser.explaining.curve import PriceCurve
    from optimiser.explaining.why import Reasons, RuleCurve
    from optimiser.studies.survey.values import Survey

__all__ = ["formula_pictures", "price_pictures", "rule_picture", "survey_pictures"]

THIS, BASE, RECIPES = "this formula", "base", "recipes"
DRAWN = "What each rule costs, drawn"
MOST_CURVES = 8
NEAR_EDGE = 0.05  # points: closer to an end of its band than any scale shows


def formula_pictures(answer: Answer) -> Page:
    """Return a formula in its bands, and where its money goes."""
    return Page(
        f"{answer.title} in pictures",
        (),
        (
            *section("Bands", list(_bands(answer))),
            *section("Where the money goes", list(_money(answer))),
        ),
    )


def _bands(answer: Answer) -> Iterator[Block]:
    """Yield the bands of an answer, with it and its base inside."""
    lines: dict[tuple[str, str], list[RuleLine]] = {}
    for line in answer.rules:
        about = line.rule.about
        if line.rule.kind == "band" and isinstance(about, Bound):
            lines.setdefault((about.what, about.of), []).append(line)
    base: dict[str, float] = {}
    for each in answer.formula:
        if each.base_percent is not None:
            was = base.get(each.category, 0.0)
            base[each.category] = was + each.base_percent
    spans, at_end = [], []
    for (what, of), found in lines.items():
        ends = {line.rule.side: line.rule.limit for line in found}
        name = what if of == "product" else f"{what}, of {of}"
        dots = (base[what],) if of == "product" and what in base else ()
        value = found[0].value
        spans.append(BandLine(name, ends.get("min"), ends.get("max"), value, dots))
        if any(line.slack is not None and line.slack < NEAR_EDGE for line in found):
            at_end.append(name)
    if spans:
        where = f"At an end of its band: {listed(at_end)}." if at_end else ""
        caption = where or "No band is at its end."
        yield Bands(caption, "%", tuple(spans), THIS, BASE if base else "")


def _money(answer: Answer) -> Iterator[Block]:
    """Yield what each ingredient costs in a kilogram, the dearest first."""
    known = [x for x in in_order(answer.formula) if x.cost_per_kg_product]
    rows = sorted(known, key=lambda line: -(line.cost_per_kg_product or 0.0))
    whole = sum(line.cost_per_kg_product or 0.0 for line in rows)
    if not whole:
        return
    costs = [line.cost_per_kg_product or 0.0 for line in rows]
    shares = adding_up([100.0 * cost / whole for cost in costs], [100] * len(costs))
    yield Table(
        (
            words("", [clean(line.name) for line in rows]),
            TableColumn(
                f"{answer.currency} in 1 kg",
                tuple(Number(cost, money(cost)) for cost in costs),
                bar=True,
            ),
            TableColumn(
                "% of the cost", tuple(Number(x / 100, f"{x // 100}") for x in shares)
            ),
        )
    )


def price_pictures(reasons: Reasons) -> Page:
    """Return the price curves of the rules that hold a formula."""
    curves = [
        block
        for each in curves_in_order(reasons)[:MOST_CURVES]
        for block in _curve(each)
    ]
    return Page(DRAWN, (), section("", curves))


def rule_picture(found: RuleCurve) -> Page:
    """Return the price curve of one rule."""
    return Page(DRAWN, (), section("", list(_curve(found))))


def _curve(found: RuleCurve) -> Iterator[Block]:
    """Yield the first aim that moves along a rule's limit."""
    told = (*found.way(-1.0), *found.way(1.0))
    for curve in found.curves:
        values = [point.value for point in curve.points]
        moves = any(leg.curve is curve for leg in told)
        if moves and len(values) > 1 and max(values) - min(values) > 1e-6:
            yield _plot(found, curve)
            return


def _plot(found: RuleCurve, curve: PriceCurve) -> Plot:
    limits = [float(short(tidy(point.limit), 5)) for point in curve.points]
    values = [point.value for point in curve.points]
    at = found.rule.limit
    here = next(
        (v for x, v in zip(limits, values, strict=True) if abs(x - at) < 1e-4), None
    )
    name = f"{curve.of}, {curve.unit}"
    series = [Series(curve.of, tuple(limits), tuple(values))]
    if here is not None:
        series.append(Series("where the limit stands", (at,), (here,)))
    across = f"limit, {found.rule.unit}" if found.rule.unit else "limit"
    return Plot(sentence(found.rule), across, name, tuple(series), zero=False)


def survey_pictures(survey: Survey, catalogue: Catalogue) -> Page | None:
    """Return the bands of a survey with its recipes and its base inside, if any."""
    chosen = next((x for x in survey.structures if x.name == survey.chosen), None)
    if chosen is None:
        return None
    recipes = [x for x in survey.recipes if x.used and x.name in chosen.recipes]
    base = survey.base
    bands = (base.bands if base is not None else ()) or chosen.bands
    own = {} if base is None else _by_category(
        {line.ingredient: line.percent for line in base.lines}, catalogue
    )  # fmt: skip
    spans = []
    for each in bands:
        held = (recipe.share(each.category).value for recipe in recipes)
        dots = tuple(sorted(round(x, 2) for x in held if x > 0.0))
        value = own.get(each.category, 0.0) if own else None
        spans.append(BandLine(each.category, each.low, each.high, value, dots))
    if not spans:
        return None
    caption = f"Rings are {plural(len(recipes), 'recipe')}, where they hold it."
    figure = Bands(caption, "%", tuple(spans), BASE, RECIPES)
    return Page("Bands, base and recipes", (), section("", [figure]))


def _by_category(
    amounts: Mapping[str, float], catalogue: Catalogue
) -> dict[str, float]:
    found: dict[str, float] = {}
    for key, percent in amounts.items():
        category = catalogue.ingredients[key].category
        found[category] = found.get(category, 0.0) + percent
    return found
