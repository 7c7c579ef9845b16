"""The catalogue as a maker reads it: a list of ingredients, and all of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.material import AllergenStatus, Figure, Ingredient, UsageLimit
from optimiser.presenting.catalogue.makeup import makeup_lines
from optimiser.presenting.layout import Column, item, paragraph, table, width
from optimiser.presenting.report import section
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

__all__ = ["catalogue_list", "ingredient_sheet", "law_on", "nut_status"]

_NUTS = ("tree nut", "peanut")
_FLAGS = {
    "botanical_nut_or_kernel_not_listed": "kernel, not listed",
    "delisted_us_2025": "no longer listed",
}
NOT_KNOWN = "not known"


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


def catalogue_list(
    catalogue: Catalogue,
    ingredients: Sequence[Ingredient],
    priced: bool,
    columns: int | None = None,
) -> str:
    """Return ingredients as a table.

    Parameters
    ----------
    catalogue : Catalogue
        What is known of them.
    ingredients : sequence of Ingredient
        Those to list, in order.
    priced : bool
        Whether a workshop's prices were read.
    columns : int, optional
        Width to fit; by default the terminal's, at most 120.
    """
    wide = columns or width()
    keys = [each.key for each in ingredients]
    words = [
        Column("ingredient", [each.name for each in ingredients], number=False),
        Column("INCI", [each.inci or "" for each in ingredients], number=False),
        Column("category", [_group(e) for e in ingredients], number=False, least=8),
        Column("nuts", [nut_status(catalogue, key) for key in keys], False, least=6),
    ]
    numbers = [Column("solid at 30 °C, %", [_solid(catalogue, key) for key in keys])]
    if wide < 100:
        numbers = [Column("solid %", numbers[0].cells)]
    if priced:
        prices = [catalogue.price_per_kg(key) for key in keys]
        cells = ["" if price is None else money(price) for price in prices]
        numbers.insert(0, Column(f"{catalogue.currency}/kg", cells))
    lines = table([*words, *numbers], wide)
    told = plural(len(ingredients), "ingredient")
    if wide < 100:
        told += "; solid %: solid fat at 30 °C"
    return "\n".join([*lines, "", *item(f"{told}; blank is not known.", wide)]) + "\n"


def _group(each: Ingredient) -> str:
    return each.category if each.kind is None else f"{each.category}: {each.kind}"


def _solid(catalogue: Catalogue, key: str) -> str:
    figure = catalogue.figures.get("solid fat", {}).get(key, {}).get(30.0)
    return "" if figure is None else short(figure.value)


def law_on(catalogue: Catalogue, key: str) -> list[SubstanceLimit]:
    """Return the legal limits on substances that an ingredient holds."""
    holds = {name for name, rows in catalogue.contents.items() if key in rows}
    return [each for each in catalogue.substance_limits if holds & set(each.factors)]


def ingredient_sheet(
    catalogue: Catalogue, ingredient: Ingredient, columns: int | None = None
) -> str:
    """Return everything known of one ingredient, with evidence and sources."""
    wide = columns or width()
    key = ingredient.key
    used: dict[str, None] = {}
    lines = paragraph(ingredient.name, wide) + _about(ingredient, wide)
    lines += section("Figures", _figures(catalogue, key, used, wide))
    lines += section("Made of", makeup_lines(catalogue, key, used, wide))
    lines += section("Holds", _contents(catalogue, key, used, wide))
    lines += section("Limits", _limits(catalogue, key, used, wide))
    lines += section("Allergens", _allergens(catalogue, key, used, wide))
    lines += section("Prices", _prices(catalogue, key, wide))
    lines += section("On the shelf", _stock(catalogue, key, wide))
    lines += section("Sources", _sources(catalogue, used, wide))
    return "\n".join(lines) + "\n"


def _about(each: Ingredient, columns: int) -> list[str]:
    facts: Mapping[str, str | None] = {
        "key": each.key,
        "INCI": _inci(each),
        "category": each.category,
        "kind": each.kind or NOT_KNOWN,
        "dissolves in water": _answered(each.dissolves),
        "family": each.family,
        "also called": listed(each.aliases) or None,
        "vegan": _answered(each.vegan),
        "palm": _answered(each.palm),
        "added at": each.stage,
        "take care": listed(each.cautions) or None,
        "written in": str(each.origin),
    }
    lines: list[str] = []
    for name, value in facts.items():
        if value is not None:
            lines += item(f"{name}: {value}", columns)
    return lines


def _inci(each: Ingredient) -> str | None:
    """Return the INCI name with how well it is known."""
    if each.inci is None or each.inci_evidence is None:
        return each.inci
    return f"{each.inci} ({evidence_words(each.inci_evidence)})"


def _answered(word: str | None) -> str:
    return {None: NOT_KNOWN, "ask": "ask the supplier"}.get(word, word or NOT_KNOWN)


def _figures(
    catalogue: Catalogue, key: str, used: dict[str, None], columns: int
) -> list[str]:
    lines: list[str] = []
    for name, rows in catalogue.figures.items():
        for at, figure in sorted(
            rows.get(key, {}).items(), key=lambda pair: pair[0] or 0
        ):
            told = name if at is None else f"{name} at {short(at)} °C"
            lines += item(f"{told}: {_figure(figure, used)}", columns)
    return lines


def _contents(
    catalogue: Catalogue, key: str, used: dict[str, None], columns: int
) -> list[str]:
    lines: list[str] = []
    for name, rows in catalogue.contents.items():
        if key in rows:
            lines += item(f"{name}: {_figure(rows[key], used)}", columns)
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


def _limits(
    catalogue: Catalogue, key: str, used: dict[str, None], columns: int
) -> list[str]:
    lines: list[str] = []
    for each in catalogue.limits:
        if each.ingredient == key:
            _use(used, each.source)
            lines += item(_usage(each), columns)
    for law in law_on(catalogue, key):
        _use(used, law.source)
        told = "not allowed"
        if law.high:
            told = f"at most {short(law.high)} % of the product"
        counted = f", counted as {law.counted_as}" if law.counted_as else ""
        lines += item(
            f"law, {law.market}, {_use_of(law.use)}: {law.name} {told}{counted}; "
            f"{law.instrument}, {law.entry}; {law.source}",
            columns,
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
    return f"{limit.whose}, {_use_of(limit.use)}: {told}, {known}"


def _use_of(use: str) -> str:
    return "any use" if use == "any" else use


def _allergens(
    catalogue: Catalogue, key: str, used: dict[str, None], columns: int
) -> list[str]:
    lines: list[str] = []
    for allergen, rows in catalogue.allergens.items():
        if key in rows:
            _use(used, rows[key].source)
            lines += item(f"{allergen}: {_status(rows[key])}", columns)
    return lines or item("nothing is known; that is not the same as none", columns)


def _status(status: AllergenStatus) -> str:
    groups = {"listed by": True, "not listed by": False, "not known for": None}
    parts = []
    for word, wanted in groups.items():
        names = [name for name, value in status.listed.items() if value is wanted]
        if names:
            parts.append(f"{word} {listed(names)}")
    if status.flag:
        parts.append(flag_words(status.flag))
    return "; ".join([*parts, status.source])


def _prices(catalogue: Catalogue, key: str, columns: int) -> list[str]:
    lines: list[str] = []
    for pack in catalogue.prices.get(key, ()):
        day = "" if pack.day is None else f", {pack.day.isoformat()}"
        lines += item(
            f"{short(pack.pack_kg)} kg for {money(pack.price)} and "
            f"{money(pack.freight)} freight: "
            f"{money(pack.price_per_kg)} {pack.currency}/kg{day}",
            columns,
        )
    return lines


def _stock(catalogue: Catalogue, key: str, columns: int) -> list[str]:
    lines: list[str] = []
    for lot in catalogue.stock:
        if lot.ingredient == key:
            until = "" if lot.expiry is None else f", use by {lot.expiry.isoformat()}"
            lines += item(f"lot {lot.lot}: {short(lot.amount)} kg{until}", columns)
    return lines


def _sources(catalogue: Catalogue, used: Mapping[str, None], columns: int) -> list[str]:
    lines: list[str] = []
    for key in used:
        source = catalogue.sources.get(key)
        if source is not None:
            read = "" if source.read is None else f" (read {clean(source.read)})"
            lines += item(f"{key}: {source.reference}{read}", columns)
    return lines
