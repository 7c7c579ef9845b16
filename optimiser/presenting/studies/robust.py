"""The page on robustness: how often rules are kept, what surer formulas cost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.facts import (
    asked,
    not_judged,
    opinion_told,
    without_told,
)
from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
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
from optimiser.presenting.studies.blocks import (
    closing,
    facts_blocks,
    formulas_table,
    law_first,
)
from optimiser.presenting.studies.words import about
from optimiser.presenting.words import cents, clean, decimals, listed, money, short

if TYPE_CHECKING:
    from optimiser.explaining.answer import PropertyLine
    from optimiser.studies.robust import Budgeted, Robust, RuleKept, Simulated

__all__ = ["robust_page"]

MOST_RULES = 4  # on a short page
NOT_BY_COST = (
    "Extra cost below nothing: the plain formula does not aim at cost first, so that"
    " one that is surer can be cheaper."
)
NONE_SURER = "None that is surer in the tries was found."
MEANING = (
    "Prepared for 2: the formula keeps every rule even when any two of its figures are"
    " as bad as they may be, both together."
)
PARTS = (
    "Half a figure is one that goes half of the way. The extra cost is at the usual"
    " prices."
)


def robust_page(found: Robust, *, full: bool = False) -> Page:
    """Return the page on robustness."""
    simulated = found.simulated
    firm = not found.told.basis.unfirm  # else it has been said that it is not judged
    open_ = not_judged(found.plain.properties, firm=firm)
    first = [open_] if open_ else []
    first.append(
        f"Every rule is kept in {_percent(simulated.kept)} % of"
        f" {simulated.draws} tries. {_doubts(found)}"
    )
    first += _not_counted(found.plain.properties)
    if found.stopped:
        first.append("Stopped early: what was done until then is below.")
    first.append(_cost(found))
    first += _judged(found)
    without = without_told(_held(found))
    first += (f"{told[0].upper()}{told[1:]}." for told in without)
    answer = tuple(Paragraph(text) for text in first)
    sections = [Section("", answer)]
    sections += section("Rules that may be missed", _kept(simulated, full=full))
    sections += section("Formulas that are surer", _budgets(found, full=full))
    if full:
        formulas = [found.plain, *(b.formula for b in found.budgets if b.formula)]
        sections += section("Formulas side by side", [formulas_table(formulas)])
        facts = facts_blocks(formulas, found.about.currency)
        sections += section("What each is like", facts)
    rest = ("how far each rule may be off", "the formulas", "what each is like")
    sections += closing(found.told, _proof(found), full=full, rest=rest)
    if not full:
        sections += following("robust", found.about.file)
    title = f"{found.about.title}: how sure it is"
    basis = found.told.basis
    return Page(title, about(found.about, basis), law_first(basis, sections))


def _held(found: Robust) -> list[PropertyLine]:
    """Return the properties that windows hold."""
    every = found.plain.properties
    return [x for x in every if x.least is not None or x.most is not None]


def _proof(found: Robust) -> str:
    return (
        "Each formula was proved: every rule recomputed, none serves its aim better,"
        " and the worst its figures can do together was worked out again. How often is"
        f" counted over {found.simulated.draws} tries (seed {found.seed}), so it is off"
        f" by about {_off(found.simulated)} %."
    )


def _off(simulated: Simulated) -> str:
    """Return two standard errors of a share, in percent, at their widest."""
    return short(100.0 / max(1, simulated.draws) ** 0.5, 2)


def _judged(found: Robust) -> Iterator[str]:
    """Yield which formula is judged, where that is not plain."""
    if found.cautious:
        yield (
            "Judged is the formula with figures as they usually are, not the cautious"
            " one: how bad figures may be is tried here."
        )
    if found.in_steps is not None and found.step is not None:
        step = f"steps of {short(found.step)} %"
        if found.in_steps:
            yield f"Judged is the formula in {step}, as formulate shows it."
        else:
            yield f"No formula in {step} was found, so the one without is judged."


def _doubts(found: Robust) -> str:
    """Return what differs from try to try."""
    doubt = found.doubt
    parts = [f"each price moves by up to {short(doubt.prices_percent)} % on its own"]
    if doubt.weighing_kg > 0:
        off = f"each weighing is off by up to {short(doubt.weighing_kg * 1e3)} g"
        if doubt.fine is not None:
            step, most = doubt.fine.readability * 1e3, doubt.fine.most * 1e3
            off += f" ({short(step)} g up to {short(most)} g)"
        parts.append(off)
    if doubt.figures:
        parts.append(
            "each figure lies between its low and high, most often near typical"
        )
    return f"In each, {listed(parts)}."


def _not_counted(lines: Sequence[PropertyLine]) -> Iterator[str]:
    """Yield that the second opinion's own doubt is in no try, and what it may miss."""
    doubts = [x.doubt for x in asked(lines) if x.doubt is not None]
    if not doubts:
        return
    told = (
        "Not counted: the doubt of the second opinion itself,"
        f" {decimals(max(doubts), 0)} points either way."
    )
    near = [opinion_told(x) for x in asked(lines) if _may_miss(x)]
    yield f"{told} Within it may be missed {listed(near, 3)}." if near else told


