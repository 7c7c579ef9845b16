"""What a unit costs and what its price leaves: page, data, and a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict

from optimiser.domain.costs import OWN_SALE
from optimiser.presenting.filling import over_told
from optimiser.presenting.following import next_told
from optimiser.presenting.notes import prices_told
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
    section,
    words,
)
from optimiser.presenting.rules import dearest
from optimiser.presenting.sheet import Sheet, as_sheet
from optimiser.presenting.words import clean, decimals, listed, money, plural, short
from optimiser.workshop import costing as parts
from optimiser.workshop.cost_moves import DEAREST, dearest_rules
from optimiser.workshop.costing import in_cents
from optimiser.workshop.pricing import Impossible, Priced

if TYPE_CHECKING:
    from optimiser.workshop.cost import CostSheet
    from optimiser.workshop.cost_moves import CostMove
    from optimiser.workshop.costing import CostLine
    from optimiser.workshop.sizes import Size

__all__ = ["COLUMNS", "cost_data", "cost_page", "parts_sheet"]

COLUMNS = ("kind", "part", "per_unit", "per_batch", "currency")
MOST_MOVES, MOST_RULES = 5, 1
UNREGISTERED = "; none is [tax] rate = 0"
NO_ADVICE = "no advice on tax: an adviser says what you owe"


def cost_page(sheet: CostSheet, *, full: bool = False) -> Page:
    """Return what a unit costs, what prices leave, and what moves it."""
    sections = [
        Section("", tuple(Paragraph(each) for each in _answers(sheet))),
        Section("What a unit costs", (_lines(sheet),)),
    ]
    for each in sheet.asked:
        if isinstance(each, Priced):
            title = f"At {_in_words(each, sheet)}"
            sections += section(title, [_made_up(each, sheet)])
    sections += section("Your ways of pricing", _ways(sheet))
    sections += section("What moves the cost of a unit", _moves(sheet, full=full))
    sections += section("The rules that cost most", _rules(sheet, full=full))
    sections += section("Not counted, for nobody said it", _not_counted(sheet))
    sections += section("Whose numbers", items(list(_whose(sheet, full=full))))
    if full:
        sections += section("Materials", [_materials(sheet)])
    else:
        more = f"With --full: all of it. {next_told('cost', sheet.answer.file)}"
        sections.append(Section("", (Paragraph(more),)))
    return Page(f"Cost: {sheet.answer.title}", (_about(sheet),), tuple(sections))


def _about(sheet: CostSheet) -> str:
    work = sheet.costing.work
    told = [
        f"{_units(work.units)} of {short(1000 * work.net_kg)} g",
        f"{decimals(1000 * work.size.kg, 1)} g weighed in",
    ]
    return "; ".join((*told, *_invented(sheet)))


def _invented(sheet: CostSheet) -> Iterator[str]:
    """Yield what of a unit's cost is invented: prices, and whatever else counts."""
    basis, costs = sheet.answer.basis, sheet.costing.work.costs
    if basis.invented == "all" and costs.invented and sheet.of_the_bench:
        yield "prices and all other costs invented"
        return
    more = ["prices"] if basis.invented == "all" else []
    if costs.invented:
        stated = {
            "packaging": costs.packaging,
            "work": costs.labour.per_batch or costs.labour.per_unit,
            "overheads": costs.overheads,
            "tax": costs.tax,
            "fees": costs.fees,
        }
        more += [name for name, it in stated.items() if it]
    more += [
        each
        for each in sheet.of_the_bench
        if not (each == "hourly rate" and "work" in more)
    ]
    if basis.invented in {"noted", "uncounted"} or (
        basis.invented == "some" and basis.invented_of
    ):
        yield from prices_told(basis.invented, basis.invented_of)
    if more:
        yield f"{listed(more)} invented"
    if costs.uncounted:
        yield "invented money in another currency not counted"


def _units(units: Decimal) -> str:
    return plural(int(units), "unit")


def _answers(sheet: CostSheet) -> Iterator[str]:
    costing, currency = sheet.costing, sheet.answer.currency
    work = costing.work
    least = "" if costing.complete else "at least "
    text = f"A unit costs {least}{_money(costing.unit)} {currency} to make"
    text += f", a batch {_money(costing.batch)}"
    if work.costs.not_sold is not None:
        text += f"; {_plain(work.sold)} of {_plain(work.units)} units are sold"
    yield f"{text}."
    for each in sheet.asked:
        yield (
            f"{clean(each.why)}: no price does that."
            if isinstance(each, Impossible)
            else _left(each, sheet)
        )


def _in_words(each: Priced, sheet: CostSheet) -> str:
    return f"{_money(each.paid)} {sheet.answer.currency} a unit"


