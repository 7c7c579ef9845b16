"""The page on what to buy for a plan: packs, money, lots, and what is left."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from optimiser.domain.material import CATEGORIES
from optimiser.explaining.basis import one_a_market
from optimiser.presenting import care
from optimiser.presenting.following import next_told
from optimiser.presenting.notes import law_in_short, lots_told, prices_told
from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.sheet import Sheet, as_sheet
from optimiser.presenting.studies.blocks import DOUBT, formulas_blocks
from optimiser.presenting.studies.data import made_data, told_data
from optimiser.presenting.studies.words import told_notes
from optimiser.presenting.words import (
    cents,
    clean,
    decimals,
    listed,
    money,
    plural,
    short,
)

if TYPE_CHECKING:
    from optimiser.domain.material import PackPrice
    from optimiser.studies.plan import Answered, Bought, Left, PlanFound, Taken

__all__ = ["SHOPPING", "plan_data", "plan_page", "plan_sheet"]

SHOPPING = (
    "supplier",
    "ingredient",
    "name",
    "packs",
    "pack_g",
    "price",
    "freight",
    "total",
    "currency",
    "used_g",
    "left_g",
    "left_good_until",
    "pack",
)
MOST_LEFT = 4  # on a short page
WINDOWS = "windows held in one simple way"
BARELY = 0.9  # of the units: so many without a pack are worth telling
NOTHING = 0.005  # money that is no difference
PROOF = (
    "Every rule of every product was recomputed, and no lot is used past its date."
    " Packs are bought before the first batch; what is left of them counts for nothing."
)


def plan_page(found: PlanFound, *, full: bool = False) -> Page:
    """Return the page on what to buy; of one product, its lots stand on it too."""
    plan, one = found.plan, _is_one(found)
    kg = sum(each.product.kg for each in found.products)
    top = (
        plan.file,
        f"{plural(len(found.products), 'product')}, {short(kg)} kg",
        f"bought {plan.day}",
        *_invented(found),
        *lots_told(plan.catalogue.invented_lots),
    )
    sections = [Section("", tuple(_answer(found)))]
    if found.purchase.bought:
        sections += section("What to buy", [_packs(found), *items(_orders(found))])
    if not one:
        sections += section("What each product takes", [_products(found)])
    if full or one:
        sections += section("From the shelf, first to expire first", _shelf(found))
    else:
        sections += section("From the shelf", items(_shelf_briefly(found)))
    left = [_left(found)] if full and found.left else items(_left_briefly(found))
    sections += section("What is left", left)
    if full:
        for each in found.products:
            title = "Formula" if one else f"Formula: {each.made.title}"
            sections += section(title, _formulas(each))
        sections += section("Into each batch", _batches(found))
    sections += _closing(found, full=full)
    return Page(f"{plan.title}: what to buy", top, tuple(sections))


def _invented(found: PlanFound) -> tuple[str, ...]:
    """Return what is said of invented prices: of some, those of what is paid for."""
    catalogue = found.plan.catalogue
    if catalogue.invented_prices != "some":
        return prices_told(catalogue.invented_prices)
    paid = [x.pack.ingredient for x in found.purchase.bought if x.pack.invented]
    if not _is_one(found):  # of several, what the shelf lends is told in money too
        paid += [each.ingredient for each in found.taken]
    names = catalogue.invented_among(paid)
    return prices_told("some", names) if names else ()


# -- the answer ----------------------------------------


def _answer(found: PlanFound) -> list[Block]:
    code, paid = found.plan.catalogue.currency, found.purchase
    if not paid.bought:
        text = "Buy nothing: the shelf has all of it."
    else:
        packs = sum(each.count for each in paid.bought)
        kinds = len({each.pack.ingredient for each in paid.bought})
        of = plural(kinds, "ingredient")
        text = f"Buy {plural(packs, 'pack')} of {of} for {money(paid.spend)} {code}"
        used = cents(paid.spend - found.left_worth) / 100
        into = "the product" if _is_one(found) else "the products"
        text += f"; {money(used)} of it goes into {into}, the rest is left over."
    said = [*_against(found), *_proved(found), *_barely(found), *_new(found)]
    return [Paragraph(text), *items(said)]


def _is_new(key: str, found: PlanFound) -> bool:
    """Whether neither a formula as it stands nor the shelf has an ingredient."""
    stand = any(each.stands.amounts.get(key, 0.0) > 0.0 for each in found.products)
    return not stand and all(x.ingredient != key for x in found.plan.catalogue.stock)


def _new(found: PlanFound) -> list[str]:
    """Return what is to be bought that the maker has neither used nor on the shelf."""
    names = found.plan.catalogue.ingredients
    keys = dict.fromkeys(each.pack.ingredient for each in _in_order(found))
    new = [names[key].name for key in keys if _is_new(key, found)]
    if not new:
        return []
    stand = "the formula as it stands" if _is_one(found) else "a formula as it stands"
    has = "has it" if len(new) == 1 else "has them"
    return [f"New to you: {listed(new)}; neither {stand} nor your shelf {has}."]


def _barely(found: PlanFound) -> list[str]:
    """Return how many units need nothing bought of what the shelf barely lacks."""
    units = found.products[0].product.units
    if not _is_one(found) or units is None:
        return []
    told = []
    for each in dict.fromkeys(x.pack.ingredient for x in found.purchase.bought):
        kg = {True: 0.0, False: 0.0}
        for x in found.taken:
            if x.ingredient == each:
                kg[x.lot is None] += x.kg
        enough = math.floor(units * kg[False] / (kg[False] + kg[True]) + 1e-9)
        if enough >= BARELY * units:
            name = found.plan.catalogue.ingredients[each].name
            told.append(
                f"{name}: {_pack(kg[True])} more than the shelf has;"
                f" {plural(enough, 'unit')} would need none bought."
            )
    return told


def _against(found: PlanFound) -> list[str]:
    """Return what other ways of buying would cost."""
    spend, stands, apart = found.purchase.spend, found.stands, found.apart
    as_is = "The formula as it stands"
    if not _is_one(found):
        as_is = "The formulas as they stand"
    told = []
    if stands is None:
        told.append(f"{as_is} cannot be bought for.")
    elif found.moves and stands > spend + NOTHING:
        more = money(stands - spend)
        told.append(f"{as_is} would take {money(stands)}, {more} more.")
    elif found.moves:
        told.append(f"{as_is}: none that costs less was found inside the rules.")
    if not _is_one(found) and apart is not None:
        stood = ", as they stand" if found.moves else ""
        told.append(f"With each product bought for by itself{stood}: {money(apart)}.")
    return told


def _proved(found: PlanFound) -> list[str | Item]:
    """Return how good the answer is known to be."""
    least = found.purchase.spend if found.least is None else found.least
    off = max(0.0, found.purchase.spend - least)
    what = "formula inside its rules" if _is_one(found) else "formulas inside the rules"
    if not found.moves:
        what = f"packs for {'this formula' if _is_one(found) else 'these formulas'}"
    cost = "costs" if found.moves and _is_one(found) else "cost"
    how = ""
    if any(x.second is not None and x.second.lined for x in found.told):
        how = f"; {WINDOWS}"
    told: list[str | Item] = []
    if found.least is None:
        up = "The time was up before others were found."
        told.append(Item(up, typed="--thorough takes longer."))
    elif off <= NOTHING:
        told.append(f"No {what} {cost} less{how}.")
    else:
        percent = short(100.0 * off / max(found.purchase.spend, NOTHING), 2)
        told.append(
            f"No {what} {cost} less than {money(least)}{how}. So {money(off)}"
            f" ({percent} %) is the most that could still be saved."
        )
    loose = [each.made.title for each in found.products if not each.in_steps]
    if loose:
        why = "for these packs leave no room for them"
        told.append(f"Not in its steps, {why}: {listed(loose)}.")
    return told


def _is_one(found: PlanFound) -> bool:
    return len(found.products) == 1


# -- tables ----------------------------------------


def _packs(found: PlanFound) -> Table:
    """Return the packs to buy, by supplier and category."""
    names = found.plan.catalogue.ingredients
    bought = _in_order(found)
    used, left = _bought_for(found)
    untils = {each.ingredient: each.expiry for each in found.left if each.lot is None}
    first = [
        n == 0 or bought[n - 1].pack.ingredient != each.pack.ingredient
        for n, each in enumerate(bought)
    ]
    columns = [words("", [names[x.pack.ingredient].name for x in bought], 14)]
    if any(each.pack.supplier for each in bought):
        columns.append(words("from", [x.pack.supplier or "-" for x in bought], 6))
    if found.plan.catalogue.invented_prices == "some":
        whose = ["invented" if x.pack.invented else "yours" for x in bought]
        if "invented" in whose:
            columns.append(words("price", whose, 8))
    paid = [each.paid for each in bought]
    columns += [
        TableColumn("packs", tuple(_counted(each) for each in bought)),
        numbers(found.plan.catalogue.currency, paid, money),
        _grams(
            "used, g",
            [
                used.get(x.pack.ingredient, 0.0) if is_first else None
                for x, is_first in zip(bought, first, strict=True)
            ],
        ),
        _grams(
            "left, g",
            [
                left.get(x.pack.ingredient, 0.0) if is_first else None
                for x, is_first in zip(bought, first, strict=True)
            ],
        ),
    ]
    if any(untils.values()):
        dates = [_day(untils.get(x.pack.ingredient)) for x in bought]
        columns.append(words("good until", dates, 10))
    return Table(tuple(columns))


def _counted(each: Bought) -> str:
    return f"{each.count} x {_holds(each.pack)}"


def _in_order(found: PlanFound) -> list[Bought]:
    names = found.plan.catalogue.ingredients

    def place(each: Bought) -> tuple[str, int, str, float]:
        of = names[each.pack.ingredient]
        place = CATEGORIES.index(of.category)
        return each.pack.supplier, place, of.name, -each.pack.pack_kg

    return sorted(found.purchase.bought, key=place)


def _bought_for(found: PlanFound) -> tuple[dict[str, float], dict[str, float]]:
    """Return kg used, and left, of what is bought of each ingredient."""
    used: dict[str, float] = {}
    for each in found.taken:
        if each.lot is None:
            used[each.ingredient] = used.get(each.ingredient, 0.0) + each.kg
    left: dict[str, float] = {}
    for rest in found.left:
        if rest.lot is None:
            left[rest.ingredient] = left.get(rest.ingredient, 0.0) + rest.kg
    return used, left


def _orders(found: PlanFound) -> list[str]:
    """Return what each order costs beside its packs."""
    told = []
    for each in found.purchase.orders:
        supplier, free = each.supplier, each.supplier.free_from
        text = f"{supplier.name}: packs for {money(each.goods)}"
        text += f", freight of the order {money(each.freight)}"
        if free is not None and not each.freight:
            text += f" (free from {money(free)})"
        told.append(f"{text}.")
    return told


def _products(found: PlanFound) -> Table:
    """Return what each product uses of what is bought and of the shelf."""
    code, rows = found.plan.catalogue.currency, found.products
    columns = [
        words("", [each.made.title for each in rows], 16),
        numbers("kg", [each.product.kg for each in rows], lambda kg: decimals(kg, 2)),
    ]
    if any(each.product.units is not None for each in rows):
        units = [each.product.units for each in rows]
        columns.append(numbers("units", units, lambda count: f"{count:.0f}", "-"))
    columns += [
        numbers(f"bought, {code}", [each.bought for each in rows], money),
        numbers(f"shelf, {code}", [each.shelf for each in rows], money, "not known"),
    ]
    if any(each.product.units is not None for each in rows):
        per = [_per_unit(each) for each in rows]
        columns.append(numbers("per unit", per, money, "-"))
    if found.moves:
        moved = [each.moved if each.product.moves else None for each in rows]
        columns.append(numbers("moved, %", moved, lambda x: decimals(x, 1), "stays"))
    return Table(tuple(columns))


def _per_unit(each: Answered) -> float | None:
    units = each.product.units
    return (
        None if not units or each.shelf is None else (each.bought + each.shelf) / units
    )


def _shelf(found: PlanFound) -> list[Block]:
    """Return what is taken from each lot, by the day until which it is good."""
    taken: dict[tuple[str, str], float] = {}
    expiry: dict[tuple[str, str], date | None] = {}
    for each in found.taken:
        if each.lot is not None:
            key = (each.ingredient, each.lot)
            taken[key] = taken.get(key, 0.0) + each.kg
            expiry[key] = each.expiry
    if not taken:
        return [Paragraph("Nothing of it is on the shelf.")]
    left = {(x.ingredient, x.lot): x.kg for x in found.left if x.lot is not None}
    keys = sorted(taken, key=lambda key: (expiry[key] or date.max, key))
    names = found.plan.catalogue.ingredients
    table = Table(
        (
            words("", [names[key].name for key, _ in keys], 14),
            words("lot", [lot or "-" for _, lot in keys], 4),
            _grams("take, g", [taken[key] for key in keys]),
            _grams("left, g", [left.get(key, 0.0) for key in keys]),
            words("good until", [_day(expiry[key]) for key in keys], 10),
        )
    )
    return [table]


def _shelf_briefly(found: PlanFound) -> list[str]:
    """Return how much the shelf gives, and which lots are used up."""
    taken = [each for each in found.taken if each.lot is not None]
    if not taken:
        return ["Nothing of it is on the shelf."]
    lots = {(each.ingredient, each.lot) for each in taken}
    left = {(each.ingredient, each.lot) for each in found.left}
    names = found.plan.catalogue.ingredients
    gone = sorted(f"{names[key].name} {lot or ''}".strip() for key, lot in lots - left)
    kg = short(sum(each.kg for each in taken))
    used = f"; used up: {listed(gone, MOST_LEFT)}" if gone else ""
    return [f"{kg} kg of {plural(len(lots), 'lot')}, first to expire first{used}."]


def _left(found: PlanFound) -> Table:
    """Return all that is left of what the products use, the first to expire first."""
    names, rows = found.plan.catalogue.ingredients, found.left
    return Table(
        (
            words("", [names[each.ingredient].name for each in rows], 14),
            words("lot", [_from(each) for each in rows], 4),
            _grams("left, g", [each.kg for each in rows]),
            words("good until", [_day(each.expiry) for each in rows], 10),
        )
    )


def _from(each: Left | Taken) -> str:
    return "bought" if each.lot is None else each.lot or "-"


def _left_briefly(found: PlanFound) -> list[str]:
    """Return what of all that is left expires first."""
    names = found.plan.catalogue.ingredients
    dated = [each for each in found.left if each.expiry is not None]
    told = []
    if dated:
        first = [
            f"{names[x.ingredient].name} {_pack(x.kg)} until {x.expiry}"
            for x in dated[:MOST_LEFT]
        ]
        told.append(f"First to expire: {listed(first)}.")
    undated = sum(1 for each in found.left if each.lot is None and each.expiry is None)
    if undated:
        told.append(
            f"How long {plural(undated, 'opened pack')} will keep is not known:"
            " prices.csv has a column keeps_months for it."
        )
    return told


def _formulas(each: Answered) -> list[Block]:
    stands = replace(each.stands, title="as it stands")
    if not each.moved:
        return [*formulas_blocks([stands])]
    return [*formulas_blocks([stands, replace(each.made, title="in this plan")])]


def _batches(found: PlanFound) -> list[Block]:
    """Return which lot goes into which batch, in the order that they are mixed."""
    names = found.plan.catalogue.ingredients
    blocks: list[Block] = []
    for at in dict.fromkeys((x.day, x.product, x.batch) for x in found.taken):
        day, product, number = at
        each = found.products[product]
        rows = [x for x in found.taken if (x.day, x.product, x.batch) == at]
        kg = each.product.batches[number].kg
        blocks += [
            Paragraph(f"{day}: {each.made.title}, {short(kg)} kg"),
            Table(
                (
                    words("", [names[x.ingredient].name for x in rows], 14),
                    words("lot", [_from(x) for x in rows], 4),
                    _grams("g", [x.kg for x in rows]),
                )
            ),
        ]
    return blocks


def _closing(found: PlanFound, *, full: bool) -> list[Section]:
    """Return the law by market, or all notes, and cautions."""
    said = tuple(dict.fromkeys(x for told in found.told for x in told.cautions))
    if full:
        return [
            *care.notes([*_another(found), *_notes(found)], full=True),
            *care.cautions(said, full=True),
            *section("What was checked", [Item(PROOF), Item(DOUBT)]),
        ]
    then = next_told("buy" if _is_one(found) else "plan", found.plan.file)
    rest = [] if _is_one(found) else ["which lots are used"]
    rest += ["the formulas", "all that is left", "each batch"]
    texts = [*_law(found), *_another(found), *care.briefly(said, 1)]
    return [
        *section("Law and care", items(texts)),
        *care.more(rest, said, 1, then=then),
    ]


def _law(found: PlanFound) -> Iterator[str]:
    """Yield the law in a line a market.

    In a product's own lines where not all is kept, or they are sold in other markets.
    """
    told = [each.basis.law for each in found.told]
    markets = {tuple(line.market for line in lines) for lines in told}
    kept = all(line.kept for lines in told for line in lines)
    if _is_one(found) or (len(markets) == 1 and kept):
        every = one_a_market(line for lines in told for line in lines)
        yield from (each.text for each in law_in_short(every))
        return
    for each, lines in zip(found.products, told, strict=True):
        of = clean(each.made.title)
        yield from (each.text for each in law_in_short(lines, of=of))


def _notes(found: PlanFound) -> list[str]:
    """Return notes, each with the products that it is of where not all have it."""
    of: dict[str, list[str]] = {}
    for each, told in zip(found.products, found.told, strict=True):
        for note in told_notes(told):
            of.setdefault(note, []).append(each.made.title)
    everywhere = len(found.products)
    return [
        note if len(titles) == everywhere else f"{listed(titles)}: {note}"
        for note, titles in of.items()
    ]


def _another(found: PlanFound) -> list[str]:
    """Return what to mind where a formula moved."""
    if not any(each.moved for each in found.products):
        return []
    return [
        "A formula that moved is another one: make 100 g and test, and look at its"
        " label and its safety assessment again."
    ]


# -- words and figures ----------------------------------------


def _holds(pack: PackPrice) -> str:
    """Return what a pack holds, as its seller says it where that is no kg."""
    return pack.volume or pack.pounds or _pack(pack.pack_kg)


def _pack(kg: float) -> str:
    """Return a mass as packs are told.

    >>> _pack(0.25), _pack(5.0), _pack(0.45359237)
    ('250 g', '5 kg', '453.6 g')
    """
    return f"{short(kg)} kg" if kg >= 1.0 else f"{short(kg * 1000.0)} g"


def _grams(head: str, masses: Sequence[float | None]) -> TableColumn:
    """Return masses in kg as a column of grams, to 0.1 g."""
    cells = (
        Number(None, "") if kg is None else Number(kg * 1000, decimals(kg * 1000, 1))
        for kg in masses
    )
    return TableColumn(head, tuple(cells))


def _day(day: date | None) -> str:
    return "-" if day is None else str(day)


# -- data and the shopping list ----------------------------------------


def plan_data(found: PlanFound) -> dict[str, Any]:
    """Return a plan's answer as data."""
    plan, names = found.plan, found.plan.catalogue.ingredients
    used, left = _bought_for(found)
    return {
        "status": "answered",
        "title": plan.title,
        "plan": plan.file,
        "currency": plan.catalogue.currency,
        "bought_on": plan.day,
        "spend": found.purchase.spend,
        "spend_at_least": found.least,
        "spend_as_they_stand": found.stands,
        "spend_apart": found.apart,
        "left_over": found.left_worth,
        "buy": [
            {
                "ingredient": each.pack.ingredient,
                "name": names[each.pack.ingredient].name,
                "supplier": each.pack.supplier or None,
                "packs": each.count,
                "pack_kg": each.pack.pack_kg,
                "pack": _holds(each.pack),
                "new": _is_new(each.pack.ingredient, found),
                "price": each.pack.price,
                "freight": each.pack.freight,
                "total": each.paid,
                "used_kg": used.get(each.pack.ingredient, 0.0),
                "left_kg": left.get(each.pack.ingredient, 0.0),
            }
            for each in _in_order(found)
        ],
        "orders": [
            {"supplier": x.supplier.name, "goods": x.goods, "freight": x.freight}
            for x in found.purchase.orders
        ],
        "products": [
            {
                "scenario": each.product.path or each.product.scenario.file,
                "kg": each.product.kg,
                "units": each.product.units,
                "bought": each.bought,
                "bought_kg": each.bought_kg,
                "shelf_worth": each.shelf,
                "shelf_kg": each.shelf_kg,
                "moved_percent": each.moved,
                "in_steps": each.in_steps,
                **made_data(each.made),
                **told_data(told),
            }
            for each, told in zip(found.products, found.told, strict=True)
        ],
        "takes": [
            {
                "day": each.day,
                "product": found.products[each.product].made.title,
                "batch": each.batch + 1,
                "ingredient": each.ingredient,
                "lot": each.lot,
                "bought": each.lot is None,
                "expiry": each.expiry,
                "kg": each.kg,
            }
            for each in found.taken
        ],
        "left": [
            {
                "ingredient": each.ingredient,
                "lot": each.lot,
                "bought": each.lot is None,
                "expiry": each.expiry,
                "kg": each.kg,
            }
            for each in found.left
        ],
    }


def plan_sheet(found: PlanFound) -> Sheet:
    """Return the shopping list as a table; used and left are of the ingredient."""
    names, code = found.plan.catalogue.ingredients, found.plan.catalogue.currency
    used, left = _bought_for(found)
    untils = {each.ingredient: each.expiry for each in found.left if each.lot is None}
    rows = [
        (
            each.pack.supplier,
            each.pack.ingredient,
            names[each.pack.ingredient].name,
            each.count,
            each.pack.pack_kg * 1e3,
            each.pack.price,
            each.pack.freight,
            each.paid,
            code,
            used.get(each.pack.ingredient, 0.0) * 1e3,
            left.get(each.pack.ingredient, 0.0) * 1e3,
            untils.get(each.pack.ingredient),
            _holds(each.pack),
        )
        for each in _in_order(found)
    ]
    return as_sheet("shopping", SHOPPING, rows)
