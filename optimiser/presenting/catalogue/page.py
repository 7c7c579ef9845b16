"""The catalogue as a maker reads it: a list of ingredients, and all of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.material import AllergenStatus, Figure, Ingredient, UsageLimit
from optimiser.presenting.catalogue.makeup import makeup_items
from optimiser.presenting.page import (
    Item,
    Page,
    Paragraph,
    Section,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import (
    clean,
    evidence_words,
    flag_words,
    keys,
    listed,
    money,
    plural,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.law import SubstanceLimit

__all__ = ["ingredient_page", "law_on", "list_page", "nut_status"]

_NUTS = ("tree nut", "peanut")
_FLAGS = {
    "botanical_nut_or_kernel_not_listed": "kernel, not listed",
    "delisted_us_2025": "no longer listed",
}
NOT_KNOWN = "not known"
MOST_ROWS, MOST_FACTS = 20, 3  # on a short page


def nut_status(catalogue: Catalogue, key: str) -> str:
    """Return which nuts an ingredient is listed under, or what is known of that."""
    statuses = {
        nut: status
        for nut in _NUTS
        if (status := catalogue.allergens.get(nut, {}).get(key)) is not None
    }
    present = [nut for nut, each in statuses.items() if any(each.listed.values())]
    if present:
        return listed(present)
    if "tree nut" not in statuses:
        return NOT_KNOWN
    flag = statuses["tree nut"].flag or ""
    if flag in _FLAGS:
        return _FLAGS[flag]
    known = [value for each in statuses.values() for value in each.listed.values()]
    return NOT_KNOWN if None in known else "none"


def list_page(
    catalogue: Catalogue,
    ingredients: Sequence[Ingredient],
    priced: bool,
    *,
    full: bool = False,
) -> Page:
    """Return ingredients as a table.

    Parameters
    ----------
    catalogue : Catalogue
        What is known of them.
    ingredients : sequence of Ingredient
        Those to list, in order.
    priced : bool
        Whether a workshop's prices were read.
    full : bool
        All of them, instead of the first of a long list.
    """
    rows = ingredients if full else ingredients[:MOST_ROWS]
    keys = [each.key for each in rows]
    columns = [
        words("ingredient", [each.name for each in rows]),
        *([words("INCI", [each.inci or "" for each in rows])] if full else []),
        words("category", [_group(each) for each in rows], 8),
        words("nuts", [nut_status(catalogue, key) for key in keys], 6),
        numbers("solid %", [_solid(catalogue, key) for key in keys], short),
    ]
    if priced:
        prices = [catalogue.price_per_kg(key) for key in keys]
        columns.insert(-1, numbers(f"{catalogue.currency}/kg", prices, money))
    told = (
        f"{plural(len(ingredients), 'ingredient')}; solid %: solid fat at 30 °C; blank"
        " is not known."
    )
    left = len(ingredients) - len(rows)
    if left:
        told += f" {left} more with --full; --category shows one kind."
    blocks = (Table(tuple(columns)),) if rows else ()
    return Page("Ingredients", (), (Section("", (Paragraph(told), *blocks)),))


def _group(each: Ingredient) -> str:
    return each.category if each.kind is None else f"{each.category}: {each.kind}"


def _solid(catalogue: Catalogue, key: str) -> float | None:
    figure = catalogue.figures.get("solid fat", {}).get(key, {}).get(30.0)
    return None if figure is None else figure.value


def law_on(catalogue: Catalogue, key: str) -> list[SubstanceLimit]:
    """Return the legal limits on substances that an ingredient holds."""
    holds = {name for name, rows in catalogue.contents.items() if key in rows}
    return [each for each in catalogue.substance_limits if holds & set(each.factors)]


def ingredient_page(
    catalogue: Catalogue, ingredient: Ingredient, *, full: bool = False
) -> Page:
    """Return everything known of one ingredient, with evidence and sources.

    On a short page what a maker looks up: what it is, price, shelf, allergens, limits
    and the first figures.
    """
    key = ingredient.key
    used: dict[str, None] = {}
    figures = _figures(catalogue, key, used)
    made = makeup_items(catalogue, key, used)
    contents = _contents(catalogue, key, used)
    limits = _limits(catalogue, key, used)
    allergens = _allergens(catalogue, key, used)
    most = None if full else MOST_FACTS
    sections = [Section("", tuple(_about(ingredient)))]
    sections += section("Prices", items(_prices(catalogue, key)))
    sections += section("On the shelf", items(_stock(catalogue, key)))
    sections += section("Allergens", items(allergens))
    sections += section("Limits", items(limits[:most]))
    sections += section("Figures", items(figures[:most]))
    if full:
        sections += section("Made of", made)
        sections += section("Holds", items(contents))
        sections += section("Sources", items(_sources(catalogue, used)))
    else:
        counts = [
            (max(0, len(figures) - MOST_FACTS), "more figure"),
            (max(0, len(limits) - MOST_FACTS), "more limit"),
            (len(contents), "content"),
        ]
        left = [plural(count, noun) for count, noun in counts if count]
        left += ["what it is made of"] if made else []
        left += ["sources"] if used else []
        if left:
            sections += section("", [Paragraph(f"With --full: {listed(left)}.")])
    return Page(ingredient.name, (), tuple(sections))


def _about(of: Ingredient) -> tuple[Item, ...]:
    facts: Mapping[str, str | None] = {
        "key": of.key,
        "INCI": _inci(of),
        "category": of.category,
        "kind": of.kind or NOT_KNOWN,
        "dissolves in water": _answered(of.dissolves),
        "family": of.family,
        "also called": listed(of.aliases) or None,
        "vegan": _answered(of.vegan),
        "palm": _answered(of.palm),
        "made in": of.made_in and of.made_in.replace("_", " "),
        "added at": of.stage,
        "take care": listed(of.cautions) or None,
        "written in": str(of.origin),
    }
    told = [f"{name}: {each}" for name, each in facts.items() if each is not None]
    return items(told)


def _inci(each: Ingredient) -> str | None:
    """Return the INCI name with how well it is known."""
    if each.inci is None or each.inci_evidence is None:
        return each.inci
    return f"{each.inci} ({evidence_words(each.inci_evidence)})"


def _answered(word: str | None) -> str:
    return {None: NOT_KNOWN, "ask": "ask the supplier"}.get(word, word or NOT_KNOWN)


def _figures(catalogue: Catalogue, key: str, used: dict[str, None]) -> list[str]:
    lines: list[str] = []
    for name, rows in catalogue.figures.items():
        for at, figure in sorted(
            rows.get(key, {}).items(), key=lambda pair: pair[0] or 0
        ):
            told = name if at is None else f"{name} at {short(at)} °C"
            lines.append(f"{told}: {_figure(figure, used)}")
    return lines


def _contents(catalogue: Catalogue, key: str, used: dict[str, None]) -> list[str]:
    lines: list[str] = []
    for name, rows in catalogue.contents.items():
        if key in rows:
            lines.append(f"{name}: {_figure(rows[key], used)}")
    return lines


def _figure(figure: Figure, used: dict[str, None]) -> str:
    _use(used, *figure.sources)
    unit = unit_words(figure.unit)
    spread = ""
    if figure.low != figure.high:
        spread = f" ({short(figure.low)} to {short(figure.high)})"
    sources = f"; {listed(figure.sources)}" if figure.sources else ""
    known = evidence_words(figure.evidence)
    return f"{short(figure.value)}{unit}{spread}, {known}{sources}"


def _use(used: dict[str, None], *sources: str) -> None:
    """Note sources that the sheet names, so that it tells them at its end."""
    for source in sources:
        used.update(dict.fromkeys(keys(source)))


def _limits(catalogue: Catalogue, key: str, used: dict[str, None]) -> list[str]:
    lines: list[str] = []
    for each in catalogue.limits:
        if each.ingredient == key:
            _use(used, each.source)
            lines.append(_usage(each))
    for law in law_on(catalogue, key):
        _use(used, law.source)
        told = "not allowed"
        if law.high:
            told = f"at most {short(law.high)} % of the product"
        counted = f", counted as {law.counted_as}" if law.counted_as else ""
        lines.append(
            f"law, {law.market}, {_use_of(law.use)}: {law.name} {told}{counted}; "
            f"{law.instrument}, {law.entry}; {law.source}"
        )
    return lines


def _usage(limit: UsageLimit) -> str:
    sides = []
    if limit.low is not None:
        sides.append(f"at least {short(limit.low)} %")
    if limit.high is not None:
        sides.append(f"at most {short(limit.high)} %")
    told = f"{' and '.join(sides)} of the {limit.of}" if sides else "no figure"
    known = f"{evidence_words(limit.evidence)}; {limit.source}"
    whose = f"{limit.whose}, {limit.market}" if limit.market else limit.whose
    return f"{whose}, {_use_of(limit.use)}: {told}, {known}"


def _use_of(use: str) -> str:
    return "any use" if use == "any" else use


def _allergens(catalogue: Catalogue, key: str, used: dict[str, None]) -> list[str]:
    lines: list[str] = []
    for allergen, rows in catalogue.allergens.items():
        if key in rows:
            _use(used, rows[key].source)
            lines.append(f"{allergen}: {_status(rows[key])}")
    return lines or ["nothing is known; that is not the same as none"]


def _status(status: AllergenStatus) -> str:
    groups = {"listed by": True, "not listed by": False, "not known for": None}
    parts = []
    for word, wanted in groups.items():
        names = [name for name, value in status.listed.items() if value is wanted]
        if names:
            parts.append(f"{word} {listed(names)}")
    if status.flag:
        parts.append(flag_words(status.flag))
    return "; ".join(filter(None, [*parts, status.source]))


def _prices(catalogue: Catalogue, key: str) -> list[str]:
    lines: list[str] = []
    for pack in catalogue.prices.get(key, ()):
        day = "" if pack.day is None else f", {pack.day.isoformat()}"
        lines.append(
            f"{short(pack.pack_kg)} kg for {money(pack.price)} and "
            f"{money(pack.freight)} freight: "
            f"{money(pack.price_per_kg)} {pack.currency}/kg{day}"
        )
    return lines


def _stock(catalogue: Catalogue, key: str) -> list[str]:
    lines: list[str] = []
    for lot in catalogue.stock:
        if lot.ingredient == key:
            until = "" if lot.expiry is None else f", use by {lot.expiry.isoformat()}"
            lines.append(f"lot {lot.lot}: {short(lot.amount)} kg{until}")
    return lines


def _sources(catalogue: Catalogue, used: Mapping[str, None]) -> list[str]:
    lines: list[str] = []
    for key in used:
        source = catalogue.sources.get(key)
        if source is not None:
            read = "" if source.read is None else f" (read {clean(source.read)})"
            lines.append(f"{key}: {source.reference}{read}")
    return lines
