"""The page on a formula that keeps every rule: the answer first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import care, facts, formula, rules
from optimiser.presenting.following import next_told
from optimiser.presenting.notes import (
    beyond_told,
    calibrated_told,
    coming_begun,
    coming_told,
    duty_begun,
    duty_told,
    law_lines,
    lots_told,
    notes,
    prices_told,
    unfirm_told,
)
from optimiser.presenting.opinion import opinion, opinion_in_short
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Section,
    items,
    section,
)
from optimiser.presenting.words import clean, listed, money, short, tidy

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.domain.caution import CautionLine
    from optimiser.explaining.answer import (
        AllergenLine,
        Answer,
        Change,
        FormulaLine,
        StepsTaken,
    )
    from optimiser.explaining.basis import Basis

__all__ = [
    "MEASURES",
    "about",
    "aims_in_words",
    "answer_page",
    "law",
    "minding",
    "more_of",
    "reached",
    "used_up",
]

DEAREST, CAUTIONS = 3, 4  # of each on the short page
FEW, LONG = 2, 13  # so many beside a formula, and what is out of it, of more lines
SEEN = 0.05  # money per kg: what steps cost below it waits for the full page
CENT = 0.005  # money per kg: less is told as nothing
MOST_AS_GOOD = 3
UNMOVED = 0.05  # percent that is different: no change that a maker would see
PROVED = 1e-4  # a gap of the aim that no price list could show
NOT_ALL_TRIED = (
    "Not all choices were tried in the time for it, so a better one may be left."
)
# What of duties the short page tells, and how many of them.
AT_ONCE, MOST_AT_ONCE = {"label", "pending", "none pending"}, 2
ASSESSED = "law, suppliers' papers and a qualified assessor decide."
DECIDES, BRIEFLY = f"A decision aid: {ASSESSED}", f"An aid: {ASSESSED}"


def answer_page(
    answer: Answer, sources: Mapping[str, Source] | None = None, *, full: bool = False
) -> Page:
    """Return the page on an answer: about thirty lines, or with ``full`` everything.

    Parameters
    ----------
    sources : mapping of key to Source, optional
        Where rules were read; with it editions of law are told in full.
    """
    where = (
        *about(
            answer.file,
            answer.use,
            answer.markets,
            answer.basis.invented,
            answer.basis.invented_of,
        ),
        *lots_told(answer.basis.invented_lots),
    )
    if full:
        return Page(answer.title, where, _everything(answer, sources or {}))
    table = formula.formula_table(answer.formula, brief=True)
    gone = tuple(care.kept_out(answer.kept_out))
    long = len(table.columns[0].cells) + 2 * len(gone) > LONG
    few = FEW if long else CAUTIONS
    mind = (
        *law(answer.basis, brief=long),
        *items(care.briefly(answer.cautions, few, rest=True)),
        *care.allergens(answer.allergens, answer.markets, brief=long),
    )
    return Page(
        f"{answer.title}: {', '.join(where[1:])}",
        (),
        (
            *section("", _in_short(answer), close=True),
            *section("", [table, *gone], close=long),
            *section("", mind, close=long),
            # The lines name what they are of: below a long formula they need no head.
            *section("" if long else "Will it hold", _will_it_hold(answer), close=True),
            *section(
                "What costs most",
                _dearest(answer, long=long),
                close=True,
            ),
            *section("", _next(answer, long=long), close=True),
        ),
    )


def about(
    file: str,
    use: str,
    markets: Sequence[str],
    invented: str | None = None,
    of: Sequence[str] | None = None,
) -> tuple[str, ...]:
    """Return what a page is about, below its title.

    ``invented`` tells how many of the prices behind its costs are: "all" or "some";
    ``of`` which of them are of the formula that it is about.
    """
    sold = f"sold in {listed(markets)}" if markets else "no market named"
    return (file, use, sold, *prices_told(invented, of))


def law(basis: Basis, *, brief: bool = False) -> Iterator[Block]:
    """Yield the law in one line a market, then what of it a maker must know at once.

    With the edition, unless it is to be ``brief``. Known at once must be what a
    substance in the formula brings with it, and what begins within a year;
    `asked_by_law` tells the rest.
    """
    yield from law_lines(basis, brief=brief)
    yield from beyond_told(basis)
    at_once = [told for line in basis.law for told in coming_begun(line)]
    at_once += [
        duty_begun(duty)
        for line in basis.law
        for duty in line.duties
        if duty.substance is not None and duty.kind in AT_ONCE
    ]
    yield from items(at_once[:MOST_AT_ONCE])
    more = len(at_once) - MOST_AT_ONCE
    if more > 0:
        yield Item(f"and {more} more that the law asks for (--full)")


def asked_by_law(basis: Basis) -> Iterator[Item]:
    """Yield what markets ask for beside limits, and what begins within a year."""
    for line in basis.law:
        yield from items([*coming_told(line), *map(duty_told, line.duties)])


def _in_short(answer: Answer) -> Iterator[Block]:
    """Yield what it costs beside the base, and its steps where a maker must know."""
    yield from unfirm_told(answer.basis.unfirm)
    yield Paragraph(" ".join(_costs(answer)))
    steps = answer.steps
    if steps is not None and (steps.cut or not steps.kept or _is_seen(steps, answer)):
        yield Paragraph(_steps(steps, answer))
    yield from _as_good(steps)


def _is_seen(steps: StepsTaken, answer: Answer) -> bool:
    """Whether steps make a formula so much dearer that a maker must know."""
    more = _steps_cost(steps, answer)
    return more is not None and more[0] == "cost" and more[1] >= SEEN


def _at_a_glance(answer: Answer) -> Iterator[Block]:
    """Yield what it costs beside the base, how different it is, and its steps."""
    yield from unfirm_told(answer.basis.unfirm)
    told = list(_costs(answer))
    if answer.steps is not None:
        told.append(_steps(answer.steps, answer))
    yield Paragraph(" ".join(told))
    yield from _as_good(answer.steps)


def _costs(answer: Answer) -> Iterator[str]:
    cost = formula.cost_told(
        answer.cost_per_kg, answer.base_cost_per_kg, answer.formula, answer.currency
    )
    named = answer.base_cost_per_kg is not None and answer.cost_per_kg is not None
    apart = formula.different(answer.change, *([""] if named else []))
    yield from filter(None, (cost, apart))
    if answer.base_keeps and answer.change is not None:
        told = "Your base keeps every rule"
        if answer.basis.over:
            told += " as eased here"
        steps = answer.steps
        moved = answer.change.by_ingredient > UNMOVED
        if steps is not None and moved and _differs_by_steps(steps):
            told += f", but is not in steps of {short(steps.step)} %"
        yield f"{told}."
    if answer.proof.gap > PROVED and (answer.steps is None or not answer.steps.cut):
        yield NOT_ALL_TRIED


def _differs_by_steps(steps: StepsTaken) -> bool:
    """Whether without steps the answer would be the base as it is."""
    return steps.kept and any(
        name == "change" and value < UNMOVED for name, value, _ in steps.aims
    )


def _steps_cost(steps: StepsTaken, answer: Answer) -> tuple[str, float, str] | None:
    return more_of(answer.aims, steps.aims)


def more_of(
    aims: Sequence[tuple[str, float, str]], others: Sequence[tuple[str, float, str]]
) -> tuple[str, float, str] | None:
    """Return the first aim of which a formula has more, how much more, and its unit.

    None where it has no more of any that is asked for: one in steps that came out
    cheaper where cost is no aim has that from something else.
    """
    for (name, now, unit), (_, without, _) in zip(aims, others, strict=True):
        least = CENT if name == "cost" else OVER * max(1.0, abs(without))
        if abs(now - without) >= least:
            return (name, now - without, unit) if now > without else None
    return None


def _steps(steps: StepsTaken, answer: Answer) -> str:
    """Return what the steps of the amounts cost, or what would do."""
    asked = f"steps of {short(steps.step)} %"
    if not steps.kept and steps.cut:
        return (
            f"No formula in {asked} was found in the time that is searched for one, so"
            " it is written without."
        )
    if not steps.kept:
        told = f"No formula in {asked} keeps every rule, so it is written without."
        if steps.finer is not None:
            told += f" One in steps of {short(steps.finer)} % does."
        return told
    told = f"In {asked}"
    if steps.rest is not None:
        told += f", {steps.rest} taking what is left to 100"
    if steps.cut:
        told += ", where not all was tried"
    more = _steps_cost(steps, answer)
    if more is None:
        return f"{told}."
    name, by, unit = more
    if name == "cost":
        return f"{told}: {money(by)} {answer.currency}/kg dearer than without."
    return f"{told}: {_amount(name, by, unit)} more {MEASURES[name]} than without."


def _as_good(steps: StepsTaken | None) -> Iterator[Paragraph]:
    """Yield what could stand as well for something that came in."""
    for name, others in ({} if steps is None else steps.as_good).items():
        told = listed(map(clean, others), MOST_AS_GOOD)
        yield Paragraph(f"As good as {clean(name)} by what was asked for: {told}.")


def _will_it_hold(answer: Answer) -> Iterator[Block]:
    yield from facts.holding(answer.properties)
    firm = not answer.basis.unfirm  # else it has been said that it is not judged
    yield from items(facts.not_asked(answer.properties, firm=firm))
    yield from items(calibrated_told(answer.basis))
    said = opinion_in_short(answer.second_opinion)
    if said:
        yield Item(said)


def _dearest(answer: Answer, *, long: bool) -> Iterator[Block]:
    aims = [name for name, _, _ in answer.aims]
    most = FEW if long else DEAREST
    return rules.dearest(answer.rules, aims, answer.currency, most, brief=True)


def minding(
    allergens: Sequence[AllergenLine],
    cautions: Sequence[CautionLine],
    markets: Sequence[str],
    *,
    rest: bool = False,
) -> Iterator[Block]:
    """Yield the weightiest cautions that a product calls for, and the allergens.

    With ``rest`` it is said how many cautions more the full page has.
    """
    yield from items(care.briefly(cautions, CAUTIONS, rest=rest))
    yield from care.allergens(allergens, markets)
    yield Item(DECIDES)


def _next(answer: Answer, *, long: bool) -> Iterator[Block]:
    if long:
        yield Paragraph(f"{BRIEFLY} Next: --full.")
        return
    yield Paragraph(DECIDES)
    yield Paragraph(next_told("formulate", answer.file))


def _everything(answer: Answer, sources: Mapping[str, Source]) -> tuple[Section, ...]:
    here = reached(answer.cost_per_kg, answer.change, answer.formula)
    aims = aims_in_words(answer.aims, here, answer.room)
    names = [name for name, _, _ in answer.aims]
    sure = len(answer.aims) == 1 and not answer.choices_kept
    held = rules.binding(
        answer.rules, names, answer.currency, choices_kept=answer.choices_kept
    )
    tie = [] if answer.tie is None else [facts.tie_told(answer.tie, answer.currency)]
    unused = facts.unused(
        answer.unused, answer.currency, choices_kept=answer.choices_kept
    )
    said = notes(answer.basis, [("", answer.properties)])
    return (
        *section("", law_lines(answer.basis)),
        *section("", [Paragraph(f"Aim: {aims}."), *_at_a_glance(answer)]),
        *section("Formula", [*_whole_formula(answer), *care.kept_out(answer.kept_out)]),
        *section("Properties", facts.properties(answer.properties)),
        *section("Second opinion", opinion(answer.second_opinion, answer.aims)),
        *section("What holds the formula where it is", (*used_up(answer, here), *held)),
        *section("Nearly holding", rules.near(answer.rules)),
        *section("With room to spare", rules.free(answer.rules, sure=sure)),
        *section("Not used", unused),
        *section("Just as good", items(tie)),
        *section(
            "Allergens present or to ask about", facts.allergens(answer.allergens)
        ),
        *section("Names a label must carry", facts.label_names(answer.label_names)),
        *section("What the law asks for besides", asked_by_law(answer.basis)),
        *section("Left out", facts.left_out(answer.left_out)),
        *section("Notes", items(said)),
        *care.cautions(answer.cautions, full=True),
        *section("What was checked", _checked(answer, sources)),
    )


def _whole_formula(answer: Answer) -> Iterator[Block]:
    yield formula.formula_table(answer.formula, answer.currency, full=True)
    yield Item(formula.by_category(answer.formula))
    change = formula.change_told(answer.change, answer.formula)
    if change:
        yield Item(change)
    batch = formula.batch_cost(answer.cost_per_kg, answer.batch_kg, answer.currency)
    if batch:
        yield Item(batch)


def _checked(answer: Answer, sources: Mapping[str, Source]) -> Iterator[Block]:
    yield from facts.checked([line.rule for line in answer.rules], sources)
    aim = answer.aims[0][0] if answer.aims else None
    said = answer.second_opinion
    held = said is not None and said.outcome == "held"
    yield Item(facts.proof_told(answer.proof, aim, held=held))


# What each aim makes small.
MEASURES = {
    "cost": "cost",
    "change": "change from the base",
    "kind change": "change by kind",
    "category change": "change by category",
    "count": "number of ingredients",
    "bought": "what must be bought",
}
AIM_WORDS = {
    "cost": "least cost",
    "change": "least change from the base",
    "kind change": "least change by kind",
    "category change": "least change by category",
    "count": "fewest ingredients",
    "bought": "least to buy",
}
OVER = 1e-4  # an aim this much over its least, of itself, was given room


def aims_in_words(
    aims: Sequence[tuple[str, float, str]],
    here: Mapping[str, float] | None = None,
    room: Mapping[str, float] | None = None,
) -> str:
    """Return the aims in their order, each with what was reached.

    Parameters
    ----------
    aims : sequence of (str, float, str)
        The name of each aim, the least it could be, and its unit.
    here : mapping of str to float, optional
        What the formula has of each, where it may be more: a later aim used it.
    room : mapping of str to float, optional
        How much more was allowed.

    >>> aims_in_words([("change", 2.5, "points"), ("cost", 9.871, "EUR/kg")])
    'least change from the base (2.5 points), then least cost (9.87 EUR/kg)'
    >>> two = [("change", 0.0, "points"), ("cost", 9.5, "EUR/kg")]
    >>> aims_in_words(two, {"change": 1.0}, {"change": 1.0}).split(", then ")[0]
    'change from the base at most 1 point over the least (0 points; here 1)'
    """
    parts = []
    for place, (name, least, unit) in enumerate(aims, start=1):
        now, more = (here or {}).get(name, least), (room or {}).get(name)
        told = f"{_figure(name, least)} {clean(unit)}"
        if place < len(aims) and more != 0.0 and _over(now, least):
            at_most = "" if more is None else f" at most {_amount(name, more, unit)}"
            over = f"{MEASURES[name]}{at_most} over the least"
            parts.append(f"{over} ({told}; here {_figure(name, now)})")
        else:
            parts.append(f"{AIM_WORDS.get(name, clean(name))} ({told})")
    return ", then ".join(parts)


def _over(now: float, least: float) -> bool:
    return now - least > OVER * max(1.0, abs(least))


def _figure(name: str, value: float) -> str:
    return money(value) if name == "cost" else short(tidy(value))


def _amount(name: str, value: float, unit: str) -> str:
    told, of = _figure(name, value), clean(unit)
    return f"{told} {of.removesuffix('s') if told == '1' else of}"


def reached(
    cost_per_kg: float | None,
    change: Change | None,
    formula: Sequence[FormulaLine],
) -> dict[str, float]:
    """Return what a formula has of each aim that can be told from it."""
    here = {"count": float(sum(line.percent > 0 for line in formula))}
    if cost_per_kg is not None:
        here["cost"] = cost_per_kg
    if change is not None:
        here["change"] = change.by_ingredient
        here["kind change"] = change.by_kind
        here["category change"] = change.by_category
    return here


def used_up(answer: Answer, here: Mapping[str, float]) -> Iterator[Item]:
    """Yield the aims whose room was wholly used by those after them."""
    for name, least, unit in answer.aims[:-1]:
        more, now = answer.room.get(name, 0.0), here.get(name, least)
        if more > 0 and _over(now, least) and not _over(least + more, now):
            allowed = _amount(name, more, unit)
            told = (
                f"{MEASURES[name]} at most {allowed} over the least: all of it is used"
            )
            yield Item(told, (f"from aim.slack.{name}",))