def _may_miss(line: PropertyLine) -> bool:
    """Whether a window may be missed by the second opinion within its doubt."""
    if line.second is None or line.doubt is None:
        return False
    low = line.least is not None and line.second - line.doubt < line.least
    return low or (line.most is not None and line.second + line.doubt > line.most)


def _percent(share: float) -> str:
    """Return a share of tries; all but certain is not called certain.

    >>> _percent(0.99999), _percent(0.5)
    ('over 99.9', '50.0')
    """
    if 0.9995 <= share < 1.0:
        return "over 99.9"
    return f"{100 * share:.1f}"


def _kept(simulated: Simulated, *, full: bool) -> list[Block]:
    every = sorted(
        (each for each in simulated.rules if each.share < 1.0),
        key=lambda each: each.share,
    )
    rows = every if full else every[:MOST_RULES]
    if not rows:
        return []
    shares = [Number(row.share, _percent(row.share)) for row in rows]
    columns = [
        words("rule", [clean(row.rule.sentence) for row in rows], 24),
        TableColumn("kept, %", tuple(shares)),
    ]
    told = []
    if full:
        for head, values in (
            ("5 %", [row.low for row in rows]),
            ("half", [row.middle for row in rows]),
            ("95 %", [row.high for row in rows]),
        ):
            cells = [
                Number(value, _value(row, value))
                for row, value in zip(rows, values, strict=True)
            ]
            columns.append(TableColumn(head, tuple(cells)))
        told.append("In 5 %, half and 95 % of the tries the value is below that.")
    more, sure = len(every) - len(rows), len(simulated.rules) - len(every)
    rest = [f"{more} more are missed at times"] if more else []
    rest += [f"{sure} more rules were kept every time"] if sure else []
    told += [f"{listed(rest)}."] if rest else []
    return [Table(tuple(columns)), *items(told)]


def _value(row: RuleKept, value: float) -> str:
    """Return a value of a rule, all of one rule with as many decimals."""
    if row.rule.unit in {"%", "points"} and abs(row.rule.limit) >= 1:
        return decimals(value, 1)
    return short(value, 3)


def _cost(found: Robust) -> str:
    cost = found.simulated.cost
    if cost is None:
        return "What it costs is not known: some price is missing."
    mean, spread, low, middle, high = (money(each) for each in cost)
    return (
        f"Materials: {mean} {found.about.currency} per kg on average, give or take"
        f" {spread}; half of the time up to {middle}, one time in twenty below {low},"
        f" one time in twenty above {high}."
    )


def _budgets(found: Robust, *, full: bool) -> list[Block]:
    if not found.budgets:
        return []
    rows = [row for row in found.budgets if _is_surer(row, found)]
    others = [row for row in found.budgets if row.formula and row not in rows]
    blocks: list[Block] = []
    told = [f"{MEANING} {PARTS}" if full else MEANING]
    if rows:
        rows = [row for row in found.budgets if row not in others]  # with what is none
        blocks.append(_table(rows, found))
    else:
        blocks.append(Paragraph(NONE_SURER))
    if others:
        shares = [f"{short(row.budget)} ({_share(row).text} %)" for row in others]
        told.append(f"No surer in the tries: prepared for {listed(shares)}.")
    off = [short(row.budget) for row in rows if row.in_steps is False]
    if off:
        told.append(f"Prepared for {listed(off)}: not in steps, for none was found.")
    if any(row.premium is not None and row.premium < -0.005 for row in rows):
        told.append(NOT_BY_COST)
    if not found.stopped:
        most = f"No formula can be prepared for more than about {_most(found)}."
        all_of = "It can be prepared for all of them."
        if not _held(found):
            all_of = "It can be prepared for all that is judged."
        told.append(most if _most(found) else all_of)
    return [*blocks, *items(told)]


def _is_surer(row: Budgeted, found: Robust) -> bool:
    """Whether a formula keeps every rule more often, in the figures that are shown."""
    if row.formula is None or row.simulated is None:
        return row.formula is not None
    kept, plain = row.simulated.kept, found.simulated.kept
    return kept > plain and _percent(kept) != _percent(plain)


def _table(rows: Sequence[Budgeted], found: Robust) -> Table:
    return Table(
        (
            numbers("prepared for", [row.budget for row in rows], short),
            TableColumn(
                f"{found.about.currency}/kg", tuple(_price(row) for row in rows)
            ),
            TableColumn("extra cost", tuple(_extra(row, found) for row in rows)),
            TableColumn("all rules kept, %", tuple(_share(row) for row in rows)),
        )
    )


def _most(found: Robust) -> str:
    return "" if found.most is None else short(found.most, 2)


def _price(row: Budgeted) -> Number:
    if row.formula is None:
        return Number(None, "none")
    cost = row.formula.cost_per_kg
    return Number(cost, "not known" if cost is None else money(cost))


def _extra(row: Budgeted, found: Robust) -> Number:
    """Return what a formula costs beside the plain one, from the figures shown."""
    cost = None if row.formula is None else row.formula.cost_per_kg
    plain = found.plain.cost_per_kg
    if row.premium is None or cost is None or plain is None:
        return Number(None, "")
    by = (cents(cost) - cents(plain)) / 100
    return Number(by, f"{by:+z.2f}")


def _share(row: Budgeted) -> Number:
    if row.simulated is None:
        return Number(None, "")
    return Number(row.simulated.kept, _percent(row.simulated.kept))
