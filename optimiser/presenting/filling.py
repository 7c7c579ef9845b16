"""Fill targets and filled batches: pages, and data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import asdict

from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Item,
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
from optimiser.presenting.words import decimals, listed, money, plural, short
from optimiser.units import OUNCE
from optimiser.workshop.filling import least_fill

if TYPE_CHECKING:
    from optimiser.workshop.filling import Check, Spread, Target
    from optimiser.workshop.sizes import Size

__all__ = [
    "Filling",
    "check_data",
    "check_page",
    "over_told",
    "target_data",
    "target_page",
]

SMALL = 5.0  # g
COMMON = 10.0  # percent of overfill by common practice
SURE = (
    "The law of the place where it is sold decides; a net-content authority or an"
    " adviser says which of its schemes you may use. Nothing here is advice on law."
)
WHAT = {
    "mean": "the mean of the batch",
    "short": "too many packs short",
    "beyond": "one pack far short",
}


class Filling(Struct, frozen=True):
    """What fills are about: net content, g, and what the maker says of it.

    ``told`` is how each pack that was weighed is called, in the order of their places.
    """

    title: str
    nominal: float
    packs: int
    confidence: float
    lost_percent: float
    spread: Spread | None
    cost_per_kg: float | None
    currency: str
    a_year: int | None
    told: tuple[str, ...] = ()


def target_page(
    asked: Filling,
    found: Sequence[tuple[float, Sequence[Target]]],
    *,
    full: bool = False,
) -> Page:
    """Return the page on how full to fill; ``found`` is by spread, g."""
    blocks: list[Block] = []
    if asked.spread is not None:
        targets = found[0][1]
        blocks.append(Paragraph(_answer(asked, targets)))
        blocks.append(_markets(targets))
    else:
        blocks.append(
            Paragraph(
                "How much your fills vary is not known: weigh ten packs into a CSV with"
                ' a column net, or say --spread "1.2 g". Until then, by spread:'
            )
        )
        blocks.append(_by_spread(found))
    sections = [Section("", tuple(blocks))]
    sections += section("A year of it", _a_year(asked, found))
    told = [*_small(asked), _counts(asked)]
    told += [_measured(asked.spread)] if asked.spread else []
    told += [f"{plural(asked.packs, 'pack')} a batch; --packs says another number."]
    if full:
        sections += section("By which rules", items(list(_rules(found[0][1]))))
        told.append(
            "Fills are taken as normal. A target is held to the sum of the chances that"
            " the mean, the short packs or one far short break the law, which is never"
            " too low; an inspector's allowance for chance is not used up."
        )
    sections += section("What this counts", items([*told, SURE]))
    if not full:
        sections.append(Section("", (Paragraph("With --full: the rules, and how."),)))
        sections += following("fill")
    return Page(f"Fill: {asked.title}", (_about(asked),), tuple(sections))


def over_told(size: Size) -> str:
    """Return the overfill of a unit, and what it follows from where that is the law."""
    told = f"{short(size.overfill, 3)} % over"
    if size.spread is None:
        return told
    varies = short(1e3 * size.spread, 3)
    return f"{told}, the least that keeps the law with fills that vary by {varies} g"


def _about(asked: Filling) -> str:
    ounces = decimals(asked.nominal / 1000.0 / OUNCE, 2)
    net = f"{_grams(asked.nominal)} net ({ounces} oz)"
    return f"{net}; {plural(asked.packs, 'pack')} a batch"


def _grams(grams: float) -> str:
    """Return grams as they were written or worked out, without a row of zeros.

    >>> _grams(4.25), _grams(60.0)
    ('4.25 g', '60 g')
    """
    return f"{round(grams, 3):g} g"


def _answer(asked: Filling, targets: Sequence[Target]) -> str:
    targets = [each for each in targets if each.tolerance is not None]
    if not targets:
        return f"No rule of the catalogues covers {_grams(asked.nominal)}: NOT checked."
    highest = least_fill(targets)
    if highest is None:
        return "No fill up to twice the net content would do with fills that vary so."
    over = 100.0 * (highest / asked.nominal - 1.0)
    flat = asked.nominal * (1.0 + COMMON / 100.0)
    text = f"Fill to {_grams(highest)} ({decimals(over, 1)} % over)"
    sure, covered = short(100 * asked.confidence), [x.market for x in targets]
    text += f": {sure} % sure that a batch keeps the rules of {listed(covered)}."
    return text + f" A flat {short(COMMON)} % over, as is common, is {_grams(flat)}."


def _markets(targets: Sequence[Target]) -> Table:
    fills = [None if each.tolerance is None else each.fill for each in targets]
    return Table(
        (
            TableColumn("market", tuple(each.market for each in targets)),
            numbers("fill to, g", fills, lambda x: _grams(x)[:-2], "NOT checked"),
            numbers(
                "a pack may lack, g",
                [each.tolerance for each in targets],
                lambda x: short(x, 3),
                "-",
            ),
            numbers(
                "none may lack, g",
                [each.far for each in targets],
                lambda x: short(x, 3),
                "-",
            ),
            words("what decides", [_decides(each) for each in targets], 12),
        )
    )


def _decides(each: Target) -> str:
    """Return which rule asks for most; why there is none for a small pack."""
    if each.tolerance is not None:
        return WHAT.get(each.decides, "-")
    return "no rule covers it"


def _by_spread(found: Sequence[tuple[float, Sequence[Target]]]) -> Table:
    markets = [each.market for each in found[0][1]]
    columns = [
        numbers("if fills vary by, g", [s for s, _ in found], lambda x: short(x, 2))
    ]
    for place, market in enumerate(markets):
        mine = [targets[place] for _, targets in found]
        fills = [None if each.tolerance is None else each.fill for each in mine]
        head = f"{market}: fill to, g"
        columns.append(numbers(head, fills, lambda x: _grams(x)[:-2], "NOT checked"))
    return Table(tuple(columns))


def _a_year(
    asked: Filling, found: Sequence[tuple[float, Sequence[Target]]]
) -> Iterator[Block]:
    if asked.spread is None:
        return
    highest = least_fill(found[0][1])
    if highest is None:
        return
    over = highest - asked.nominal
    flat = asked.nominal * COMMON / 100.0
    many = asked.a_year or 100
    rows = ("the least that keeps the law", f"a flat {short(COMMON)} % over")
    kilos = [many * each / 1000.0 for each in (over, flat)]
    columns = [
        words(f"given away in {many} packs", list(rows), 16),
        numbers("kg", kilos, lambda x: decimals(x, 2)),
    ]
    if asked.cost_per_kg is not None:
        cost = [each * asked.cost_per_kg for each in kilos]
        columns.append(numbers(f"{asked.currency}, materials", cost, money))
    yield Table(tuple(columns))
    if asked.a_year is None:
        yield Item("--a-year says how many packs you fill in a year")


def _small(asked: Filling) -> list[str]:
    """Return what holds for packs so small that no content need stand on them."""
    if asked.nominal >= SMALL:
        return []
    return [
        "EU and GB: under 5 g no net content need stand on a cosmetic (Regulation (EC)"
        " 1223/2009, Article 19(1)(b)); what stands there must be true."
    ]


def _counts(asked: Filling) -> str:
    if asked.lost_percent:
        return (
            f"A pack loses {short(asked.lost_percent)} % until it is sold, as said;"
            " that is added."
        )
    return (
        "Nothing is lost until it is sold: --loss says how many percent a pack loses"
        " (scent and water go; an oil bar loses next to nothing)."
    )


def _measured(spread: Spread) -> str:
    if spread.of is None:
        varies = short(spread.measured, 3)
        return f"Fills vary by {varies} g (standard deviation), as said."
    return (
        f"{spread.of} packs vary by {short(spread.measured, 3)} g (standard deviation);"
        f" it may well be {short(spread.most, 3)} g, and that is counted."
    )


def _rules(targets: Sequence[Target]) -> Iterator[str]:
    for each in targets:
        yield f"{each.market}: {listed(each.instruments)}. {_how_read(each.reads)}"


def _how_read(reads: Sequence[str]) -> str:
    counted = {word: reads.count(word) for word in ("retrieved", "secondary", "memory")}
    told = {
        "retrieved": "read in the text",
        "secondary": "read elsewhere",
        "memory": "from memory: check them",
    }
    parts = [f"{n} {told[word]}" for word, n in counted.items() if n]
    return f"Of {plural(len(reads), 'row')} {listed(parts)}."


def target_data(
    asked: Filling, found: Sequence[tuple[float, Sequence[Target]]]
) -> dict[str, Any]:
    """Return fill targets as data; masses in g."""
    return {
        "status": "answered",
        **asdict(asked),
        "targets": [
            {"spread": spread, **asdict(each)}
            for spread, targets in found
            for each in targets
        ],
    }


def check_page(
    asked: Filling,
    found: Sequence[Check],
    next_time: Sequence[Target],
    *,
    full: bool = False,
) -> Page:
    """Return the page on a batch that was weighed, with the fill for the next one."""
    sections = [Section("", tuple(Paragraph(_verdict(each)) for each in found))]
    sections += section("What to do", items(list(_to_do(found, next_time, asked))))
    first = found[0]
    weighed = [
        f"mean {decimals(first.mean, 2)} g",
        f"standard deviation {short(first.deviation, 3)} g",
        f"{first.weighed} of {plural(first.batch, 'pack')} weighed",
    ]
    sections += section("What was weighed", [Item("; ".join(weighed))])
    told = [SURE]
    if full:
        told = [*_rules_of(found), *told]
    sections += section("By which rules" if full else "", items(told))
    if not full:
        sections.append(Section("", (Paragraph("With --full: the rules."),)))
        sections += following("weighed")
    return Page(f"Filled batch: {asked.title}", (_about(asked),), tuple(sections))


def _rules_of(found: Sequence[Check]) -> Iterator[str]:
    for each in found:
        yield f"{each.market}: {listed(each.instruments)}. {_how_read(each.reads)}"


def _verdict(each: Check) -> str:
    if each.tolerance is None:
        return (
            f"{each.market}: no rule of this catalogue covers {_grams(each.nominal)}:"
            " NOT checked."
        )
    if each.more:
        return (
            f"{each.market}: weigh {plural(each.more, 'more pack')} of the batch before"
            " anything can be said."
        )
    if each.kept:
        return f"{each.market}: these packs keep the rules that were checked."
    why = []
    if not each.mean_kept:
        below = decimals(each.least_mean - each.mean, 2)
        why.append(f"the mean is {below} g below {decimals(each.least_mean, 2)} g")
    if len(each.short) > each.accepted:
        why.append(
            f"{_lack(len(each.short))} more than {short(each.tolerance, 3)} g"
            f" ({each.accepted or 'none'} may)"
        )
    if len(each.far) > each.far_accepted and each.most_short != each.tolerance:
        why.append(
            f"{_lack(len(each.far))} more than {short(each.most_short or 0.0, 3)} g"
        )
    return f"{each.market}: NOT kept: {listed(why)}."


def _lack(count: int) -> str:
    return "1 pack lacks" if count == 1 else f"{count} packs lack"


def _to_do(
    found: Sequence[Check], next_time: Sequence[Target], asked: Filling
) -> Iterator[str]:
    broken = [each for each in found if each.more == 0 and not each.kept]
    far = sorted({place for each in broken for place in each.far})
    if far:
        which = listed(asked.told[place] for place in far)
        text = f"Do not sell {which} as {_grams(asked.nominal)}"
        rest = all(each.without_far or each.kept for each in found)
        text += ": without them the rest keeps the rules" if rest else ""
        yield text + "."
    if broken and not (far and all(e.without_far or e.kept for e in found)):
        short_by = max(each.least_mean - each.mean for each in broken)
        if short_by > 0:
            kilos = short_by * asked.packs
            yield (
                f"Top the packs up by {decimals(short_by, 2)} g on average"
                f" ({_grams(kilos)} in all) where they can be."
            )
    labels = [each.label for each in found]
    if broken and None not in labels:
        lowest = min(each for each in labels if each is not None)
        yield f"Or label all of them {lowest} g: so they keep the rules checked here."
    highest = least_fill(next_time)
    if highest is not None:
        sure = short(100 * asked.confidence)
        yield (
            f"Next time fill to {_grams(highest)}: with fills that vary as"
            f" these do, that is {sure} % sure."
        )


def check_data(
    asked: Filling, found: Sequence[Check], next_time: Sequence[Target]
) -> dict[str, Any]:
    """Return a judged batch as data; masses in g."""
    kept = all(each.kept for each in found)
    return {
        "status": "answered",
        **asdict(asked),
        "kept": kept,
        "markets": [
            {**asdict(each), "kept": each.kept, "mean_kept": each.mean_kept}
            for each in found
        ],
        "next_time": [asdict(each) for each in next_time],
    }
