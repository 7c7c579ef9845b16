"""Results as plain data for JSON: the keys are stable, numbers keep ten figures."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import asdict

from optimiser.domain.material import Origin
from optimiser.errors import Phrase, Problem
from optimiser.presenting.care import care_data
from optimiser.presenting.clash import cause_told
from optimiser.presenting.facts import allergen_words
from optimiser.presenting.notes import notes
from optimiser.presenting.opinion import opinion_data
from optimiser.presenting.words import exactly

if TYPE_CHECKING:
    from optimiser.domain.law import Duty
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import (
        AllergenLine,
        Answer,
        Checked,
        Clash,
        Price,
        PropertyLine,
        RuleLine,
        StepsTaken,
    )
    from optimiser.explaining.basis import LawLine
    from optimiser.explaining.ties import Tie

__all__ = [
    "answer_data",
    "as_json",
    "checked_data",
    "clash_data",
    "law_data",
    "plain",
    "problems_data",
    "properties_data",
    "rule_data",
    "tie_data",
]

Data = dict[str, Any]


def as_json(data: Mapping[str, Any]) -> str:
    """Return data as JSON text, in ASCII so that any terminal and pipe keeps it."""
    return json.dumps(plain(data), indent=2, allow_nan=False) + "\n"


def plain(value: object) -> Any:  # noqa: ANN401 - whatever JSON can hold
    """Return a value as JSON holds it: numbers to ten figures, none without end."""
    if isinstance(value, bool | str | int) or value is None:
        return value
    if isinstance(value, float):
        return exactly(value)
    if isinstance(value, Struct) and not isinstance(value, Origin):
        value = asdict(value)
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, Iterable):
        return [plain(each) for each in value]
    return str(value)


def answer_data(answer: Answer) -> Data:
    """Return an answer as data."""
    return {
        "status": answer.status,
        "title": answer.title,
        "scenario": answer.file,
        "use": answer.use,
        "market": answer.markets,
        "currency": answer.currency,
        "cost_per_kg": answer.cost_per_kg,
        "base_cost_per_kg": answer.base_cost_per_kg,
        "batch_kg": answer.batch_kg,
        "aims": [
            {"aim": name, "value": value, "unit": unit, "slack": answer.room.get(name)}
            for name, value, unit in answer.aims
        ],
        "formula": answer.formula,
        "rules": [_rule_line(line) for line in answer.rules],
        "unused": answer.unused,
        "tie": None if answer.tie is None else tie_data(answer.tie),
        "properties": properties_data(answer.properties),
        "second_opinion": opinion_data(answer.second_opinion),
        "change": answer.change,
        "proof": answer.proof,
        "choices_kept": answer.choices_kept,
        "steps": _steps(answer.steps),
        "solver": answer.solver,
        "allergens": _allergens(answer.allergens),
        "label_names": answer.label_names,
        "left_out": answer.left_out,
        "law": law_data(answer.basis.law),
        "notes": notes(answer.basis, [("", answer.properties)]),
        "cautions": [each.text for each in answer.cautions],
        "care": care_data(answer.cautions),
    }


def law_data(lines: Sequence[LawLine]) -> list[Data]:
    """Return what was checked of each market's law as data."""
    return [
        {
            "market": line.market,
            "limits": line.limits,
            "kept": line.kept,
            "edition": "; ".join(line.editions) or None,
            "read": line.read,
            "not_here": line.gaps,
            "asked": [_duty(each) for each in line.duties],
            "coming": [
                {
                    "limit": each.limit.name,
                    "max_percent": each.limit.high,
                    "percent": each.has,
                    "from": each.limit.scope.begins,
                    "supply_until": each.limit.scope.supply,
                    "instrument": each.limit.instrument,
                    "read": each.limit.scope.read,
                }
                for each in line.coming
            ],
        }
        for line in lines
    ]


def _duty(duty: Duty) -> Data:
    """Return what a market asks for as data."""
    return {
        "about": duty.about,
        "kind": duty.kind,
        "text": duty.text,
        "instrument": duty.instrument,
        "entry": duty.entry or None,
        "read": duty.scope.read,
    }


def _steps(steps: StepsTaken | None) -> Data | None:
    """Return the steps of amounts and what they cost, as data."""
    if steps is None:
        return None
    return {
        "step": steps.step,
        "own": steps.own,
        "kept": steps.kept,
        "rest": steps.rest,
        "finer": steps.finer,
        "cut_short": steps.cut,
        "as_good": steps.as_good,
        "without": {
            "cost_per_kg": steps.cost_per_kg,
            "aims": [
                {"aim": name, "value": value, "unit": unit}
                for name, value, unit in steps.aims
            ],
        },
    }


