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
    writes: dict[str, list[tuple[str, RecipeLine, float]]] = {}
    for recipe in recipes:
        for line in recipe.lines:
            if line.percent is not None and _options(line, catalogue):
                told = (recipe.name, line, line.percent.value)
                writes.setdefault(fold(line.written.name), []).append(told)
    found = [_grade(each, catalogue) for each in writes.values()]
    return tuple(sorted(found, key=lambda each: -each.most))


def _grade(
    lines: Sequence[tuple[str, RecipeLine, float]], catalogue: Catalogue
) -> Grade:
    """Return what a name is taken as that recipes write on lines of so many percent."""
    (_, first, _), (_, last, _) = lines[0], lines[-1]
    taken, *others = _options(last, catalogue)
    return Grade(
        first.written.name,
        tuple(recipe for recipe, _, _ in lines),
        taken,
        tuple(others),
        max(percent for _, _, percent in lines),
    )


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
