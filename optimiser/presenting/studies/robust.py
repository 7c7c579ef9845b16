"""Robustness as text, JSON and CSV: how often in spec, and what bearing more costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import Column, item, paragraph, table, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.studies.common import (
    about,
    about_data,
    as_csv,
    closing,
    facts_table,
    formulas_table,
    made_data,
    told_data,
)
from optimiser.presenting.words import BARE, cents, clean, decimals, money, short

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.studies.robust import Budgeted, Robust, RuleKept, Simulated

__all__ = ["COLUMNS", "robust_csv", "robust_data", "robust_report"]

NOT_BY_COST = (
    "A premium below nothing: the plain formula does not aim at cost first, so that one"
    " that bears more can be cheaper."
)
COLUMNS = ("budget", "in_spec", "rule", "sentence", "kept", "p5", "p50", "p95")


def robust_report(found: Robust, columns: int | None = None) -> str:
    """Return the report on robustness as text."""
    wide = columns or width()
    top = about(found.about)
    lines = top_lines(f"{found.about.title}: how sure it is", top, wide)
    lines += paragraph(_doubts(found), wide)
    if found.stopped:
        lines += paragraph("Stopped early: what was done until then is below.", wide)
    lines += section("How often it stays in spec", _kept(found, wide))
    lines += section("What it may cost", _cost(found, wide))
    lines += section("Formulas that bear more", _budgets(found, wide))
    formulas = [found.plain, *(b.formula for b in found.budgets if b.formula)]
    lines += section("Formulas side by side", formulas_table(formulas, wide))
    lines += section(
        "What each is like", facts_table(formulas, found.about.currency, wide)
    )
    proof = (
        "Each formula was proved: every rule recomputed, none serves its aim better,"
        " and the worst its figures can do together was worked out again. How often is"
        f" counted over {found.simulated.draws} draws (seed {found.seed}), so it is off"
        f" by about {_off(found.simulated)} points."
    )
    lines += closing(found.told, proof, wide)
    return "\n".join(lines) + "\n"


def _off(simulated: Simulated) -> str:
    """Return two standard errors of a share, in points, at their widest."""
    return short(100.0 / max(1, simulated.draws) ** 0.5, 2)


def _doubts(found: Robust) -> str:
    doubt = found.doubt
    parts = [f"each price may move by {short(doubt.prices_percent)} % on its own"]
    if doubt.weighing_kg > 0:
        parts.append(
            f"each weighing is off by up to {short(doubt.weighing_kg * 1e3)} g"
        )
    if doubt.figures:
        parts.append("figures lie between low and high, most often near typical")
    return f"In doubt: {'; '.join(parts)}."


def _percent(share: float) -> str:
    """Return a share of draws; all but certain is not called certain.

    >>> _percent(0.99999), _percent(0.5)
    ('over 99.9', '50.0')
    """
    if 0.9995 <= share < 1.0:
        return "over 99.9"
    return f"{100 * share:.1f}"


def _kept(found: Robust, columns: int) -> list[str]:
    simulated = found.simulated
    text = f"Every rule is kept in {_percent(simulated.kept)} % of the draws."
    lines = item(text, columns)
    rows = [each for each in simulated.rules if each.share < 1.0]
    rows.sort(key=lambda each: each.share)
    if not rows:
        return lines
    lines += [
        "",
        *table(
            [
                Column("rule", [clean(r.rule.sentence) for r in rows], False, 24),
                Column("kept, %", [_percent(row.share) for row in rows]),
                Column("5 %", [_value(row, row.low) for row in rows]),
                Column("half", [_value(row, row.middle) for row in rows]),
                Column("95 %", [_value(row, row.high) for row in rows]),
            ],
            columns,
        ),
    ]
    told = "In 5 %, half and 95 % of the draws the value is below that."
    lines += item(told, columns)
    sure = len(simulated.rules) - len(rows)
    if sure:
        lines += item(f"{sure} more rules were kept every time.", columns)
    return lines


def _value(row: RuleKept, value: float) -> str:
    """Return a value of a rule, all of one rule with as many decimals."""
    if row.rule.unit in {"%", "points", *BARE} and abs(row.rule.limit) >= 1:
        return decimals(value, 1)
    return short(value, 3)


def _cost(found: Robust, columns: int) -> list[str]:
    cost = found.simulated.cost
    if cost is None:
        return item("Not known: some price is missing.", columns)
    mean, spread, low, middle, high = (money(each) for each in cost)
    text = (
        f"Materials: {mean} {found.about.currency} per kg on average, give or take"
        f" {spread}; half of the time up to {middle}, one time in twenty below {low},"
        f" one time in twenty above {high}."
    )
    return item(text, columns)


def _budgets(found: Robust, columns: int) -> list[str]:
    if not found.budgets:
        return []
    rows = found.budgets
    shown = [
        Column("at their worst at once", [short(row.budget) for row in rows]),
        Column(f"{found.about.currency}/kg", [_price(row) for row in rows]),
        Column("premium", [_premium(row, found) for row in rows]),
        Column("in spec, %", [_share(row) for row in rows]),
    ]
    lines = table(shown, columns)
    said = (
        "Each formula keeps every rule while so many of the figures in it are at their"
        " worst at once, whichever they are; a fraction is one that moves part of the"
        " way. The premium is at the usual prices."
    )
    lines += item(said, columns)
    if any(row.premium is not None and row.premium < -0.005 for row in rows):
        lines += item(NOT_BY_COST, columns)
    if found.stopped:
        return lines
    if found.most is None:
        return lines + item("All of them at once can be borne.", columns)
    text = f"No formula bears more than about {short(found.most, 2)} at once."
    return lines + item(text, columns)


def _price(row: Budgeted) -> str:
    if row.formula is None:
        return "none"
    cost = row.formula.cost_per_kg
    return "not known" if cost is None else money(cost)


def _premium(row: Budgeted, found: Robust) -> str:
    """Return what a formula costs beside the plain one, from the figures shown."""
    cost = None if row.formula is None else row.formula.cost_per_kg
    plain = found.plain.cost_per_kg
    if row.premium is None or cost is None or plain is None:
        return ""
    return f"{(cents(cost) - cents(plain)) / 100:+z.2f}"


def _share(row: Budgeted) -> str:
    return "" if row.simulated is None else _percent(row.simulated.kept)


def robust_data(found: Robust) -> dict[str, Any]:
    """Return robustness as data."""
    return {
        "status": "answered",
        **about_data(found.about),
        "doubt": found.doubt,
        "seed": found.seed,
        "plain": {**made_data(found.plain), **_simulated(found.simulated)},
        "budgets": [
            {
                "budget": row.budget,
                "premium": row.premium,
                "formula": None if row.formula is None else made_data(row.formula),
                **({} if row.simulated is None else _simulated(row.simulated)),
            }
            for row in found.budgets
        ],
        "largest_budget": found.most,
        "stopped": found.stopped,
        **told_data(found.told),
    }


def _simulated(of: Simulated) -> dict[str, Any]:
    names = ("mean", "spread", "p5", "p50", "p95")
    return {
        "draws": of.draws,
        "in_spec": of.kept,
        "cost": None if of.cost is None else dict(zip(names, of.cost, strict=True)),
        "rules": [
            {
                "id": each.rule.id,
                "sentence": each.rule.sentence,
                "kept": each.share,
                "p5": each.low,
                "p50": each.middle,
                "p95": each.high,
            }
            for each in of.rules
        ],
    }


def robust_csv(found: Robust) -> str:
    """Return every rule of every formula as CSV: how often kept, and its spread."""
    all_of: Sequence[tuple[float, Simulated | None]] = [
        (0.0, found.simulated),
        *((row.budget, row.simulated) for row in found.budgets),
    ]
    rows = [
        (
            budget,
            simulated.kept,
            each.rule.id,
            each.rule.sentence,
            each.share,
            each.low,
            each.middle,
            each.high,
        )
        for budget, simulated in all_of
        if simulated is not None
        for each in simulated.rules
    ]
    return as_csv(COLUMNS, rows)
