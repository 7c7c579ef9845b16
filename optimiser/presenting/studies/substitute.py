"""The page on a substitute: the base, and what takes its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.domain.scenario import CHANGES
from optimiser.presenting import care, facts
from optimiser.presenting.following import begin_command, following
from optimiser.presenting.formula import by_category, cost_told, formula_table
from optimiser.presenting.notes import notes as answer_notes
from optimiser.presenting.page import (
    Block,
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
from optimiser.presenting.rules import origin, sentence
from optimiser.presenting.studies.blocks import (
    care_and_rest,
    facts_blocks,
    law_first,
    money_column,
)
from optimiser.presenting.studies.words import (
    about,
    different,
    given_up_words,
    substitute_notes,
)
from optimiser.presenting.words import (
    NEW,
    cents,
    decimals,
    listed,
    money,
    plural,
    short,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.explaining.answer import PropertyLine, RuleLine
    from optimiser.studies.substitute import Move, RunnerUp, Substitution

__all__ = ["substitute_page"]

MOST_HELD = 3
MOST_UNPRICED = 6  # names of what lacks a price


def substitute_page(
    found: Substitution, *, full: bool = False, begins: str = ""
) -> Page:
    """Return the page on a substitute.

    ``begins`` is the command that begins from FILE, in which the formula is kept.
    """
    answer, of = found.answer, found.about
    begins = begins or begin_command(".", "FILE", use=of.use, markets=of.markets)
    table = formula_table(found.formula.formula, found.about.currency, full=full)
    sections = [
        Section("", (Paragraph(_answer(found)), *_beside(found, full=full))),
        Section("Formula next to the base", (table,)),
    ]
    if full:
        blocks = (table, Item(by_category(found.formula.formula)))
        sections[1] = Section("Formula next to the base", blocks)
        sections += section("What moved where", _moved(found))
    sections += section("Why", _why(found, full=full))
    if full:
        both = facts_blocks([found.base, found.formula], found.about.currency)
        sections += section("Side by side", both)
    sections += section("Next closest", [*_runners_up(found), *_unpriced(found)])
    if not full:
        sections += section("Allergens that come in with it", _new_allergens(found))
        rest = ("what each is like", "the order on the label", "all allergens")
        brought = care.allergens(answer.allergens, answer.markets)
        sections += care_and_rest(answer.cautions, rest, brought)
        sections += following("substitute", found.about.file, begins)
    else:
        sections += section("Label order", _labels(found))
        sections += section(
            "Allergens present or to ask about", facts.allergens(answer.allergens)
        )
        sections += section("Left out", facts.left_out(found.left_out))
        said = answer_notes(answer.basis, [("", answer.properties)])
        sections += care.notes(said, full=True)
        sections += care.cautions(answer.cautions, full=True)
        sections += section("What was checked", _checked(found))
    title = f"{found.about.title}: without {listed(found.out)}"
    basis = answer.basis
    return Page(title, about(found.about, basis), law_first(basis, sections))


def _answer(found: Substitution) -> str:
    """Return what moved, how much of the formula that is, and what it costs."""
    by_category = (
        "every category keeps its share"
        if not found.category_moves
        else f"{different(found.apart_by_category)} by category"
    )
    return (
        f"{_flow(found.moves)}: {different(found.apart)} of the formula is different"
        f" from {found.base_from}; {by_category}.{_cost_moved(found)}"
    )


def _beside(found: Substitution, *, full: bool) -> tuple[Item, ...]:
    """Return why something went of which that does not show, and what stayed unseen."""
    gone = found.answer.kept_out
    out = care.kept_out(each for each in gone if full or each.lacking)
    return (*out, *items((*_passed_over(found), *_not_let_in(found))))


def _passed_over(found: Substitution) -> list[str]:
    """Return how much was not looked at, where the scenario leaves that open."""
    if not found.passed_over:
        return []
    left = plural(found.passed_over, "ingredient")
    return [
        f"Only what is like the base was looked at; {left} unlike it"
        f" {'was' if found.passed_over == 1 else 'were'} not: --with NAME lets one in."
    ]


def _not_let_in(found: Substitution) -> list[str]:
    """Return what is kept out with an allergen, though no list names it."""
    near = [x.rule for x in found.answer.rules if x.rule.kind == "near"]
    return [
        f"{rule.sentence[:1].upper()}{rule.sentence[1:]}, was let in: --with NAME does."
        for rule in near
        if rule.keeps_out and rule.amounts.columns.size
    ]


def _cost_moved(found: Substitution) -> str:
    was, now = found.base.cost_per_kg, found.formula.cost_per_kg
    if now is None:
        return f" {cost_told(None, None, found.formula.formula, found.about.currency)}"
    if was is None:
        return ""
    by = (cents(now) - cents(was)) / 100
    if not by:
        return " Materials cost the same as the base."
    return (
        f" Materials cost {money(now)} {found.about.currency} per kg,"
        f" {money(abs(by))} {'more' if by > 0 else 'less'} than the base;"
        f" {money(abs(by) * found.about.batch_kg)} for the batch."
    )


def _moved(found: Substitution) -> tuple[Item, ...]:
    told = [f"By ingredient: {_flow(found.moves)}."]
    if found.category_moves:
        told.append(f"By category: {_flow(found.category_moves)}.")
    else:
        told.append("By category: nothing; every category keeps its share.")
    return items(told)


def _flow(moves: Sequence[Move]) -> str:
    """Return what was lost and what gained it.

    >>> from optimiser.studies.substitute import Move
    >>> _flow([Move("almond oil", "liquid oil", -5.0), Move("shea", "x", 5.0)])
    '5.0 % almond oil went to shea'
    """
    lost = [move for move in moves if move.points < 0]
    gained = [move for move in moves if move.points > 0]
    if not lost:
        return "nothing moved"
    left = listed(f"{different(-move.points)} {move.what}" for move in lost)
    if len(gained) == 1:
        return f"{left} went to {gained[0].what}"
    shares = listed(f"{move.what} (+{decimals(move.points, 1)})" for move in gained)
    return f"{left} went to {shares}"


def _why(found: Substitution, *, full: bool) -> list[Item]:
    told = [
        Item(f"'{given_up_words(each)}' went with it, for it could not be kept.")
        for each in found.given_up
    ]
    for line in found.held if full else found.held[:MOST_HELD]:
        text = f"{sentence(line.rule)}: {_without(line, found)}."
        told.append(Item(text, (origin(line.rule),) if full else ()))
    if full and found.moves and not any(_aim(x) != "cost" for x in found.held):
        told.append(
            Item(
                "No rule makes the change larger than what had to go; among formulas"
                " as close, the cheapest is taken."
            )
        )
    notes = substitute_notes(found)
    return [*told, *items([f"{note[:1].upper()}{note[1:]}." for note in notes])]


def _aim(line: RuleLine) -> str:
    return "" if line.ease is None else line.ease.of


def _without(line: RuleLine, found: Substitution) -> str:
    """Return what more room in a rule would do."""
    gain = 0.0 if line.ease is None else -line.ease.price
    unit = {"points": "point", "": "unit"}.get(line.rule.unit, line.rule.unit)
    if _aim(line) == "cost":
        better = f"{money(gain)} {found.about.currency}/kg cheaper"
    else:
        by = CHANGES[_aim(line)]
        by = "" if by == "ingredient" else f" by {by}"
        better = f"{short(gain, 3)} % closer to the base{by}"
    return f"with more room it would be {better} for each {unit}"


def _labels(found: Substitution) -> tuple[Item, ...]:
    was, now = found.base.label_order, found.formula.label_order
    both = [name for name in was if name in now]
    kept = both == [name for name in now if name in was]
    told = "keep their order" if kept else "change their order"
    return items(
        [
            f"base: {', '.join(was)}",
            f"now: {', '.join(now)}",
            f"The ingredients that stay {told}.",
        ]
    )


def _runners_up(found: Substitution) -> list[Block]:
    rows = found.runners_up
    if not rows:
        return [Item(f"None{_why_none(found)}.")]
    columns = [
        words("comes in instead", [_instead(row) for row in rows], 16),
        numbers("% different", [row.apart for row in rows], _tenth),
        numbers("by kind", [row.apart_by_kind for row in rows], _tenth),
        numbers("by category", [row.apart_by_category for row in rows], _tenth),
        money_column(
            f"{found.about.currency}/kg",
            [row.formula.cost_per_kg for row in rows],
            "not known",
        ),
    ]
    firm = [_firmness(row.formula.properties) for row in rows]
    if None not in firm:
        columns.append(numbers("firmness", firm, lambda value: short(value, 3)))
    table = Table(tuple(columns))
    said = "Each is the closest once what came in above it is out as well"
    if any(row.brings for row in rows):
        said += "; what brings in an allergen that your base has not comes last"
    return [table, Item(f"{said}.")]


def _why_none(found: Substitution) -> str:
    """Return why nothing is next, as what stands behind "None"."""
    if found.nothing_out:
        return ": nothing had to go"
    if found.untried:
        return " that keeps every rule: nothing else takes its place"
    if found.unpriced:
        return ": nothing else of its category has a price"
    return ": nothing else of its category may be chosen"


def _unpriced(found: Substitution) -> tuple[Item, ...]:
    """Return what is like what left and has no price, and how to let it in."""
    if not found.unpriced:
        return ()
    return items(
        [
            f"Left out for want of a price: {listed(found.unpriced, MOST_UNPRICED)};"
            " add a row to prices.csv for what you can buy."
        ]
    )


def _instead(row: RunnerUp) -> str:
    """Return what comes in, and the allergens that are new with it."""
    new = f" ({NEW}: {listed(row.brings)})" if row.brings else ""
    return f"{listed(row.names, 4)}{new}"


def _tenth(value: float) -> str:
    return decimals(value, 1)


def _firmness(lines: Sequence[PropertyLine]) -> float | None:
    for line in lines:
        if line.property == "firmness":
            return line.value
    return None


def _new_allergens(found: Substitution) -> tuple[Item, ...]:
    """Return the allergens that the base did not bring."""
    before = {(each.allergen, each.name) for each in found.base.allergens}
    came = [
        each
        for each in found.answer.allergens
        if (each.allergen, each.name) not in before
    ]
    return tuple(facts.allergens(came))


def _checked(found: Substitution) -> tuple[Item, ...]:
    answer = found.answer
    rules = [line.rule for line in answer.rules]
    aim = answer.aims[0][0] if answer.aims else None
    proof = facts.proof_told(answer.proof, aim, held=found.formula.held)
    return (*facts.checked(rules, {}), Item(proof))