def _left(each: Priced, sheet: CostSheet) -> str:
    short_of = each.left < 0
    least = "at least " if short_of and sheet.costing.not_counted else ""
    left = (
        f"{least}{_money(-each.left)} is lost"
        if short_of
        else f"{_most(sheet)}{_money(each.left)} is left"
    )
    text = f"At {_in_words(each, sheet)}, as the buyer pays, {left}"
    if each.margin is not None and not short_of:
        before = " before tax" if each.tax is not None else ""
        text += f": {decimals(float(each.margin), 1)} % of the price{before}"
    if each.an_hour is not None:
        text += f"; an hour of work earns {_money(each.an_hour)}"
    months = sheet.costing.work.costs.batches_a_month
    if months is not None:
        sold = months.value * sheet.costing.work.sold
        text += f"; {_plain(months.value)} batches a month"
        verb = "lose" if short_of else "leave"
        text += f" {verb} {_money(sold * abs(each.left))}"
    return f"{text}."


def _most(sheet: CostSheet) -> str:
    """Return the word for what is left where not all that is taken off is known."""
    return "at most " if sheet.costing.not_counted else ""


def _lines(sheet: CostSheet) -> Table:
    costing, currency = sheet.costing, sheet.answer.currency
    units = in_cents([each.unit for each in costing.lines], costing.unit)
    batches = in_cents([each.batch for each in costing.lines], costing.batch)
    names = [_name(each, sheet) for each in costing.lines]
    total = "a unit sold" if costing.work.costs.not_sold is not None else "a unit"
    per_unit = [*units, sum(units, Decimal(0))]
    per_batch = [*batches, sum(batches, Decimal(0))]
    shown = [
        _cell(amount, None if kind == parts.NOT_SOLD else amount)
        for amount, kind in zip(
            per_batch, [*(each.kind for each in costing.lines), ""], strict=True
        )
    ]
    return Table(
        (
            words("", [*names, total], 24),
            TableColumn(f"{currency} a unit", tuple(_cell(x, x) for x in per_unit)),
            TableColumn(f"{currency} a batch", tuple(shown)),
        ),
        lines=(len(names),),
    )


def _cell(value: Decimal, shown: Decimal | None) -> Number:
    if shown is None:
        return Number(None, "")
    return Number(float(value), f"{value:.2f}")


def _name(line: CostLine, sheet: CostSheet) -> str:
    work = sheet.costing.work
    size, labour = work.size, work.costs.labour
    if line.kind == parts.MATERIALS:
        lost = (
            "lost in the pot, or left"
            if size.exact
            else f"lost in the pot, {short(size.loss)} %"
        )
        return {
            parts.IN_UNITS: f"materials, {short(1000 * work.net_kg)} g",
            parts.OVER: f"overfill, {short(size.overfill, 3)} %",
            parts.LOST: lost,
        }[line.name]
    if line.kind == parts.LABOUR and work.minutes is not None and labour.rate:
        rate = f"{_money(labour.rate.value)} an hour"
        return f"work, {_plain(work.minutes)} min at {rate}"
    if line.kind == parts.NOT_SOLD and work.costs.not_sold is not None:
        return f"units not sold, {_plain(work.costs.not_sold.value)} %"
    return clean(line.name)


def _made_up(each: Priced, sheet: CostSheet) -> Table:
    """Return how a price is made up: what is taken off, and what is left."""
    tax = sheet.costing.work.costs.tax
    rows = [("the buyer pays", each.paid)]
    if each.tax is not None and tax is not None:
        rows.append((f"tax, {_plain(tax.rate)} % on {_money(each.net)}", -each.tax))
    rows += [(f"fee: {clean(name)}", -amount) for name, amount in each.fees or ()]
    rows += [("cost to make", -each.cost)]
    rows.append((f"{_most(sheet)}left", each.left))
    return Table(
        (
            words("", [name for name, _ in rows], 24),
            TableColumn(sheet.answer.currency, tuple(_cell(x, x) for _, x in rows)),
        ),
        lines=(len(rows) - 1,),
    )


def _ways(sheet: CostSheet) -> Iterator[Block]:
    found = [each for each in sheet.ways if isinstance(each, Priced)]
    hours = any(each.an_hour is not None for each in found)
    if found:
        columns = [
            words("", [clean(each.name) for each in found], 18),
            _column("before tax", [each.net for each in found]),
            _column("buyer pays", [each.paid for each in found]),
            _column("fees", [_fees(each) for each in found]),
            _column(f"{_most(sheet)}left", [each.left for each in found]),
            TableColumn("left, %", tuple(_percent(each.margin) for each in found)),
        ]
        if hours:
            columns.append(_column("an hour", [each.an_hour for each in found]))
        yield Table(tuple(columns))
    for each in sheet.ways:
        if isinstance(each, Impossible):
            yield Item(f"{clean(each.name)}: no price does that; {each.why}")


