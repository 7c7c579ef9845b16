"""Studies as data for JSON: the keys are stable."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict

from optimiser.presenting.data import law_data, properties_data
from optimiser.presenting.facts import allergen_words
from optimiser.presenting.notes import notes
from optimiser.presenting.studies.words import (
    given_up_words,
    substitute_notes,
    told_notes,
)

if TYPE_CHECKING:
    from optimiser.studies.made import About, Made, Told
    from optimiser.studies.robust import Doubt, Robust, Simulated
    from optimiser.studies.stock import Stock
    from optimiser.studies.substitute import Substitution
    from optimiser.studies.sweep import Sweep
    from optimiser.studies.themes import ThemeAnswer, Themes
    from optimiser.studies.tradeoff import Axis, Tradeoff
    from optimiser.studies.variants import Variants

__all__ = [
    "made_data",
    "robust_data",
    "stock_data",
    "substitute_data",
    "sweep_data",
    "themes_data",
    "told_data",
    "tradeoff_data",
    "variants_data",
]

Data = dict[str, Any]


def _about(of: About) -> Data:
    """Return what a study is about."""
    return {
        "title": of.title,
        "scenario": of.file,
        "currency": of.currency,
        "batch_kg": of.batch_kg,
    }


def told_data(told: Told) -> Data:
    """Return notes and cautions."""
    return {
        "notes": told_notes(told),
        "cautions": [each.text for each in told.cautions],
    }


def made_data(made: Made) -> Data:
    """Return a formula of a study."""
    lines = [asdict(line) for line in made.formula]
    for line in lines:
        del line["price_per_kg"]
    return {
        "title": made.title,
        "cost_per_kg": made.cost_per_kg,
        "formula": lines,
        "change": made.change,
        "properties": properties_data(made.properties),
        "allergens": [
            {
                "allergen": each.allergen,
                "ingredient": each.name,
                "told": allergen_words(each),
            }
            for each in made.allergens
        ],
        "label_order": made.label_order,
        "proof": made.proof,
    }


def _made_or_none(made: Made | None) -> Data | None:
    return None if made is None else made_data(made)


def variants_data(found: Variants) -> Data:
    """Return variants as data."""
    return {
        "status": "answered",
        **_about(found.about),
        "asked": found.asked,
        "within_percent": found.within_percent,
        "by": found.by,
        "different": found.different,
        "variants": [
            {
                **made_data(each.formula),
                "dearer_percent": each.dearer_percent,
                "came_in": each.came_in,
                "left": each.left,
                "moved": [{"name": name, "points": by} for name, by in each.moved],
                "cheaper_percent": each.formula.cheaper_percent,
            }
            for each in found.variants
        ],
        "cut_short": found.cut_short,
        "apart": {
            "by_ingredient": found.apart,
            "by_category": found.apart_by_category,
        },
        "no_more_exist": found.complete,
        "next_dearer_percent": found.next_dearer_percent,
        "aims_let_go": found.aims_let_go,
        **told_data(found.told),
    }


def themes_data(found: Themes) -> Data:
    """Return themes as data."""
    return {
        "status": "answered" if found.possible else "clash",
        **_about(found.about),
        "plain": _theme(found.plain),
        "themes": [_theme(each) for each in found.alone],
        "pairs": [_theme(each) for each in found.pairs.values()],
        **told_data(found.told),
    }


def _theme(each: ThemeAnswer) -> Data:
    return {
        "themes": each.names,
        "possible": each.formula is not None,
        "why_not": (*each.why, *map(str, each.lacking)),
        "formula": _made_or_none(each.formula),
    }


def substitute_data(found: Substitution) -> Data:
    """Return a substitute as data."""
    answer = found.answer
    said = notes(answer.basis, [("", answer.properties)])
    return {
        "status": "answered",
        **_about(found.about),
        "without": found.out,
        "base_from": found.base_from,
        "base": made_data(found.base),
        "formula": made_data(found.formula),
        "change": {
            "by_ingredient": found.apart,
            "by_kind": found.apart_by_kind,
            "by_category": found.apart_by_category,
        },
        "moves": found.moves,
        "category_moves": found.category_moves,
        "came_in": found.came_in,
        "given_up": [given_up_words(each) for each in found.given_up],
        "not_looked_at": found.passed_over,
        "left_out": found.left_out,
        "unpriced": found.unpriced,
        "held_by": [line.rule.id for line in found.held],
        "runners_up": [
            {
                "came_in": row.names,
                "by_ingredient": row.apart,
                "by_kind": row.apart_by_kind,
                "by_category": row.apart_by_category,
                "formula": made_data(row.formula),
            }
            for row in found.runners_up
        ],
        "notes": [*substitute_notes(found), *said],
        "cautions": [each.text for each in answer.cautions],
    }


def tradeoff_data(found: Tradeoff) -> Data:
    """Return a trade-off as data."""
    return {
        "status": "answered",
        **_about(found.about),
        "between": [_axis(found.up), _axis(found.across)],
        "straight_between_points": found.exact,
        "better_percent": found.better_percent,
        "cut_short": found.cut_short,
        "stopped": found.stopped,
        "points": [
            {
                "point": point.name,
                "across": point.across,
                "up": point.up,
                "slope": point.slope,
                "formula": made_data(point.formula),
            }
            for point in found.points
        ],
        "elbow": found.elbow,
        "steps": found.steps,
        "chosen": None if found.chosen is None else made_data(found.chosen[1]),
        **told_data(found.told),
    }


def _axis(axis: Axis) -> Data:
    return {
        "name": axis.name,
        "at": None if axis.at is None else f"{axis.at:g} degC",
        "unit": axis.unit,
        "wished": "more" if axis.more else "less",
    }


def stock_data(found: Stock) -> Data:
    """Return what the shelf makes as data; "nothing" if it is not one unit."""
    return {
        "status": "nothing" if found.formula is None else "answered",
        **_about(found.about),
        "unit_kg": found.unit_kg,
        "loss_percent": found.loss_percent,
        "base": found.base,
        "most_kg": found.most_kg,
        "batch_kg": found.batch_kg,
        "units": found.units,
        "formula": _made_or_none(found.formula),
        "takes": found.takes,
        "expired": found.expired,
        "lasts": [{"name": name, "kg": kg} for name, kg in found.lasts],
        "helps": found.helps,
        **told_data(found.told),
    }


def _doubt(of: Doubt) -> Data:
    """Return what is not certain; a fine scale where there is one."""
    fine = of.fine
    return {
        "prices_percent": of.prices_percent,
        "weighing_kg": of.weighing_kg,
        "figures": of.figures,
        **(
            {}
            if fine is None
            else {"fine_weighing_kg": fine.readability, "fine_most_kg": fine.most}
        ),
    }


def robust_data(found: Robust) -> Data:
    """Return robustness as data."""
    return {
        "status": "answered",
        **_about(found.about),
        "doubt": _doubt(found.doubt),
        "seed": found.seed,
        "plain": {**made_data(found.plain), **_simulated(found.simulated)},
        "budgets": [
            {
                "budget": row.budget,
                "premium": row.premium,
                "formula": _made_or_none(row.formula),
                **({} if row.simulated is None else _simulated(row.simulated)),
            }
            for row in found.budgets
        ],
        "largest_budget": found.most,
        "stopped": found.stopped,
        **told_data(found.told),
    }


def _simulated(of: Simulated) -> Data:
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


def sweep_data(found: Sweep) -> Data:
    """Return a sweep as data."""
    return {
        "status": found.status,
        "currency": found.currency,
        "asked": found.asked,
        "stopped": found.stopped,
        "lost": found.lost,
        "second_opinion": {"asked": found.melting, "held_by_a_line": found.lined},
        "law": law_data(found.law),
        "cases": found.cases,
    }
