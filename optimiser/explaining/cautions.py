"""Which cautions a product calls for: by its kind, its ingredients and amounts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.caution import (
    FEET,
    FREE_FROM,
    KNOWN,
    POURING,
    WHAT,
    Caution,
    CautionLine,
)
from optimiser.domain.material import UNKNOWN
from optimiser.domain.products import for_feet, holds_for
from optimiser.domain.scenario import Scenario
from optimiser.rules.doses import PRESERVATIVE, least_dose

__all__ = ["at_the_bench", "cautions", "on_a_label", "that_spoil"]

ROUNDING = 1e-6  # percent
MOST_NAMES = 4  # of the ingredients that call for a caution


def cautions(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[CautionLine, ...]:
    """Return the cautions that a product calls for, the weightiest first.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent of the product
    """
    kinds = scenario.product_kinds
    asked = {FREE_FROM} if scenario.exclude.allergens else set[str]()
    if for_feet(scenario.product or ""):
        asked.add(FEET)
    return _told(
        (
            each
            for each in catalogue.cautions
            if each.use in {"any", scenario.use}
            and holds_for(kinds, each.products)
            and (each.when is None or each.when in asked)
        ),
        amounts,
        scenario.use,
        catalogue,
    )


def at_the_bench(
    amounts: Mapping[str, float], catalogue: Catalogue
) -> tuple[CautionLine, ...]:
    """Return what whoever pours a formula has to mind, the weightiest first."""
    rows = (
        each
        for each in catalogue.cautions
        if each.who == "maker"
        and each.use == "any"
        and not each.products
        and each.when in {None, POURING}
    )
    return _told(rows, amounts, "any", catalogue)


def on_a_label(told: Sequence[CautionLine]) -> tuple[str, ...]:
    """Return what a label says of some cautions: of one danger the strictest alone."""
    strictest: dict[str, CautionLine] = {}
    for each in told:
        known = strictest.get(each.danger)
        if each.label and (known is None or each.strictness > known.strictness):
            strictest[each.danger] = each
    return tuple(
        each.label
        for each in told
        if each.label and (not each.danger or strictest[each.danger] is each)
    )


def that_spoil(told: Sequence[CautionLine]) -> tuple[CautionLine, ...]:
    """Return the cautions told for want of a preservative, the weightiest first.

    Such a product may spoil long before any of the lots in it.
    """
    return tuple(each for each in told if PRESERVATIVE in each.without)


def _told(
    rows: Iterable[Caution],
    amounts: Mapping[str, float],
    use: str,
    catalogue: Catalogue,
) -> tuple[CautionLine, ...]:
    """Return the rows that apply, the first of each key, by their weight."""
    used = {key: percent for key, percent in amounts.items() if percent > 0.0}
    # A preservative below the dose at which it works spares nothing.
    categories = {
        catalogue.ingredients[key].category
        for key, percent in used.items()
        if percent >= _works_from(catalogue, key, use) - ROUNDING
    }
    strangers = tuple(
        each.name
        for key in sorted(used, key=lambda key: (-used[key], key))
        if (each := catalogue.ingredients[key]).category == UNKNOWN
    )
    found: dict[str, CautionLine] = {}
    for row in rows:
        if row.key in found or categories & set(row.without):
            continue
        shares = _shares(row, used, catalogue)
        if row.about_ingredients and sum(shares.values()) <= row.over:
            continue
        ranked = sorted(shares, key=lambda key: (-shares[key], key))
        found[row.key] = _line(
            row,
            [catalogue.ingredients[key].name for key in ranked],
            strangers if row.without else (),
            catalogue,
        )
    return tuple(sorted(found.values(), key=lambda line: -line.weight))


def _works_from(catalogue: Catalogue, key: str, use: str) -> float:
    """Return the least dose at which an ingredient works, percent; 0 for any."""
    found = least_dose(catalogue, key, use)
    return 0.0 if found is None or found.low is None else found.low


def _shares(
    row: Caution, used: Mapping[str, float], catalogue: Catalogue
) -> dict[str, float]:
    """Return what each ingredient brings of what a row is about, % of the product.

    A constituent counts at the high end of its content, as limits count it.
    """
    shares: dict[str, float] = {}
    for constituent in row.constituents:
        for key, figure in catalogue.contents.get(constituent, {}).items():
            if key in used and figure.high > 0.0:
                brought = used[key] * figure.high / 100.0
                shares[key] = shares.get(key, 0.0) + brought
    for key, percent in used.items():
        each = catalogue.ingredients[key]
        if (
            key in row.ingredients
            or each.category in row.categories
            or each.kind in row.kinds
            or set(each.cautions) & set(row.tags)
        ):
            shares[key] = percent
    return shares


def _line(
    row: Caution, names: Sequence[str], unsure: Sequence[str], catalogue: Catalogue
) -> CautionLine:
    source = catalogue.sources.get(row.source)
    known = ""
    if unsure:
        are = "is" if len(unsure) == 1 else "are"
        known = f" that is known here (what {_listed(unsure)} {are}, is not known)"
    return CautionLine(
        key=row.key,
        weight=row.weight,
        text=row.text.replace(KNOWN, known).replace(WHAT, _listed(names)),
        reason=row.reason,
        who=row.who,
        names=tuple(names),
        evidence=row.evidence,
        source=row.source,
        reference="" if source is None else source.reference,
        label=row.label,
        danger=row.danger,
        strictness=row.strictness,
        without=row.without,
        unsure=tuple(unsure),
    )


def _listed(names: Sequence[str]) -> str:
    """Return names in a row, the last ones only counted where there are many.

    >>> _listed(["poppy seed", "oat meal", "honey"])
    'poppy seed, oat meal and honey'
    >>> _listed(["a", "b", "c", "d", "e", "f"])
    'a, b, c, d and 2 more'
    """
    shown = list(names[:MOST_NAMES])
    if len(names) > len(shown):
        shown.append(f"{len(names) - len(shown)} more")
    return " and ".join(filter(None, (", ".join(shown[:-1]), *shown[-1:])))
