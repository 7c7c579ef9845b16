"""The page on a formula that keeps every rule: the answer first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import care, facts, formula, rules
from optimiser.presenting.aims import aims_in_words, reached, used_up
from optimiser.presenting.notes import law_line, notes
from optimiser.presenting.opinion import opinion, opinion_in_short
from optimiser.presenting.page import (
    Block,
    Item,
    Numbered,
    Page,
    Paragraph,
    Section,
    items,
    section,
)
from optimiser.presenting.words import listed, money, short

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import AllergenLine, Answer, StepsTaken
    from optimiser.explaining.basis import Basis

__all__ = ["about", "answer_page", "law", "minding"]

DEAREST, CAUTIONS = 3, 2  # of each on the short page
GENERAL = 2  # cautions that go with every formula come first
DECIDES = "A decision aid: law, suppliers' papers and a qualified assessor decide."


def answer_page(
    answer: Answer, sources: Mapping[str, Source] | None = None, *, full: bool = False
) -> Page:
    """Return the page on an answer: about thirty lines, or with ``full`` everything.

    Parameters
    ----------
    sources : mapping of key to Source, optional
        Where rules were read; with it editions of law are told in full.
    """
    where = about(answer.file, answer.use, answer.markets, answer.basis.invented)
    if full:
        return Page(answer.title, where, _everything(answer, sources or {}))
    return Page(
        answer.title,
        where,
        (
            *section("", _at_a_glance(answer)),
            *section("", [formula.formula_table(answer.formula), *law(answer.basis)]),
            *section("Will it hold", _will_it_hold(answer)),
            *section("What costs most", _dearest(answer)),
            *section("Mind", minding(answer.allergens, answer.cautions)),
            *section("", [_next()]),
        ),
    )


def about(
    file: str, use: str, markets: Sequence[str], invented: str | None = None
) -> tuple[str, ...]:
    """Return what a page is about, below its title.

    ``invented`` tells how many of the prices behind its costs are: "all" or "some".
    """
    sold = f"sold in {listed(markets)}" if markets else "no market named"
    if invented is None:
        return (file, use, sold)
    some = "some prices" if invented == "some" else "prices"
    return (file, use, sold, f"{some} invented")


def law(basis: Basis) -> Iterator[Paragraph]:
    """Yield the law in one line a market."""
    for line in basis.law:
        yield Paragraph(f"Law: {law_line(line)}.")
    if not basis.law:
        yield Paragraph("Law: NOT checked, for no market is named.")


def _at_a_glance(answer: Answer) -> Iterator[Block]:
    """Yield what it costs beside the base, and how much of it is different."""
    cost = formula.cost_told(
        answer.cost_per_kg, answer.base_cost_per_kg, answer.formula, answer.currency
    )
    told = f"{cost} {formula.different(answer.change)}".strip()
    if answer.base_keeps and answer.change is not None:
        told += " Your base keeps every rule."
    yield Paragraph(told)
    if answer.steps is not None:
        yield Paragraph(_steps(answer.steps, answer))


def _steps(steps: StepsTaken, answer: Answer) -> str:
    """Return what the steps of the amounts cost, or what would do."""
    asked = f"steps of {short(steps.step)} %"
    if not steps.kept:
        told = f"No formula in {asked} keeps every rule, so it is written without."
        if steps.finer is not None:
            told += f" One in steps of {short(steps.finer)} % does."
        return told
    told = f"In {asked}"
    if steps.rest is not None:
        told += f", {steps.rest} taking what is left to 100"
    if steps.cost_per_kg is None or answer.cost_per_kg is None:
        return f"{told}."
    dearer = answer.cost_per_kg - steps.cost_per_kg
    if abs(dearer) < 0.005:
        return f"{told}; without them it would cost as much."
    way = "dearer" if dearer > 0 else "cheaper"
    return f"{told}: {money(abs(dearer))} {answer.currency}/kg {way} than without."


def _will_it_hold(answer: Answer) -> Iterator[Block]:
    yield from facts.holding(answer.properties)
    yield from items(facts.not_asked(answer.properties))
    said = opinion_in_short(answer.second_opinion)
    if said:
        yield Item(said)


def _dearest(answer: Answer) -> Iterator[Block]:
    aims = [name for name, _, _ in answer.aims]
    return rules.dearest(answer.rules, aims, answer.currency, DEAREST)


def minding(
    allergens: Sequence[AllergenLine], cautions: Sequence[str]
) -> Iterator[Block]:
    """Yield the allergens, and the cautions that a product calls for."""
    yield from facts.allergens_in_short(allergens)
    yield from items(care.briefly(cautions[GENERAL:], CAUTIONS))
    yield Item(DECIDES)


def _next() -> Block:
    return Paragraph(
        "Next: --full tells everything, `optimiser why` what each price decides,"
        " `optimiser pour` how to pour it."
    )


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
        *section("", [Paragraph(f"Aim: {aims}."), *_at_a_glance(answer)]),
        *section("Formula", _whole_formula(answer)),
        *section("", law(answer.basis)),
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
        *section("Left out", facts.left_out(answer.left_out)),
        *section("Notes", items(said)),
        *section("Cautions", [Numbered(answer.cautions)] if answer.cautions else []),
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