def clash_data(clash: Clash) -> Data:
    """Return a clash as data: ids in ``clash``, the rules themselves in ``rules``."""
    return {
        "status": clash.status,
        "title": clash.title,
        "scenario": clash.file,
        "causes": [cause_told(each) for each in clash.causes],
        "clash": [rule.id for rule in clash.rules],
        "rules": [rule_data(rule) for rule in clash.rules],
        "other_clashes": [[rule.id for rule in other] for other in clash.others],
        "ways_out": [
            {
                "ease": [
                    {"id": each.rule.id, "from": each.rule.limit, "to": each.to}
                    for each in way.easings
                ],
                "cost_per_kg": way.cost_per_kg,
                "change": way.change,
                "cut_short": way.cut,
            }
            for way in clash.ways_out
        ],
        "left_out": clash.left_out,
        "law": law_data(clash.law),
        "totals": [
            {"total": each.total, "clash": [rule.id for rule in each.rules]}
            for each in clash.totals
        ],
        "cut_short": clash.cut,
    }


def checked_data(checked: Checked) -> Data:
    """Return a checked formula as data."""
    return {
        "status": checked.status,
        "title": checked.title,
        "scenario": checked.file,
        "use": checked.use,
        "market": checked.markets,
        "currency": checked.currency,
        "cost_per_kg": checked.cost_per_kg,
        "batch_kg": checked.batch_kg,
        "formula": checked.formula,
        "rules": [_rule_line(line) for line in checked.lines],
        "missing": checked.missing,
        "properties": properties_data(checked.properties),
        "second_opinion": opinion_data(checked.second_opinion),
        "change": checked.change,
        "allergens": _allergens(checked.allergens),
        "label_names": checked.label_names,
        "law": law_data(checked.basis.law),
        "notes": (*checked.told, *notes(checked.basis, [("", checked.properties)])),
        "cautions": [each.text for each in checked.cautions],
        "care": care_data(checked.cautions),
    }


def problems_data(problems: Iterable[Problem]) -> Data:
    """Return what needs attention as data."""
    names = ("file", "row", "field", "found", "wrong", "fix")
    told = [
        {
            name: str(x) if isinstance(x := getattr(each, name), Phrase) else x
            for name in names
        }
        | ({} if each.cell is None else {"cell": each.cell})
        for each in problems
    ]
    return {"status": "error", "problems": told}


def tie_data(tie: Tie) -> Data:
    """Return another formula that does as well, or nearly."""
    return {
        "within": tie.within,
        "of": tie.aim,
        "value": tie.value,
        "distance": tie.distance,
        "moves": [
            {"ingredient": key, "name": name, "percent": here, "there": there}
            for key, name, here, there in tie.amounts
        ],
    }


def rule_data(rule: Rule) -> Data:
    """Return what a rule is, without how it stands."""
    return {
        "id": rule.id,
        "sentence": rule.sentence,
        "kind": rule.kind,
        "side": rule.side,
        "limit": rule.limit,
        "unit": rule.unit,
        "may_ease": rule.may_ease,
        "owner": rule.owner,
        "origin": str(rule.origin),
        "source": rule.source,
        "evidence": rule.evidence,
    }


def _rule_line(line: RuleLine) -> Data:
    return {
        **rule_data(line.rule),
        "value": line.value,
        "slack": line.slack,
        "binding": line.binding,
        "ease": _price(line.ease),
        "tighten": _price(line.tighten),
        "lower": _price(line.lowering),
        "raise": _price(line.raising),
        "jumps": line.jumps,
    }


def _price(price: Price | None) -> Data | None:
    """Return a price as data; where it holds to, without the last digits' noise."""
    if price is None:
        return None
    until = None if price.until is None else round(price.until, 6)
    return {"of": price.of, "price": price.price, "until": until}


def properties_data(lines: Sequence[PropertyLine]) -> list[Data]:
    """Return the properties of a formula as data."""
    return [
        {
            "property": line.property,
            "at": None if line.at is None else f"{line.at:g} degC",
            "over": line.over,
            "low": line.low,
            "value": line.value,
            "high": line.high,
            "unit": line.unit,
            "missing": line.missing,
            "without": [
                {"name": name, "percent": percent} for name, percent in line.without
            ],
            "second_opinion": line.second,
            "doubt": line.doubt,
            "rough_guess": [{"of": what, "percent": x} for what, x in line.rough],
            "least": line.least,
            "most": line.most,
        }
        for line in lines
    ]


def _allergens(lines: Sequence[AllergenLine]) -> list[Data]:
    return [{"allergen": x.allergen, "told": allergen_words(x)} for x in lines]
