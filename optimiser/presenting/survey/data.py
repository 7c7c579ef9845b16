"""A survey as plain data for JSON: the keys are stable."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.data import law_data, problems_data
from optimiser.presenting.survey.remarks import remarks_told, sum_told
from optimiser.presenting.survey.words import fault_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from optimiser.errors import Problem
    from optimiser.studies.survey.values import (
        Band,
        Base,
        Recipe,
        RecipeLine,
        Structure,
        Summary,
        Survey,
    )

__all__ = ["survey_data"]

Data = dict[str, Any]


def survey_data(
    survey: Survey, problems: Iterable[Problem], written: Iterable[str]
) -> Data:
    """Return a survey as data, with what could not be read and the files written."""
    return {
        "status": "answered" if survey.recipes else "error",
        "class": survey.product_class,
        "use": survey.use,
        "use_assumed": survey.use_assumed,
        "market": survey.markets,
        "climate_zone": survey.zone,
        "storage": survey.storage,
        "workshop": survey.workshop,
        "files": survey.files,
        "classes": survey.classes,
        "recipes": [_recipe(each, survey) for each in survey.recipes],
        "structures": [_structure(each) for each in survey.structures],
        "structure": survey.chosen,
        "base": _base(survey.base),
        "law": law_data(survey.law),
        "grades": survey.grades,
        "faults": [
            {"recipe": each.recipe, "kind": each.kind, "text": fault_words(each)}
            for each in survey.faults
        ],
        "problems": problems_data(problems)["problems"],
        "written": written,
    }


def _recipe(recipe: Recipe, survey: Survey) -> Data:
    firm = survey.firmness.get(recipe.name)
    return {
        "recipe": recipe.name,
        "class": recipe.product_class,
        "structure": recipe.structure,
        "used": recipe.used,
        "left_out": recipe.left_out,
        "fault": None if recipe.fault is None else fault_words(recipe.fault),
        "adds_up_to": sum_told(recipe.total),
        "remarks": remarks_told(recipe.remarks),
        "questions": problems_data(recipe.questions)["problems"],
        "firmness": firm,
        "lines": [_line(each) for each in recipe.lines],
    }


def _line(line: RecipeLine) -> Data:
    return {
        "row": line.written.origin.row,
        "ingredient_written": line.written.name,
        "amount_written": line.written.amount,
        "unit_written": line.written.unit,
        "ingredient": line.match.ingredient,
        "options": line.match.options,
        "category": line.category,
        "likeness": line.match.score,
        "nearest": line.match.nearest,
        "status": line.status,
        "percent": None if line.percent is None else line.percent.value,
        "range": _ends(line.percent),
        "doubt": _ends(line.doubt),
        "sure": line.sure,
        "how": remarks_told(line.remarks),
    }


def _ends(span: Any) -> list[float] | None:  # noqa: ANN401 - a Span or None
    return None if span is None else [span.low, span.high]


def _structure(structure: Structure) -> Data:
    return {
        "structure": structure.name,
        "recipes": structure.recipes,
        "categories": [_summary(each) for each in structure.categories],
        "ingredients": [_summary(each) for each in structure.ingredients],
        "bands": [_band(each) for each in structure.bands],
        "most_of_each": structure.tops,
        "least_of_each": structure.least,
        "windows": structure.windows,
    }


def _summary(summary: Summary) -> Data:
    return {
        "what": summary.what,
        "recipes": summary.users,
        "among": summary.among,
        "min": summary.least,
        "lower_quartile": summary.lower,
        "median": summary.median,
        "upper_quartile": summary.upper,
        "max": summary.most,
        "near_median": summary.near,
        "min_of": summary.least_of,
        "max_of": summary.most_of,
    }


def _band(band: Band) -> Data:
    return {
        "category": band.category,
        "min": band.low,
        "max": band.high,
        "recipes": band.summary.users,
        "influences": band.influences,
        "remark": band.remark,
    }


def _base(base: Base | None) -> Data | None:
    if base is None:
        return None
    return {
        "formula": base.lines,
        "moved": base.moved,
        "clash": [rule.id for rule in base.clash],
        "remarks": remarks_told(base.remarks),
        "left_open": base.left_open,
        "lowered": [
            {
                "ingredient": each.ingredient,
                "centre": each.centre,
                "ceiling": each.ceiling,
                "rule": each.rule.id,
            }
            for each in base.lowered
        ],
        "guards": base.guards,
        "moved_by": [
            {
                "rule": each.rule.id,
                "value": each.value,
                "by_second_opinion": each.by_second_opinion,
            }
            for each in base.moved_by
        ],
        "nearest_recipe": base.nearest,
        "instead_of_centre": base.instead,
    }
