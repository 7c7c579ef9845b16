"""What a formula is and holds: lines, properties, change, allergens, label names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import CATEGORIES, UNRELATED
from optimiser.domain.properties import PROPERTIES, melts, property_named, reported
from optimiser.domain.scenario import Scenario, Window
from optimiser.domain.spoken import allergens_in
from optimiser.domain.unknown import left_aside, unjudged
from optimiser.explaining.answer import (
    AllergenLine,
    Change,
    FormulaLine,
    LabelName,
    PropertyLine,
)
from optimiser.explaining.second_opinion import Opinion, asks, second_figures
from optimiser.rules import part_amounts
from optimiser.rules.guards import LAURIC_SHARE, WAX_SHARE, lauric_share, wax_share
from optimiser.science.mixing import blend_value
from optimiser.science.stiffening import stiffening
from optimiser.science.strength import strengths
from optimiser.solving import TRACE

__all__ = [
    "TRACE",
    "WITH_GRAINS",
    "allergens",
    "apart",
    "change",
    "cost_per_kg",
    "expired_lots",
    "formula_lines",
    "label_names",
    "properties",
]


# The firmness of the finished bar: its lipids' times what its grains stiffen it.
BY_NAME = "by_its_name"  # an allergen that nothing but a name tells of
WITH_GRAINS = "firmness with its grains"
# From so many times on the grains are worth telling of.
TELLING = 1.05


def formula_lines(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[FormulaLine, ...]:
    """Return one line an ingredient of the formula or the base, by category.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
    """
    lines = []
    for key in {**scenario.base, **amounts}:
        percent = amounts.get(key, 0.0)
        base = scenario.base.get(key, 0.0) if scenario.base else None
        if percent <= 0.0 and not base:
            continue
        ingredient = catalogue.ingredients[key]
        price = catalogue.price_per_kg(key)
        lines.append(
            FormulaLine(
                ingredient=key,
                name=ingredient.name,
                category=ingredient.category,
                percent=percent,
                grams=percent * scenario.batch_kg * 10.0,
                price_per_kg=price,
                cost_per_kg_product=None if price is None else price * percent / 100.0,
                base_percent=base,
            )
        )
    lines.sort(key=lambda x: (CATEGORIES.index(x.category), -x.percent, x.name))
    return tuple(lines)


def cost_per_kg(amounts: Mapping[str, float], catalogue: Catalogue) -> float | None:
    """Return money per kg of product; None where a used price is not known."""
    total = 0.0
    for key, percent in amounts.items():
        if percent <= 0.0:
            continue
        price = catalogue.price_per_kg(key)
        if price is None:
            return None
        total += price * percent / 100.0
    return total


def properties(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    opinion: Opinion | None = None,
) -> tuple[PropertyLine, ...]:
    """Return the properties that windows hold, then the usual ones.

    An ``opinion`` that has been asked of these amounts before need not be formed anew.
    """
    held: dict[tuple[str, float | None, str], list[Window]] = {}
    for window in scenario.windows:
        held.setdefault((window.property, window.at, window.over), []).append(window)
    asked = list(held)
    asked += [
        (name, at, PROPERTIES[name].over)
        for name, at in reported()
        if not any((name, at) == (a[0], a[1]) for a in asked)
    ]
    # Largest first, as what lacks a figure is named.
    by_size = sorted(amounts.items(), key=lambda each: -each[1])
    formula = {key: percent for key, percent in by_size if percent > 0.0}
    aside = tuple(
        (catalogue.ingredients[key].name, percent)
        for key, percent in left_aside(formula, catalogue).items()
    )
    much = unjudged(formula, catalogue)
    strangers = {catalogue.ingredients[key].name for key in much}
    lines = []
    for name, at, over in dict.fromkeys(asked):
        kind = property_named(name, catalogue)
        if kind is None:
            continue
        part = part_amounts(scenario, catalogue, formula, over)
        if not part:
            continue
        blend = blend_value(kind, part, at, catalogue)
        windows = held.get((name, at, over), [])
        lines.append(
            PropertyLine(
                name,
                at,
                over,
                blend.low,
                blend.value,
                blend.high,
                kind.unit,
                blend.missing,
                least=max((w.low for w in windows if w.low is not None), default=None),
                most=min((w.high for w in windows if w.high is not None), default=None),
                unknown=tuple(each for each in blend.missing if each in strangers),
                without=aside,
                rough=tuple(_rough(name, formula, catalogue)),
            )
        )
    if asks(scenario):
        opinion = opinion or Opinion(scenario, catalogue, tuple(formula))
        lines = list(_with_second(lines, formula, opinion))
    return (*lines, *_with_grains(lines, stiffening(formula, catalogue)))


def _rough(
    name: str, formula: Mapping[str, float], catalogue: Catalogue
) -> Iterator[tuple[str, float]]:
    """Yield of what there is too much for a property's straight sum to be trusted."""
    lauric = lauric_share(formula, catalogue)
    if melts(name) and lauric > LAURIC_SHARE:
        yield "lauric", lauric
    waxes = wax_share(formula, catalogue)
    if name == "firmness" and waxes > WAX_SHARE:
        yield "wax", waxes