def _fees(each: Priced) -> Decimal | None:
    if each.fees is None:
        return None
    return sum((amount for _, amount in each.fees), Decimal(0))


def _column(head: str, amounts: Sequence[Decimal | None]) -> TableColumn:
    cells = [
        Number(None, "-") if x is None else Number(float(x), f"{x:.2f}")
        for x in amounts
    ]
    return TableColumn(head, tuple(cells))


def _percent(number: Decimal | None) -> Number:
    if number is None:
        return Number(None, "-")
    return Number(float(number), decimals(float(number), 0))


def _moves(sheet: CostSheet, *, full: bool) -> Iterator[Block]:
    found = sheet.moves if full else sheet.moves[:MOST_MOVES]
    if not found:
        return
    currency = sheet.answer.currency
    yield Table(
        (
            words("", [clean(each.name) for each in found], 14),
            TableColumn("now", tuple(_now(each, currency) for each in found)),
            words("if it were", [_if(each) for each in found], 12),
            TableColumn(f"adds, {currency} a unit", tuple(_by(each) for each in found)),
        )
    )


def _now(each: CostMove, currency: str) -> str:
    unit = each.unit.replace("money", currency)
    return f"{_amount(each.now, each)}{f' {unit}' if unit else ''}"


def _amount(number: Decimal, each: CostMove) -> str:
    return _money(number) if each.unit.startswith("money") else _plain(number)


def _if(each: CostMove) -> str:
    if not each.own:
        return "10 % less or more"
    ends = (each.low, each.high)
    told = " or ".join(_amount(end, each) for end in ends if end is not None)
    return f"{told}, {DEAREST}" if each.own == DEAREST else told


def _by(each: CostMove) -> str:
    told = [
        f"{'+' if by >= 0 else '-'}{money(abs(float(by)))}"
        for end, by in ((each.low, each.by_low), (each.high, each.by_high))
        if end is not None
    ]
    return " or ".join(told)


def _rules(sheet: CostSheet, *, full: bool) -> Iterator[Block]:
    lines = dearest_rules(sheet.answer)
    if not lines:
        return
    currency, work = sheet.answer.currency, sheet.costing.work
    most = len(lines) if full else MOST_RULES
    yield from dearest(lines, ("cost",), currency, most)
    kg = Decimal(str(work.size.kg)) / work.sold
    yield Item(f"1 {currency}/kg is {money(float(kg))} {currency} a unit sold")


def _not_counted(sheet: CostSheet) -> Iterator[Block]:
    costs = sheet.costing.work.costs
    for each in sheet.costing.not_counted:
        yield Item(f"{clean(each.what)}: {each.where}")
    if not costs.there:
        yield Item(f"where no file is named, write it into {clean(costs.file)}")


def _whose(sheet: CostSheet, *, full: bool) -> Iterator[str]:
    costs = sheet.costing.work.costs
    note = f": {clean(costs.note).rstrip('.')}" if costs.note else ""
    files = {clean(costs.file): costs.invented} if costs.there else {}
    files["scale.toml"] = bool(sheet.of_the_bench)
    told = []
    for whose, invented in (("nobody's yet", True), ("yours", False)):
        own = [file for file, is_so in files.items() if is_so is invented]
        told += [f"{whose}, of {' and '.join(own)}"] if own else []
    yield f"{'; '.join(told)}{note}"
    for each in costs.uncounted:
        yield f"not counted, for it is invented: {clean(each)}"
    if costs.of_others:
        told = [f"{each.name} (for {each.product})" for each in costs.of_others]
        yield f"packaging of other products, not in it: {listed(told)}"
    if sheet.costing.nothing:
        yield f"none, as you wrote: {listed(sheet.costing.nothing)}"
    if any(each.per_sale for each in costs.fees or ()):
        units = costs.units_a_sale
        if units is None:
            yield "a fee of a sale is taken as of one unit: [sales] units_a_sale"
        elif full:
            yield f"a sale is of {_plain(units)} units, and they share its fee"
    yield from _overfill(sheet.costing.work.size)
    yield "materials at the cheapest pack per kg, freight in it, whatever you need"
    if full:
        yield (
            "each input moves alone, with the formula as it is; lines are rounded so"
            " that they add up"
        )
    taxed = costs.tax is not None and costs.tax.rate
    yield f"{NO_ADVICE}{UNREGISTERED}" if taxed else NO_ADVICE


