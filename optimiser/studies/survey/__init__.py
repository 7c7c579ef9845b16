"""From reference recipes to bands and a base."""

from optimiser.studies.survey.formulas import AsFormula, as_formulas
from optimiser.studies.survey.study import Asked, survey
from optimiser.studies.survey.values import Recipe, Survey

__all__ = ["AsFormula", "Asked", "Recipe", "Survey", "as_formulas", "survey"]