def _with_grains(lines: Sequence[PropertyLine], times: float) -> Iterator[PropertyLine]:
    """Yield each firmness as the finished bar has it, where it holds grains."""
    if times < TELLING:
        return

    def stiffer(value: float | None) -> float | None:
        return None if value is None else times * value

    for line in lines:
        if line.property == "firmness" and line.over == "lipids":
            yield replace(
                line,
                property=WITH_GRAINS,
                over="product",
                low=stiffer(line.low),
                value=stiffer(line.value),
                high=stiffer(line.high),
                second=stiffer(line.second),
                doubt=stiffer(line.doubt),
                least=None,
                most=None,
            )


def _with_second(
    lines: Sequence[PropertyLine], formula: Mapping[str, float], opinion: Opinion
) -> tuple[PropertyLine, ...]:
    """Return lines with second figures."""
    asked = [(line.property, line.at, line.over) for line in lines]
    values = [line.value for line in lines]
    figures = second_figures(asked, formula, values, opinion)
    return tuple(
        line
        if figure is None
        else replace(line, second=figure.value, doubt=figure.doubt)
        for line, figure in zip(lines, figures, strict=True)
    )


def change(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> Change | None:
    """Return the distance from the base in points; None without a base."""
    if not scenario.base:
        return None
    return Change(
        by_ingredient=apart(scenario.base, amounts, catalogue, "ingredient"),
        by_kind=apart(scenario.base, amounts, catalogue, "kind"),
        by_category=apart(scenario.base, amounts, catalogue, "category"),
    )


def apart(
    first: Mapping[str, float],
    second: Mapping[str, float],
    catalogue: Catalogue,
    by: str,
) -> float:
    """Return how far two formulas are apart by ingredient, kind or category, points.

    That is the sum of the moves upward, half of all moves. Of a kind or a category
    waxes count by their strength, as often as the first formula's main one.
    """
    times = strengths(second, first, catalogue, by)
    moves: dict[str, float] = {}
    for key in {**first, **second}:
        group = catalogue.ingredients[key].group(by)
        move = second.get(key, 0.0) - first.get(key, 0.0)
        moves[group] = moves.get(group, 0.0) + move * times[key]
    return sum(move for move in moves.values() if move > 0.0)


def allergens(
    amounts: Mapping[str, float],
    catalogue: Catalogue,
    asked: Scenario | None = None,
) -> tuple[AllergenLine, ...]:
    """Return what some authority lists, or may, and what was never classified.

    An allergen that no row settles and that the name of an ingredient tells of is a
    doubt.

    Food allergens on a cosmetic are a courtesy to its users: cosmetics law asks for
    the ingredient names only. What the base of what is ``asked`` does not bring is new,
    if there is one.
    """
    base = {} if asked is None else asked.base
    free_from = () if asked is None else asked.exclude.allergens
    found = []
    before = (
        {x.allergen for x in allergens(base, catalogue) if x.listed} if base else ()
    )
    for allergen, rows in catalogue.allergens.items():
        out = allergen in free_from
        for key, status in rows.items():
            if amounts.get(key, 0.0) <= 0.0:
                continue
            unlike = bool(base) and not base.get(key)
            name = catalogue.ingredients[key].name
            where = tuple(
                sorted(market for market, yes in status.listed.items() if yes)
            )
            if where:
                new = bool(base) and (allergen not in before or (out and unlike))
                found.append(AllergenLine(allergen, name, where, new=new, out=out))
            elif status.flag not in {None, *UNRELATED}:
                flag, new = str(status.flag), out and unlike
                found.append(AllergenLine(allergen, name, (), flag, new, out))
    found += [
        AllergenLine(allergen, catalogue.ingredients[key].name, flag=BY_NAME)
        for key, percent in amounts.items()
        if percent > 0.0
        for allergen in allergens_in(catalogue.ingredients[key].name)
        if key not in catalogue.allergens.get(allergen, {})
    ]
    found += [
        AllergenLine("not known", catalogue.ingredients[key].name)
        for key, percent in amounts.items()
        if percent > 0.0 and not catalogue.classified(key)
    ]
    return tuple(sorted(found))


def label_names(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[LabelName, ...]:
    """Return scent allergens over their threshold, at the high end of contents.

    Notes
    -----
    Over every source, dose times content is added up and compared with the
    threshold of the use (Regulation (EU) 2023/1545: over 0.001 % leave-on, 0.01 %
    rinse-off).
    """
    names = []
    for each in catalogue.scent_allergens:
        begins = each.scope.begins
        if each.market not in scenario.markets:
            continue
        if begins is not None and begins > scenario.day:
            continue
        threshold = each.leave_on if scenario.use == "leave-on" else each.rinse_off
        share, sources = 0.0, []
        for substance in each.substances:
            for key, figure in catalogue.contents.get(substance, {}).items():
                dose = amounts.get(key, 0.0)
                if dose > 0.0 and figure.high > 0.0:
                    share += dose * figure.high / 100.0
                    sources.append(catalogue.ingredients[key].name)
        if share > threshold * (1.0 + 1e-9):  # over it, and not by rounding alone
            names.append(
                LabelName(
                    each.market,
                    each.label_name,
                    share,
                    threshold,
                    tuple(dict.fromkeys(sources)),
                )
            )
    return tuple(sorted(names, key=lambda name: -name.percent))


def expired_lots(catalogue: Catalogue) -> tuple[str, ...]:
    """Return a sentence on each lot that is past its date, and so is no stock."""
    return tuple(
        f"lot {lot.lot or 'without a number'} of"
        f" {catalogue.ingredients[lot.ingredient].name} expired on"
        f" {lot.expiry.isoformat()} and does not count"
        for lot in catalogue.expired
        if lot.expiry is not None and lot.ingredient in catalogue.ingredients
    )