def _overfill(size: Size) -> Iterator[str]:
    """Yield where the overfill comes from: the law, or a habit."""
    if size.spread is not None:
        yield f"{over_told(size)}, as `optimiser fill` tells it"
    elif size.overfill:
        yield (
            f"{over_told(size)} is as stated; where [batch] spread says how much your"
            " fills vary, it is what `optimiser fill` tells"
        )


def _materials(sheet: CostSheet) -> Table:
    currency, work = sheet.answer.currency, sheet.costing.work
    kg = parts.decimal(work.size.kg)
    rows = sorted(
        work.materials, key=lambda m: -(m.percent * (m.price_per_kg or Decimal(0)))
    )
    of_batch = [
        None
        if each.price_per_kg is None
        else kg * each.percent / parts.HUNDRED * each.price_per_kg
        for each in rows
    ]
    total = sum((x for x in of_batch if x is not None), Decimal(0))
    whole = in_cents([x for x in of_batch if x is not None], total)
    left = iter(whole)
    shown = [None if x is None else next(left) for x in of_batch]
    return Table(
        (
            words("", [*(clean(each.name) for each in rows), "together"], 16),
            TableColumn("%", (*(_plain_cell(each.percent) for each in rows), "")),
            TableColumn(
                f"{currency}/kg",
                (*(_price_cell(each.price_per_kg) for each in rows), ""),
            ),
            _column(f"{currency} a batch", [*shown, sum(whole, Decimal(0))]),
        ),
        lines=(len(rows),),
    )


def _plain_cell(number: Decimal) -> Number:
    return Number(float(number), decimals(float(number), 2))


def _price_cell(price: Decimal | None) -> Number:
    return Number(None, "-") if price is None else Number(float(price), _money(price))


def _money(amount: Decimal) -> str:
    return money(float(amount))


def _plain(number: Decimal) -> str:
    return short(float(number))


def cost_data(sheet: CostSheet) -> dict[str, Any]:
    """Return cost and prices as data; money in numbers, shares in percent."""
    costing = sheet.costing
    work = costing.work
    return {
        "status": "answered",
        "title": sheet.answer.title,
        "scenario": sheet.answer.file,
        "currency": sheet.answer.currency,
        "costs": work.costs.file,
        "note": work.costs.note,
        "units": int(work.units),
        "units_sold": float(work.sold),
        "net_grams": 1000.0 * work.net_kg,
        "batch_grams": 1000.0 * work.size.kg,
        "loss_percent": work.size.loss,
        "overfill_percent": work.size.overfill,
        "spread_grams": None if work.size.spread is None else 1e3 * work.size.spread,
        "cost_per_unit": float(costing.unit),
        "cost_per_batch": float(costing.batch),
        "complete": costing.complete,
        "lines": [
            {"kind": kind, "part": part, "per_unit": unit, "per_batch": batch}
            for kind, part, unit, batch, _ in _rows(sheet)
        ],
        "not_counted": [asdict(each) for each in costing.not_counted],
        "stated_none": list(costing.nothing),
        "asked": [_priced_data(each) for each in sheet.asked],
        "ways": [_priced_data(each) for each in sheet.ways],
        "moves": [_numbers(asdict(each)) for each in sheet.moves],
        "rules": [
            {
                "id": line.rule.id,
                "sentence": line.rule.sentence,
                "price": line.ease.price,
                "until": line.ease.until,
            }
            for line in dearest_rules(sheet.answer)
            if line.ease is not None
        ],
    }


def _priced_data(each: Priced | Impossible) -> dict[str, Any]:
    if isinstance(each, Impossible):
        return {"name": each.name, "possible": False, "why": each.why}
    found = _numbers(asdict(each))
    fees = each.fees
    found["fees"] = (
        None
        if fees is None
        else [{"name": name, "amount": float(amount)} for name, amount in fees]
    )
    found["sold"] = "own sale" if each.sold == OWN_SALE else each.sold
    return {"possible": True, **found}


def _numbers(values: dict[str, Any]) -> dict[str, Any]:
    return {
        key: float(value) if isinstance(value, Decimal) else value
        for key, value in values.items()
    }


def parts_sheet(found: CostSheet) -> Sheet:
    """Return what a unit costs as a table, rounded so that its lines add up."""
    return as_sheet("cost", COLUMNS, _rows(found))


def _rows(sheet: CostSheet) -> Iterator[tuple[str, str, float, float | None, str]]:
    """Yield the parts in whole cents, of a unit and of a batch."""
    costing = sheet.costing
    units = in_cents([each.unit for each in costing.lines], costing.unit)
    batches = in_cents([each.batch for each in costing.lines], costing.batch)
    for line, unit, batch in zip(costing.lines, units, batches, strict=True):
        of_batch = None if line.kind == parts.NOT_SOLD else float(batch)
        name = line.name or line.kind
        yield line.kind, name, float(unit), of_batch, sheet.answer.currency
