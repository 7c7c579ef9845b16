"""The batch sheet: a page to print and stain, data, and a table."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from optimiser.domain.unknown import FEW
from optimiser.presenting import care
from optimiser.presenting.filling import over_told
from optimiser.presenting.following import next_told
from optimiser.presenting.notes import lots_told, past_told, unfirm_told
from optimiser.presenting.page import (
    TICK,
    Block,
    Item,
    Number,
    Numbered,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    items,
    section,
    words,
)
from optimiser.presenting.pouring import after, left_aside, never_holds, steps
from optimiser.presenting.sheet import Sheet, as_sheet
from optimiser.presenting.words import decimals, exactly, listed, plural, short
from optimiser.units import OUNCE

if TYPE_CHECKING:
    from optimiser.workshop.batch import BatchSheet, FromLots
    from optimiser.workshop.sizes import Size
    from optimiser.workshop.small_lines import Premix, SmallLine
    from optimiser.workshop.weighing import Missed

__all__ = ["COLUMNS", "batch_data", "batch_page", "grams", "ounces", "weighing_sheet"]

COLUMNS = (
    "stage",
    "ingredient",
    "name",
    "grams",
    "ounces",
    "percent",
    "wanted_percent",
    "lots",
    "weighed_grams",
)
ROOM = "______"
HEADS = {
    "melt": "MELT",
    "water": "WATER, apart",
    "stir": "STIR IN",
    "add": "ADD, cooling",
    "unknown": "WHEN? NOT KNOWN",
}
MOST_SMALL, MOST_MISSED = 3, 6


def grams(kg: float, readability: float) -> str:
    """Return a mass in grams, with the digits that a scale shows.

    >>> grams(0.6056, 0.0001), grams(0.605, 0.001), grams(0.00075, 0.00005)
    ('605.6', '605', '0.75')
    """
    return decimals(kg * 1e3, _places(readability))


def _places(readability: float) -> int:
    step = exactly(readability * 1e3) or 1.0
    text = f"{step:.6f}".rstrip("0")
    return len(text.partition(".")[2])


def ounces(kg: float) -> str:
    """Return a mass in avoirdupois ounces, below an ounce with one digit more.

    >>> ounces(0.6056), ounces(0.0014)
    ('21.36', '0.049')
    """
    number = kg / OUNCE
    return decimals(number, 2 if number >= 1.0 else 3)


def batch_page(sheet: BatchSheet, *, full: bool = False) -> Page:
    """Return the batch sheet as a page."""
    sections = [Section("", tuple(_first(sheet, full=full)))]
    if sheet.weighing.lines:
        sections += section("Weigh", [_table(sheet)])
    sections += section("Do", [Numbered(tuple(_steps(sheet)), ticked=True)])
    sections += section("Too little for this scale", _small(sheet, full=full))
    sections += section("Mind", items(_mind(sheet, full=full)))
    sections += care.cautions(sheet.cautions, full=full)
    made = "Batch ________; date ________; made by ________; came out ________ g"
    sections += section("", [Paragraph(made)])
    if not full:
        rest = ["percentages", "the density's source"]
        then = next_told("batch", sheet.file)
        sections += care.more(rest, sheet.cautions, then=then)
    return Page(f"Batch sheet: {sheet.title}", tuple(_about(sheet)), tuple(sections))


def _about(sheet: BatchSheet) -> Iterator[str]:
    """Yield what is made of it, how much, and on which scale."""
    size, step = sheet.size, sheet.weighing.readability
    total = sheet.weighing.batch_kg
    yield f"{grams(total, step)} g ({ounces(total)} oz)"
    if size.units is not None and size.net_kg is not None:
        text = f"{plural(size.units, 'unit')} of {_net(size.net_kg, step, size)} g"
        if size.by_volume and not sheet.density.measured:
            share = 100.0 * (sheet.density.high - sheet.density.low)
            share /= 2.0 * sheet.density.value
            text += f" (give or take {decimals(share, 1)} %)"
        yield text
    if size.mould is not None:
        yield f"mould {size.mould.name}"
    if size.overfill and size.units is not None:
        yield f"{short(size.overfill, 3)} % over"
    if size.loss and size.units is not None:
        yield f"{short(size.loss)} % lost"
    steps = sorted({step, *(each.step for each in sheet.weighing.lines)}, reverse=True)
    shown = " and ".join(short(each * 1e3) for each in steps)
    yield f"{'scale' if len(steps) == 1 else 'scales'} {shown} g"
    yield from lots_told(sheet.invented_lots)


def _net(kg: float, readability: float, size: Size) -> str:
    """Return what a unit weighs: as it was given, or as the scale shows it."""
    return grams(kg, readability) if size.by_volume else short(kg * 1e3)


def _first(sheet: BatchSheet, *, full: bool) -> Iterator[Block]:
    """Yield whether these amounts keep every rule, and what would do if not."""
    yield from unfirm_told(sheet.unfirm)
    found = sheet.weighing
    told = found.missed if full else found.missed[:MOST_MISSED]
    missed: list[str | Item] = [_missed(each) for each in told]
    if len(found.missed) > len(told):
        more = f"{len(found.missed) - len(told)} more"
        missed.append(Item(more, typed="with --full"))
    if found.kept:
        eased = " as eased here" if sheet.over else ""
        text = f"The amounts as weighed keep every rule{eased}"
        text += " and add up to the gram shown"
        if found.grown:
            asked = grams(sheet.size.kg, found.readability)
            text += f"; {asked} g was rounded up so that they can"
        yield Paragraph(f"{text}.")
    elif found.lines:
        rules = plural(len(found.missed), "rule")
        text = (
            f"On a scale of {short(found.readability * 1e3)} g {rules} cannot be kept"
        )
        yield Paragraph(f"{text} in this batch:")
        yield from items(missed)
    else:
        yield Paragraph(
            f"On a scale of {short(found.readability * 1e3)} g no amounts of this batch"
            " keep even law and safety, so none are shown:"
        )
        yield from items(missed)
    yield from past_told(sheet.over)
    if not found.kept:
        yield Paragraph(_ways(sheet))
    shares = [each for each in map(_share, found.nearest) if each]
    if shares and found.kept:
        yield Paragraph(f"To the nearest step of the scale: {listed(shares)}.")


def _share(missed: Missed) -> str:
    """Return a share and what is weighed for it; nothing where they read the same."""
    wanted = short(missed.rule.limit, 3)
    weighed = short(0.0 if missed.value is None else missed.value, 3)
    return "" if wanted == weighed else f"{missed.rule.sentence} is {weighed} %"


def _missed(missed: Missed) -> str:
    value = "nothing" if missed.value is None else short(missed.value)
    unit = f" {missed.rule.unit}" if missed.rule.unit else ""
    return f"{missed.rule.sentence}: these come to {value}{unit}"


def _ways(sheet: BatchSheet) -> str:
    """Return which scale, or which batch, would keep every rule."""
    found = sheet.weighing
    ways = []
    if found.finer is not None:
        ways.append(f"a scale that shows {short(found.finer * 1e3)} g")
    if found.larger is not None:
        ways.append(f"a batch of {grams(found.larger, found.readability)} g")
    if not ways:
        return "No finer scale and no batch up to twice as large was found that would."
    return f"Every rule would be kept with {' or '.join(ways)}."


def _table(sheet: BatchSheet) -> Table:
    """Return what is weighed, stage by stage, with room for what was."""
    step = sheet.weighing.readability
    tick: list[str] = []
    names: list[str] = []
    weights: list[Number | str] = []
    ounce: list[Number | str] = []
    lots: list[str] = []
    room: list[str] = []
    rows: list[int] = []
    for stage, keys in sheet.stages.items():
        rows.append(len(tick))
        for column in (tick, weights, ounce, lots, room):
            column.append("")
        names.append(HEADS[stage])
        for key in keys:
            kg, own = sheet.line[key].kg, sheet.line[key].step
            tick.append(TICK)
            names.append(sheet.names[key])
            weights.append(Number(kg * 1e3, grams(kg, own)))
            ounce.append(Number(kg / OUNCE, ounces(kg)))
            lots.append(_lots(sheet.lots[key], own))
            room.append(ROOM)
    total = sheet.weighing.batch_kg
    rows.append(len(tick))
    return Table(
        (
            words("", [*tick, ""], 3),
            TableColumn("g", (*weights, Number(total * 1e3, grams(total, step)))),
            words("", [*names, "all together"], 14),
            TableColumn("oz", (*ounce, Number(total / OUNCE, ounces(total)))),
            words("lot", [*lots, ""], 8),
            words("weighed", [*room, ROOM], 7),
        ),
        (rows[-1],),
    )


def _lots(lots: FromLots, readability: float) -> str:
    """Return the lots of a line, with grams where there are several."""
    if not lots.takes:
        return ROOM
    names = [each.lot or ROOM for each in lots.takes]
    if len(names) == 1:
        return names[0]
    return ", ".join(
        f"{name} {grams(each.kg, readability)} g"
        for name, each in zip(names, lots.takes, strict=True)
    )


def _steps(sheet: BatchSheet) -> list[str]:
    """Return what to do in order, after `pour`."""
    found = steps(sheet.pouring, HEADS)
    size, step = sheet.size, sheet.weighing.readability
    if size.fill_kg is not None:
        fill = _net(size.fill_kg, step, size)
        over = f" ({over_told(size)})" if size.overfill else ""
        found.append(
            f"Fill each cavity, about {fill} g; weigh the first ones."
            if size.by_volume
            else f"Fill {fill} g into each{over}; weigh the first ones."
        )
    poured = after(sheet.pouring)
    found += poured[1:-2]  # how to cool; bubbles and the fridge are in `pour`
    found.append(
        " ".join(["Leave to set undisturbed; weigh what came out.", *poured[-1:]])
    )
    return found


def _small(sheet: BatchSheet, *, full: bool) -> list[Block]:
    """Return the lines below the least weighing, and what would do for each."""
    if not sheet.small:
        return []
    said = [
        Item(f"{each.name}, {grams(each.kg, each.step)} g: {_would_do(each)}.")
        for each in (sheet.small if full else sheet.small[:MOST_SMALL])
    ]
    rest = len(sheet.small) - len(said)
    largest = max(sheet.small, key=lambda each: each.larger_kg)
    steps = sorted({each.step for each in sheet.small}, reverse=True)
    least = " and ".join(
        f"at least {short(sheet.least[each] * 1e3)} g by steps of {short(each * 1e3)} g"
        for each in steps
    )
    finer = [each.finer for each in sheet.small if each.finer is not None]
    all_of = f"A batch of {_up(largest.larger_kg)}{_units(sheet, largest)}"
    if len(finer) == len(sheet.small):
        all_of += f", or a scale that shows {short(min(finer) * 1e3)} g,"
    text = f"Weigh {least}. {all_of} would do for all"
    typed = f"{plural(rest, 'more line')} with --full." if rest else ""
    premixes = [each.premix for each in sheet.small if each.premix is not None]
    left = {
        each.carrier_name: grams(each.left_kg, sheet.line[each.carrier].step)
        for each in premixes
    }
    if len(premixes) > 1:
        carriers = [f"{kg} g {name}" for name, kg in left.items()]
        weighed = f"With all of these premixes {listed(carriers)} are still to weigh"
        said.append(Item(f"{weighed}, in place of what stands above."))
    return [Paragraph(f"{text}.", typed=typed), *said]


def _units(sheet: BatchSheet, small: SmallLine) -> str:
    """Return how many units a larger batch is, where units are made."""
    size = sheet.size
    if size.units is None or size.exact:
        return ""
    units = math.ceil(size.units * small.larger_kg / size.kg - 1e-9)
    return f" ({plural(units, 'unit')})"


def _up(kg: float) -> str:
    """Return a mass rounded up to three figures."""
    scale = 10.0 ** (2 - math.floor(math.log10(kg * 1e3)))
    g = math.ceil(kg * 1e3 * scale - 1e-6) / scale
    return f"{short(g / 1e3)} kg" if g >= 1e3 else f"{short(g)} g"


def _would_do(small: SmallLine) -> str:
    ways = [f"a batch of {_up(small.larger_kg)}"]
    if small.finer is not None:
        ways.append(f"a {short(small.finer * 1e3)} g scale")
    if small.premix is not None:
        ways.insert(0, _premix(small.premix, small.step))
    return "; or ".join(ways)


def _premix(premix: Premix, step: float) -> str:
    how = "melt" if premix.melted else "grind or sift" if premix.dry else "stir"
    ask = ", if its supplier says they mix" if premix.ask else ""
    return (
        f"{how} {grams(premix.small_kg, step)} g into"
        f" {grams(premix.carrier_kg, step)} g {premix.carrier_name}{ask}, take"
        f" {grams(premix.take_kg, step)} g of that and {grams(premix.saved_kg, step)} g"
        f" less {premix.carrier_name} than stands above"
    )


def _mind(sheet: BatchSheet, *, full: bool) -> Iterator[str | Item]:
    """Yield what is short on the shelf, what the mould holds, and the density."""
    step = sheet.weighing.readability
    short_of = [
        f"{sheet.names[key]} ({grams(each.lacking_kg, step)} g short)"
        for key, each in sheet.lots.items()
        if each.known and each.lacking_kg > 0.5 * step
    ]
    if short_of:
        yield f"Not enough on the shelf: {listed(short_of)}."
    yield from never_holds(sheet.pouring)
    yield from left_aside(sheet.pouring)
    yield from _mould(sheet)
    yield _volume(sheet)
    if full:
        yield from _density(sheet)
        yield (
            "Set down beside each line what was really weighed: the amounts as made can"
            " then be checked against the rules."
        )
        if sheet.weighing.lines:
            percents = [
                f"{sheet.names[x.ingredient]} {short(x.percent)}"
                f" ({short(x.wanted_percent)})"
                for x in sheet.weighing.lines
            ]
            yield f"Percent as weighed, and as wanted: {listed(percents)}."


def _mould(sheet: BatchSheet) -> Iterator[str]:
    """Yield whether a unit fits its mould, where its weight was given."""
    size = sheet.size
    if size.mould is None:
        return
    if size.units is not None and size.units > size.mould.cavities:
        times = math.ceil(size.units / size.mould.cavities)
        cavities = plural(size.mould.cavities, "cavity", "cavities")
        yield f"{times} fillings of a mould with {cavities}."
    volume, fill = size.mould.volume, size.fill_kg
    if volume is None or fill is None:
        return
    if size.by_volume:
        most = sheet.density.high / sheet.density.value * sheet.size.kg
        if not sheet.density.measured:
            yield (
                "If the mix is as dense as it may be, all cavities take"
                f" {grams(most, sheet.weighing.readability)} g."
            )
        return
    room = fill / sheet.density.value
    if room > volume:
        most = volume * sheet.density.value
        yield (
            f"A cavity holds {short(volume * 1e6, 3)} ml, about"
            f" {short(most * 1e3, 3)} g of this; {short(fill * 1e3, 3)} g would need"
            f" {short(room * 1e6, 3)} ml."
        )


def _volume(sheet: BatchSheet) -> Item:
    found = sheet.density
    low, usual, high = (1e6 * each for each in sheet.volume)
    if found.measured:
        return Item(
            f"The batch is {_ml(usual)}, by your own"
            f" {decimals(found.value / 1e3, 3)} g/ml."
        )
    told = f"about {_ml(usual)} ({_ml(low)} to {_ml(high)})"
    told += f" at {decimals(found.value / 1e3, 2)} g/ml"
    if found.unknown_percent >= FEW:
        are = "is" if len(found.unknown) == 1 else "are"
        told = f"{_ml(low)} to {_ml(high)}: what {listed(found.unknown, 3)} {are}, is"
        told += " not known"
    return Item(
        f"The batch is {told}; hot it is more, and air is not counted.",
        typed="Fill one, divide grams by ml, and give it with --density.",
    )


def _ml(number: float) -> str:
    return f"{short(number, 3)} ml" if number < 1e3 else f"{short(number / 1e3, 3)} l"


def _density(sheet: BatchSheet) -> Iterator[str]:
    found = sheet.density
    if found.measured:
        return
    text = (
        f"Density near 20 °C {decimals(found.value, 0)} kg/m^3"
        f" ({decimals(found.low, 0)} to {decimals(found.high, 0)}), volumes adding up"
    )
    if found.typical:
        text += (
            f"; what is usual in their category was taken for {listed(found.typical)}"
            f" ({short(found.typical_percent, 2)} % of it)"
        )
    if found.unknown:
        text += (
            f"; {listed(found.unknown)} ({short(found.unknown_percent, 2)} % of it) may"
            " be as light as an oil or as dense as a clay"
        )
    yield f"{text}."


# -- data ----------------------------------------------------------------------------


def batch_data(sheet: BatchSheet) -> dict[str, Any]:
    """Return the batch sheet as data: grams, percent, deg C, g/ml."""
    size, found = sheet.size, sheet.weighing
    return {
        "status": "answered" if found.kept else "missed",
        "title": sheet.title,
        "batch_grams": _g(found.batch_kg),
        "asked_grams": _g(size.kg),
        "units": size.units,
        "net_grams": None if size.net_kg is None else _g(size.net_kg),
        "fill_grams": None if size.fill_kg is None else _g(size.fill_kg),
        "mould": None if size.mould is None else size.mould.name,
        "loss_percent": size.loss,
        "overfill_percent": size.overfill,
        "spread_grams": None if size.spread is None else 1e3 * size.spread,
        "readability_grams": _g(found.readability),
        "smallest_grams": _g(sheet.least[found.readability]),
        "weigh": [_line(sheet, stage, key) for stage, key in _each(sheet)],
        "off_wanted_points": found.off_points,
        "rules_missed": [_missed_data(each) for each in found.missed],
        "to_the_nearest_step": [_missed_data(each) for each in found.nearest],
        "readability_that_would_do_grams": None
        if found.finer is None
        else _g(found.finer),
        "batch_that_would_do_grams": None if found.larger is None else _g(found.larger),
        "too_little": [_small_data(each) for each in sheet.small],
        "steps": _steps(sheet),
        "pour_at": sheet.pouring.pour_at,
        "density": {
            "low": sheet.density.low / 1e3,
            "value": sheet.density.value / 1e3,
            "high": sheet.density.high / 1e3,
            "unit": "g/ml",
            "measured": sheet.density.measured,
            "typical": sheet.density.typical,
            "typical_percent": sheet.density.typical_percent,
            "unknown": sheet.density.unknown,
            "unknown_percent": sheet.density.unknown_percent,
        },
        "volume_ml": {
            end: 1e6 * each
            for end, each in zip(("low", "value", "high"), sheet.volume, strict=True)
        },
        "invented_lots": sheet.invented_lots,
        "cautions": [each.text for each in sheet.cautions],
        "care": care.care_data(sheet.cautions),
    }


def _g(kg: float) -> float | None:
    return exactly(kg * 1e3)


def _each(sheet: BatchSheet) -> Iterator[tuple[str, str]]:
    for stage, keys in sheet.stages.items():
        for key in keys:
            if key in sheet.line:
                yield stage, key


def _line(sheet: BatchSheet, stage: str, key: str) -> dict[str, Any]:
    line = sheet.line[key]
    return {
        "stage": stage,
        "ingredient": key,
        "name": sheet.names[key],
        "grams": _g(line.kg),
        "readability_grams": _g(line.step),
        "ounces": exactly(line.kg / OUNCE),
        "percent": line.percent,
        "wanted_percent": line.wanted_percent,
        "lots": [
            {"lot": each.lot, "grams": _g(each.kg), "expiry": each.expiry}
            for each in sheet.lots[key].takes
        ],
        "lacking_grams": _g(sheet.lots[key].lacking_kg)
        if sheet.lots[key].known
        else None,
    }


def _missed_data(missed: Missed) -> dict[str, Any]:
    return {
        "id": missed.rule.id,
        "sentence": missed.rule.sentence,
        "limit": missed.rule.limit,
        "value": missed.value,
        "unit": missed.rule.unit,
    }


def _small_data(small: SmallLine) -> dict[str, Any]:
    premix = small.premix
    return {
        "ingredient": small.ingredient,
        "grams": _g(small.kg),
        "batch_that_would_do_grams": _g(small.larger_kg),
        "readability_that_would_do_grams": None
        if small.finer is None
        else _g(small.finer),
        "premix": None
        if premix is None
        else {
            "carrier": premix.carrier,
            "one_in": premix.one_in,
            "grams": _g(premix.small_kg),
            "carrier_grams": _g(premix.carrier_kg),
            "take_grams": _g(premix.take_kg),
            "carrier_saved_grams": _g(premix.saved_kg),
            "carrier_left_grams": _g(premix.left_kg),
            "ask_the_supplier": premix.ask,
        },
    }


def weighing_sheet(found: BatchSheet) -> Sheet:
    """Return what is weighed as a table, with an empty column for what was."""
    return as_sheet("batch", COLUMNS, (_row(found, *each) for each in _each(found)))


def _row(
    sheet: BatchSheet, stage: str, key: str
) -> tuple[str | float | Number | None, ...]:
    line = sheet.line[key]
    lots = _lots(sheet.lots[key], line.step)
    return (
        stage,
        key,
        sheet.names[key],
        Number(1e3 * line.kg, grams(line.kg, line.step)),
        Number(line.kg / OUNCE, ounces(line.kg)),
        line.percent,
        line.wanted_percent,
        "" if lots == ROOM else lots,
        "",
    )
