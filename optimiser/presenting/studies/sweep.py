"""The page on a sweep: a case a line, with what varies and what that changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.notes import law_in_short, prices_told
from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    section,
    words,
)
from optimiser.presenting.studies.tables import label_cell
from optimiser.presenting.words import decimals, listed, money, plural

if TYPE_CHECKING:
    from optimiser.studies.sweep import Case, Sweep

__all__ = ["summary", "sweep_page"]

MOST_CASES = 12  # on a short page
MOVED = 0.5  # percent: a smaller move is not told
HELD = (
    "In {lined} of {scenarios} solid fat and firmness are held to the second opinion in"
    " one simple way for all prices: at some of them a somewhat cheaper formula may"
    " have been passed over."
)
BY_SUMS = "Windows on solid fat and firmness are held by straight sums."


def sweep_page(found: Sweep, *, full: bool = False) -> Page:
    """Return the page on a sweep; --to writes every figure of it."""
    cases = found.cases if full else found.cases[:MOST_CASES]
    blocks: list[Block] = [_table(found, cases)] if cases else []
    left = len(found.cases) - len(cases)
    more = f"{plural(left, 'more case')}: --full. " if left else ""
    blocks.append(Item(f"{more}Every figure of every case: --to cases.csv."))
    sections = [Section("", (Paragraph(counted(found)), *law_in_short(found.law)))]
    sections += section("Cases", blocks)
    sections += section("", [Paragraph(text) for text in _melting(found)])
    about = (
        plural(found.asked, "case"),
        *prices_told(found.invented, found.invented_of),
    )
    return Page("Sweep", about, tuple(sections))


def counted(found: Sweep) -> str:
    """Return how many cases were answered, and what they cost."""
    good = [case for case in found.cases if case.status == "answered"]
    clashes = sum(case.status == "clash" for case in found.cases)
    text = f"{len(good)} of {plural(found.asked, 'case')} answered"
    if clashes:
        text += f", {clashes} with rules that clash"
    other = len(found.cases) - len(good) - clashes
    if other:
        text += f", {other} that lack something"
    if found.stopped:
        text += f"; stopped after {len(found.cases)}"
    if found.lost:
        text += f"; {plural(found.lost, 'case')} of lost workers solved here"
    costs = [case.cost_per_kg for case in good if case.cost_per_kg is not None]
    if costs:
        text += f"; {money(min(costs))} to {money(max(costs))} {found.currency}/kg"
    return text + "."


def _melting(found: Sweep) -> list[str]:
    if not found.melting:
        return []
    if not found.lined:
        return [BY_SUMS]
    scenarios = plural(found.melting, "scenario")
    return [HELD.format(lined=found.lined, scenarios=scenarios)]


def summary(found: Sweep) -> str:
    """Return what came of a sweep in one line."""
    return " ".join([counted(found), *_melting(found)])


def _table(found: Sweep, cases: Sequence[Case]) -> Table:
    numbered = {id(case): n for n, case in enumerate(found.cases, start=1)}
    columns = [
        TableColumn("case", tuple(str(numbered[id(case)]) for case in cases)),
        *_labels(found, cases),
        TableColumn(f"{found.currency}/kg", tuple(_cost(case) for case in cases)),
    ]
    if any(case.change is not None for case in cases):
        changes = [
            Number(c.change, "" if c.change is None else decimals(c.change, 1))
            for c in cases
        ]
        columns.append(TableColumn("% off the base", tuple(changes)))
    columns.append(words("what changes", list(_changes(found, cases)), 18))
    return Table(tuple(columns))


def _labels(found: Sweep, cases: Sequence[Case]) -> Iterator[TableColumn]:
    """Return a column for each thing that varies."""
    for name in dict.fromkeys(n for case in found.cases for n in case.labels):
        told = [_text(case.labels.get(name)) for case in found.cases]
        if len(set(told)) > 1:
            shown = [_text(case.labels.get(name)) for case in cases]
            shown = [each.removesuffix(".toml") for each in shown]
            numeric = all(_is_number(case.labels.get(name)) for case in cases)
            head = " ".join(name.split("."))
            yield TableColumn(head, tuple(shown), words=not numeric, least=16)


def _text(label: object) -> str:
    cell = label_cell(label)
    return "" if cell is None else f"{cell:g}" if _is_number(cell) else str(cell)


def _is_number(label: object) -> bool:
    return isinstance(label, int | float) and not isinstance(label, bool)


def _cost(case: Case) -> Number:
    cost = case.cost_per_kg
    if cost is not None:
        return Number(cost, money(cost))
    return Number(None, "not known" if case.status == "answered" else "none")


def _changes(found: Sweep, cases: Sequence[Case]) -> Iterator[str]:
    """Return what is different from the answer before it to the same scenario."""
    last: dict[str, Case] = {}
    for case in cases:
        if case.status == "clash":
            yield "the rules clash"
            continue
        if case.status != "answered":
            yield case.status
            continue
        scenario = _text(case.labels.get("scenario"))
        before = last.get(scenario)
        yield "" if before is None else _unlike(before, case, found)
        last[scenario] = case


def _unlike(before: Case, case: Case, found: Sweep) -> str:
    came = [found.names[k] for k in case.amounts if k not in before.amounts]
    left = [found.names[k] for k in before.amounts if k not in case.amounts]
    parts = [f"in: {listed(came, 2)}"] if came else []
    parts += [f"out: {listed(left, 2)}"] if left else []
    if parts:
        return "; ".join(parts)
    moves = {key: case.amounts[key] - before.amounts[key] for key in case.amounts}
    moved = sorted(
        (key for key in moves if abs(moves[key]) >= MOVED),
        key=lambda key: -abs(moves[key]),
    )
    told = [f"{found.names[key]} {moves[key]:+.1f}" for key in moved]
    return listed(told, 2) if told else "the same"
