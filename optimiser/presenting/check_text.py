"""The report on a formula held against a scenario's rules: the verdict first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import facts_text, formula_text, opinion_text, rules_text
from optimiser.presenting.layout import item, numbered, paragraph, width
from optimiser.presenting.notes import notes
from optimiser.presenting.report import section
from optimiser.presenting.words import listed, plural, short

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import Checked, RuleLine

__all__ = ["broken", "check_report", "counted", "verdict"]


def counted(lines: Sequence[RuleLine]) -> list[RuleLine]:
    """Return the rules that are counted: all but those of arithmetic."""
    return [each for each in lines if each.rule.owner != "arithmetic"]


def broken(lines: Sequence[RuleLine], tolerance: float = 1e-6) -> list[RuleLine]:
    """Return the rules that are broken, by more than rounding of their limit."""
    return [
        each
        for each in lines
        if each.slack is not None
        and each.slack < -tolerance * max(1.0, abs(each.rule.limit))
    ]


def verdict(checked: Checked) -> str:
    """Return the outcome in one line."""
    count = len(broken(checked.lines))
    unknown = len(checked.missing)
    rules = counted(checked.lines)
    if count:
        told = f"breaks {plural(count, 'rule')} of {len(rules)}"
    elif unknown:
        judged = sum(each.slack is not None for each in rules)
        told = f"keeps every rule that could be judged ({judged} of {len(rules)})"
    else:
        told = f"keeps every rule ({len(rules)})"
    opinion = checked.second_opinion
    fails = [] if opinion is None else [x for x in opinion.lines if x.holds is False]
    if fails and not count:
        told += (
            f" by straight sums; by the second opinion {plural(len(fails), 'window')}"
            f" {'does' if len(fails) == 1 else 'do'} not hold"
        )
    if unknown:
        told += f"; {plural(unknown, 'question')} could not be judged"
    return f"{checked.title}: {told}"


def check_report(
    checked: Checked,
    columns: int | None = None,
    sources: Mapping[str, Source] | None = None,
) -> str:
    """Return the report on a checked formula as text.

    Parameters
    ----------
    checked : Checked
        What came of checking.
    columns : int, optional
        Width to fit; by default the terminal's, at most 120.
    sources : mapping of key to Source, optional
        Where rules were read; with it editions of law are told in full.
    """
    wide = columns or width()
    told = (*checked.told, *notes(checked.basis, [("", checked.properties)]))
    kept = [line for line in checked.lines if line not in broken(checked.lines)]
    lines = paragraph(verdict(checked) + ".", wide)
    sold = (
        f"sold in {listed(checked.markets)}" if checked.markets else "no market named"
    )
    held = checked.file or "limits of law, suppliers and practice alone"
    about = [held, checked.use, sold, f"batch {short(checked.batch_kg)} kg"]
    lines += paragraph("; ".join(about), wide)
    for law in checked.basis.law:
        if law.kept is None:
            nothing = "law NOT checked, for the catalogue holds no limit of it."
            lines += paragraph(f"{law.market}: {nothing}", wide)
    lines += section("Broken", _broken(checked, wide))
    lines += section("Could not be judged", _items(checked.missing, wide))
    lines += section("At the limit", _at_the_limit(kept, wide))
    lines += section("Nearly at the limit", rules_text.near_lines(kept, wide))
    lines += section("Formula", _formula(checked, wide))
    lines += section("Properties", facts_text.property_lines(checked.properties, wide))
    said = opinion_text.opinion_lines(checked.second_opinion, (), wide)
    lines += section("Second opinion", said)
    lines += section(
        "Allergens present or to ask about",
        facts_text.allergen_lines(checked.allergens, wide),
    )
    lines += section(
        "Names a label must carry", facts_text.label_lines(checked.label_names, wide)
    )
    lines += section("Notes", _items(told, wide))
    lines += section("Cautions", numbered(checked.cautions, wide))
    rules = [line.rule for line in counted(checked.lines)]
    lines += section(
        "What was checked", facts_text.checked_lines(rules, sources or {}, wide)
    )
    return "\n".join(lines) + "\n"


def _items(texts: Sequence[str], columns: int) -> list[str]:
    return [line for text in texts for line in item(text, columns)]


def _broken(checked: Checked, columns: int) -> list[str]:
    lines: list[str] = []
    for each in broken(checked.lines):
        if each.slack is None or each.value is None:
            continue
        unit = each.rule.unit
        now = rules_text.with_unit(each.value, unit)
        by = rules_text.with_unit(-each.slack, "points" if unit == "%" else unit)
        lines += item(rules_text.sentence(each.rule), columns)
        lines += paragraph(f"now {now}, out by {by}", columns, "      ", "      ")
        lines += paragraph(rules_text.origin(each.rule), columns, "      ", "        ")
    return lines


def _at_the_limit(lines: Sequence[RuleLine], columns: int) -> list[str]:
    told = [
        each.rule.sentence
        for each in counted(lines)
        if each.binding and each.rule.limit
    ]
    return _items(told, columns)


def _formula(checked: Checked, columns: int) -> list[str]:
    lines = formula_text.formula_lines(checked.formula, checked.currency, columns)
    lines += formula_text.cost_lines(
        checked.cost_per_kg,
        None,
        checked.formula,
        checked.currency,
        checked.batch_kg,
        columns,
    )
    return lines + formula_text.change_lines(checked.change, checked.formula, columns)
