"""Which test bars to pour next: a page, data, and the table that calibrate reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.notes import lots_told
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
from optimiser.presenting.sheet import Sheet, as_sheet
from optimiser.presenting.studies.words import about
from optimiser.presenting.words import (
    clean,
    decimals,
    listed,
    money,
    plural,
    short,
)

if TYPE_CHECKING:
    from optimiser.studies.trials import DoubtOf, TestBar, Trials, Verdict

__all__ = ["TRIALS", "trials_data", "trials_page", "trials_sheet"]

# Of the table that is written; a column for each ingredient follows.
TRIALS = ("trial", "room", "verdict", "drop_point", "note")
A_TABLE = 6  # bars side by side
LITTLE = 0.05  # a doubt shrunk by less than this share of itself is told as kept
NEARLY = 0.7  # of what bars drawn by lot would leave: less of a gain is explained
HARDLY = 0.5  # percent: the chance below which a verdict is not looked for
METHOD = (
    "The model of firmness is taken as it is, and only its figures as unsure: each"
    " fat and wax by one number that moves its whole curve within its published"
    " spread. What is +- here is one standard deviation; two thirds of all lots lie"
    " within it."
)


def trials_page(
    found: Trials, written: str | None = None, *, full: bool = False
) -> Page:
    """Return the bars to pour as a page.

    Parameters
    ----------
    written : str, optional
        The table to fill in, as it is shown; None if none was written.
    """
    count = plural(len(found.bars), "bar")
    first = [Paragraph(f"Pour {count} of 100 g: % are grams."), *_promises(found)]
    sections = [Section("", tuple(first))]
    sections += section("What to pour", _tables(found))
    sections += section("What each tells", _tells(found, full=full))
    if full:
        sections += section("What is in doubt", _figures(found))
        sections += section("How it was found", _method(found))
    sections += section("Then", items(_then(found, written)))
    if not full:
        more = (
            "With --full: which figures are in doubt, each verdict, how it was found."
        )
        sections += section("", [Paragraph(more)])
    title = f"{found.about.title}: test bars to pour"
    top = (*about(found.about)[:-1], *lots_told(found.about.invented_lots))
    return Page(title, top, tuple(sections))


def _what(doubt: DoubtOf) -> str:
    at = "" if doubt.at is None else f" at {short(doubt.at)} °C"
    return f"{doubt.what}{at}"


def _amount(doubt: DoubtOf, value: float, currency: str) -> str:
    if doubt.what == "cost":
        return f"{money(value)} {currency}/kg"
    return decimals(value, 1 if value < 10 else 0) + (
        " %" if doubt.what == "solid fat" else ""
    )


def _promises(found: Trials) -> list[Block]:
    """Return what is in doubt of the answer, before and after the bars."""
    told: list[Block] = []
    for each in (*found.windows, *([] if found.cost is None else [found.cost])):
        before, after, random = (
            _amount(each, value, found.about.currency)
            for value in (each.before, each.after, each.random)
        )
        if each.what == "cost":
            whose = "what it must cost, if the figures were known"
        else:
            known = _amount(each, each.value or 0.0, found.about.currency)
            whose = f"{_what(each)} of today's answer ({known})"
        if each.after > (1.0 - LITTLE) * each.before:
            told.append(Item(f"{whose}: stays as unsure as it is, +-{before}"))
            continue
        less = decimals(100.0 * (1.0 - each.after / each.before), 0)
        told.append(
            Item(
                f"{whose}: unsure by +-{before} now, +-{after} after them ({less} %"
                f" less; as many bars drawn by lot: +-{random})"
            )
        )
    told += _why_no_more(found)
    if found.impossible >= 0.01:
        share = decimals(100.0 * found.impossible, 0)
        told.append(
            Item(
                f"with {share} % of what the figures may truly be no formula keeps all"
                " rules"
            )
        )
    return told


def _why_no_more(found: Trials) -> list[Item]:
    """Return why bars drawn by lot would tell nearly as much, where they do."""
    first, carrier = found.windows[0], found.carrier
    if first.after <= NEARLY * first.random:
        return []
    if first.before < found.thumb:
        why = f"a thumb may be off by {short(found.thumb)}, more than is in doubt"
    elif carrier.least > 0.0 and carrier.share > 0.5:
        share = decimals(100.0 * carrier.share, 0)
        why = (
            f"each formula inside the rules holds {decimals(carrier.least, 0)} % or"
            f" more of {carrier.name}, which is {share} % of that doubt"
        )
    else:
        why = "all formulas inside the rules are much alike"
    return [
        Item(
            f"bars drawn by lot do nearly as well here: {why}. Of {found.candidates}"
            " formulas no bar, changed alone for another, would tell more"
        )
    ]


def _tables(found: Trials) -> list[Table]:
    tables = []
    for first in range(0, len(found.bars), A_TABLE):
        bars = found.bars[first : first + A_TABLE]
        last = first + A_TABLE >= len(found.bars)
        tables.append(_table(found, bars, with_answer=last))
    return tables


def _table(found: Trials, bars: tuple[TestBar, ...], *, with_answer: bool) -> Table:
    """Return formulas side by side, what the answer has at the end."""
    formulas = [each.formula for each in bars]
    heads = [each.name for each in bars]
    if with_answer:
        formulas.append(found.answer)
        heads.append("answer")
    most = {
        key: max(formula.get(key, 0.0) for formula in formulas)
        for key in found.names
        if any(key in formula for formula in formulas)
    }
    keys = list(most)
    rooms = [_room(each) for each in bars] + ([""] if with_answer else [])
    columns = [words("%", [*(found.names[k] for k in keys), "judge at, °C"], 14)]
    for head, formula, room in zip(heads, formulas, rooms, strict=True):
        amounts = [short(formula[k]) if k in formula else "" for k in keys]
        column = numbers(head, [formula.get(k) for k in keys], short)
        cells = (
            *(c if text else "" for c, text in zip(column.cells, amounts, strict=True)),
            room,
        )
        columns.append(TableColumn(head, cells))
    return Table(tuple(columns), lines=(len(keys),))


def _room(each: TestBar) -> str:
    return "-" if each.room is None else short(each.room)


def _tells(found: Trials, *, full: bool) -> list[Block]:
    """Return what each bar tells, and what its verdicts would mean."""
    told: list[Block] = []
    felt = [each for each in found.bars if each.verdicts]
    if felt:
        columns = [words("", [each.name for each in felt], 6)]
        for number, said in enumerate(v.said for v in felt[0].verdicts):
            verdicts = [each.verdicts[number] for each in felt]
            if all(100.0 * each.chance < HARDLY for each in verdicts):
                continue
            columns.append(words(f"if {said}", map(_meaning, verdicts), 9))
        columns.append(words("by way of", map(_by_way_of, felt), 12))
        told.append(Table(tuple(columns)))
        at = "" if found.felt_at is None else f" at {short(found.felt_at)} °C"
        told.append(
            Item(
                f"the firmness{at} that today's answer would then have, and in brackets"
                " how likely that verdict is"
            )
        )
    for each in found.bars:
        if not each.verdicts:
            slips = short(each.drop or 0.0)
            told.append(
                Item(
                    f"{each.name}: should slip at about {slips} °C, by way of"
                    f" {_by_way_of(each)}"
                )
            )
    return [*told, *(_more(each) for each in found.bars if full)]


def _meaning(verdict: Verdict) -> str:
    """Return what a verdict would mean, and its chance."""
    percent = 100.0 * verdict.chance
    if percent < HARDLY:
        return "hardly ever"
    return f"{decimals(verdict.answer, 0)} ({decimals(percent, 0)} %)"


def _by_way_of(each: TestBar) -> str:
    return listed(name for name, _ in each.told) or "what is hardly in doubt"


def _more(each: TestBar) -> Item:
    """Return all of one bar."""
    under = []
    if each.firmness is not None:
        at = short(each.room or 0.0)
        under.append(f"the model says {decimals(each.firmness, 0)} at {at} °C")
    if each.drop is not None and each.verdicts:
        under.append(f"it should slip at about {short(each.drop)} °C")
    points = [f"{name} by {decimals(by, 0)}" for name, by in each.told]
    if points:
        under.append(f"unsure by: {listed(points)}")
    under.append(f"poured alone it would leave +-{decimals(each.alone, 1)}")
    if each.to_buy:
        under.append(f"not on the shelf: {listed(each.to_buy)}")
    return Item(each.name, tuple(under))


def _figures(found: Trials) -> list[Block]:
    rows = found.figures
    if not rows:
        return []
    what = _what(found.windows[0])
    table = Table(
        (
            words("", [each.name for each in rows], 14),
            numbers("+- now", [each.moves for each in rows], lambda x: decimals(x, 1)),
            numbers("+- after", [each.left for each in rows], lambda x: decimals(x, 1)),
        )
    )
    return [table, Item(f"in points of {what} of today's answer")]


def _method(found: Trials) -> list[Item]:
    of = ", of the shelf, the base and today's answer" if found.at_hand else ""
    told = [
        METHOD,
        "Every bar keeps the rules of the scenario by straight sums, and comes in steps"
        f" that can be weighed; they were chosen from {found.candidates} formulas,"
        f" corners of the rules and what lies between them{of}.",
        "Chosen are the bars that leave least in doubt, by what verdicts tell (a bar"
        " far from both limits tells little), of the windows at today's answer, at"
        " formulas that may turn out to be the answer, and of the cost (Bayesian"
        " V-optimal design by exchange). None of them alone could be changed for a"
        " better one; that no other bars together do better is not proved.",
    ]
    return list(items(told))


def _then(found: Trials, written: str | None) -> list[str]:
    buy = list(dict.fromkeys(name for each in found.bars for name in each.to_buy))
    told = []
    if buy and found.stocked:
        told.append(f"to buy, for it is not on the shelf: {listed(buy)}")
        told[-1] += "; --shelf makes do"
    elif buy:
        told.append(f"to buy, if you have none: {listed(buy)} (not in your base)")
    elif found.stocked:
        told.append("nothing to buy: all of it is on the shelf")
    felt = any(each.verdicts for each in found.bars)
    drops = any(each.drop is not None for each in found.bars)
    how = []
    if felt:
        how.append(
            "judge each a day after it set, at its temperature: too soft, right (as it"
            " should be when sold) or too hard"
        )
    if drops:
        how.append("warm a crumb slowly and write where it slips (drop_point)")
    told += how
    if written is None:
        told.append("--write trials.csv gives the table to fill in")
    else:
        name, file = clean(written), clean(found.about.file)
        told.append(f"fill in {name}, then: optimiser calibrate {name} {file}")
    return told


def trials_sheet(found: Trials) -> Sheet:
    """Return the table to fill in: what `calibrate` reads, a row a bar."""
    used = {key for each in found.bars for key in each.formula}
    keys = [key for key in found.names if key in used]
    rows = []
    for each in found.bars:
        note = "write a verdict: too soft, right or too hard"
        if each.drop is not None:
            slips = f"a drop_point, expected near {short(each.drop)} degC"
            note = f"{note}; {slips}" if each.verdicts else f"write {slips}"
        room = None if each.room is None else f"{short(each.room)} degC"
        shares = (each.formula.get(key) for key in keys)
        rows.append((each.name, room, None, None, note, *shares))
    return as_sheet("trials", (*TRIALS, *(found.names[key] for key in keys)), rows)


def trials_data(found: Trials, written: str | None = None) -> dict[str, Any]:
    """Return the bars to pour as data; each doubt is a standard deviation."""
    return {
        "status": "answered",
        "title": found.about.title,
        "scenario": found.about.file,
        "currency": found.about.currency,
        "bars": [
            {
                "name": each.name,
                "formula": [
                    {"ingredient": key, "name": found.names[key], "percent": percent}
                    for key, percent in each.formula.items()
                ],
                "room": each.room,
                "firmness": each.firmness,
                "drop_point": each.drop,
                "alone": each.alone,
                "tells_of": [
                    {"name": name, "points": points} for name, points in each.told
                ],
                "verdicts": each.verdicts,
                "to_buy": each.to_buy,
            }
            for each in found.bars
        ],
        "answer": found.answer,
        "windows": found.windows,
        "cost": found.cost,
        "figures": found.figures,
        "impossible": found.impossible,
        "candidates": found.candidates,
        "seed": found.seed,
        "shelf": found.shelf,
        "at_hand": found.at_hand,
        "carrier": found.carrier,
        "written": written,
    }
