"""What goes with a formula: properties, allergens, label names, cautions, proof."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.layout import Column, item, table
from optimiser.presenting.words import (
    allergen_words,
    clean,
    decimals,
    keys,
    listed,
    money,
    plural,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import (
        LabelName,
        LeftOut,
        Proof,
        PropertyLine,
        Unused,
    )
    from optimiser.explaining.ties import Tie

__all__ = [
    "DOUBT",
    "allergen_lines",
    "checked_lines",
    "label_lines",
    "left_out_lines",
    "proof_line",
    "property_lines",
    "tie_line",
    "unused_lines",
]

DOUBT = "Model says; make 100 g and test."
# Whose rules are, for one and for several.
_OWNERS = {
    "wish": ("yours", "yours"),
    "law": ("by law", "by law"),
    "safety": ("for safety", "for safety"),
    "supplier": ("supplier's limit", "suppliers' limits"),
    "practice": ("of common practice", "of common practice"),
    "assessor": ("your assessor's", "your assessor's"),
    "model": ("limit of the model", "limits of the model"),
}
_BETTER = {
    "cost": "is cheaper",
    "change": "is closer to the base",
    "kind change": "is closer to the base by kind",
    "category change": "is closer to the base by category",
    "count": "has fewer ingredients",
    "bought": "leaves less to buy",
}


def property_lines(lines: Sequence[PropertyLine], columns: int) -> list[str]:
    """Return properties with their spread, and what is not known."""
    if not lines:
        return []
    known = [each for each in lines if each.value is not None]
    text: list[str] = []
    if known:
        text += table(
            [
                Column("", [_property(each) for each in known], number=False, least=20),
                Column("low", [_figure(each.low) for each in known]),
                Column("typical", [_figure(each.value) for each in known]),
                Column("high", [_figure(each.high) for each in known]),
                Column(
                    "",
                    [unit_words(each.unit, "") for each in known],
                    number=False,
                    least=4,
                ),
                *_second(known),
            ],
            columns,
        )
        text += item(DOUBT, columns)
    for each in lines:
        if each.value is None:
            lacking = f" for {listed(each.missing, 5)}" if each.missing else ""
            text += item(f"{_property(each)}: not known, no figure{lacking}.", columns)
        elif each.missing:
            text += item(
                f"{_property(each)}: without {listed(each.missing, 5)}.", columns
            )
    return text


def _second(lines: Sequence[PropertyLine]) -> list[Column]:
    """Return the column of second figures, with their doubt, where there are some."""
    told = [
        ""
        if each.second is None or each.doubt is None
        else f"{decimals(each.second, 0)} +-{decimals(each.doubt, 0)}"
        for each in lines
    ]
    return [Column("2nd opinion", told, number=False)] if any(told) else []


def _property(line: PropertyLine) -> str:
    at = "" if line.at is None else f" at {short(line.at)} °C"
    over = "" if line.over == "product" else f", {line.over}"
    return f"{line.property}{at}{over}"


def _figure(value: float | None) -> str:
    return "" if value is None else short(value, figures=3)


def unused_lines(
    lines: Sequence[Unused],
    currency: str,
    columns: int,
    most: int = 8,
    *,
    choices_kept: bool = False,
) -> list[str]:
    """Return the unused ingredients nearest to coming in, nearest first."""
    priced = [(each, below) for each in lines if (below := _enters(each)) is not None]
    priced.sort(key=lambda pair: _drop(*pair))
    text: list[str] = []
    if choices_kept and lines:
        told = "With the other chosen ingredients kept; `optimiser why` chooses anew."
        text += item(told, columns)
    for each, below in priced[:most]:
        now = each.price_per_kg
        if now is None:
            told = f"would come in below {money(below)} {currency}/kg (no price known)"
        elif now - below < 0.005:
            told = f"at {money(now)} {currency}/kg it could come in at no extra cost"
        else:
            told = (
                f"would come in below {money(below)} {currency}/kg (now {money(now)})"
            )
        text += item(f"{each.name}: {told}", columns)
    if len(priced) > most:
        text += item(f"and {len(priced) - most} more, further from it", columns)
    never = [each.name for each in lines if _enters(each) is None]
    if never:
        text += item(f"no price would bring in: {listed(never, most)}", columns)
    return text


def _enters(line: Unused) -> float | None:
    """Return the price below which it comes in, if some price would do."""
    below = line.enters_below
    return below if below is not None and 0 < below < math.inf else None


def _drop(line: Unused, below: float) -> float:
    now = line.price_per_kg
    return math.inf if now is None or now <= 0 else (now - below) / now


def allergen_lines(lines: Sequence[tuple[str, str]], columns: int) -> list[str]:
    """Return the allergens that are present, with what brings them."""
    text: list[str] = []
    for allergen, what in lines:
        told = f"{allergen}: {allergen_words(what)}" if what else allergen
        text += item(told, columns)
    return text


def label_lines(lines: Sequence[LabelName], columns: int) -> list[str]:
    """Return the scent allergens that a label names, by market."""
    text: list[str] = []
    for each in lines:
        text += item(
            f"{each.name} ({each.market}): up to {short(each.percent)} %, named from "
            f"{short(each.threshold)} %; from {listed(each.from_ingredients)}",
            columns,
        )
    return text


def left_out_lines(lines: Sequence[LeftOut], columns: int) -> list[str]:
    """Return what could not be considered, those left out for one reason together."""
    reasons: dict[str, list[str]] = {}
    for each in lines:
        reasons.setdefault(each.why, []).append(each.name)
    text: list[str] = []
    for why, names in reasons.items():
        text += item(f"{why}: {listed(names, 12)}", columns)
    return text


def checked_lines(
    rules: Sequence[Rule],
    sources: Mapping[str, Source],
    columns: int,
) -> list[str]:
    """Return which rules were checked, and the editions of law they come from."""
    owners = Counter(rule.owner for rule in rules if rule.owner != "arithmetic")
    parts = [
        plural(count, *_OWNERS.get(owner, (owner, owner)))
        for owner, count in owners.items()
    ]
    told = "There was no rule to check."
    if parts:
        told = f"{plural(sum(owners.values()), 'rule')} checked: {', '.join(parts)}."
    text = item(told, columns)
    law = [rule for rule in rules if rule.owner == "law"]
    for key in dict.fromkeys(key for rule in law for key in keys(rule.source)):
        text += item(f"edition: {_edition(key, sources)}", columns, depth=2)
    return text


def _edition(key: str, sources: Mapping[str, Source]) -> str:
    source = sources.get(key)
    if source is None:
        return key
    return source.reference + (f" (read {source.read})" if source.read else "")


NEAR_THIS = (
    "The second opinion counts there as the straight rules that it is near this"
    " formula: the best found from several starts; one further away may be better."
)


def proof_line(proof: Proof, aim: str | None, *, held: bool = False) -> str:
    """Return in plain words how far the answer was proved.

    ``held`` says that the second opinion had to be held, by straight rules.

    >>> from optimiser.explaining.answer import Proof
    >>> proof_line(Proof(0.0, 0.0), "cost").split(", ")[1]
    'and no formula that keeps them is cheaper by more than 0.00001 %.'
    """
    miss = proof.worst_violation
    told = "0" if abs(miss) < 1e-9 else short(miss)
    percent = max(proof.gap * 100, 1e-5)
    within = f"{math.ceil(percent * 1e5 - 1e-6) / 1e5:.5f}".rstrip("0")
    better = _BETTER.get(aim or "cost", "is better")
    among = "" if proof.by == "duality" else " among all choices of ingredients"
    line = (
        f"Checked twice: every rule was recomputed from the catalogues (worst miss "
        f"{told}), and{among} no formula that keeps them {better} by more than "
        f"{within} %."
    )
    return f"{line} {NEAR_THIS}" if held else line


def tie_line(tie: Tie, currency: str) -> str:
    """Return another formula that does as well, or nearly, and how it differs."""
    moves = listed(
        f"{clean(name)} {short(here, 3)} -> {short(there, 3)} %"
        for _, name, here, there in tie.amounts[:6]
    )
    value = (
        f"{money(tie.value)} {currency}/kg" if tie.aim == "cost" else short(tie.value)
    )
    close = "just as good" if tie.within == 0 else f"within {short(100 * tie.within)} %"
    return f"One {decimals(tie.distance, 1)} points away is {close} ({value}): {moves}."
