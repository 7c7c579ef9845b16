"""Names that spell several grades of one thing: which is taken until it is told."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.studies.survey.values import Grade, Recipe, RecipeLine

__all__ = ["grades"]

# Oil that is bred for oleic acid keeps longer, and few recipes say which they mean.
HIGH_OLEIC = "_high_oleic"
MAIN = 5.0  # percent of a recipe from which it matters which of two oils it is


def grades(recipes: Sequence[Recipe], catalogue: Catalogue) -> tuple[Grade, ...]:
    """Return the names whose grade is not told, what there is most of first."""
    found: dict[str, Grade] = {}
    for recipe in recipes:
        for line in recipe.lines:
            options = _options(line, catalogue) if line.percent is not None else ()
            if line.percent is None or not options:
                continue
            key = fold(line.written.name)
            before = found.get(key)
            found[key] = Grade(
                line.written.name if before is None else before.written,
                (*(before.recipes if before else ()), recipe.name),
                options[0],
                options[1:],
                max(before.most if before else 0.0, line.percent.value),
            )
    return tuple(sorted(found.values(), key=lambda each: -each.most))


def _options(line: RecipeLine, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the grades that a line may mean, the one taken first; none if it tells."""
    if line.match.asked:
        return line.match.options
    key = line.match.ingredient
    other = f"{key}{HIGH_OLEIC}"
    told = "oleic" in fold(line.written.name)
    much = line.percent is not None and line.percent.value >= MAIN
    if key is None or told or not much or other not in catalogue.ingredients:
        return ()
    return (key, other)
