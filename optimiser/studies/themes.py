"""Themes: named variants of one base, alone and in pairs; which fit, at what cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.scenario import Exclusions, Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.clashes import smallest_clash
from optimiser.studies.made import About, Made, Told, made, told

__all__ = ["ThemeAnswer", "Themes", "both", "themes"]

Read = tuple[Scenario, Catalogue]


class ThemeAnswer(Struct, frozen=True):
    """What a theme, or two together, came to.

    ``formula`` is None where none is possible; ``why`` then holds the sentences of
    rules that cannot all hold, or ``lacking`` what the input does.
    """

    names: tuple[str, ...]
    formula: Made | None
    why: tuple[str, ...] = ()
    lacking: tuple[Problem, ...] = ()


class Themes(Struct, frozen=True):
    """The plain scenario, each theme alone, and each pair of themes.

    ``pairs`` is by the places of the two in ``alone``, the smaller first.
    """

    about: About
    plain: ThemeAnswer
    alone: tuple[ThemeAnswer, ...]
    pairs: Mapping[tuple[int, int], ThemeAnswer]
    told: Told

    @property
    def possible(self) -> bool:
        """Whether any theme has a formula."""
        return any(each.formula is not None for each in self.alone)

    @property
    def lacking(self) -> tuple[Problem, ...]:
        """What the input lacks for the scenario and for themes alone, each once."""
        every = (self.plain, *self.alone)
        return tuple(dict.fromkeys(each for one in every for each in one.lacking))


def themes(
    plain: Read,
    alone: Iterable[tuple[str, Read]],
    pairs: Iterable[tuple[int, int, Read]] = (),
) -> Themes:
    """Return a proved formula for a scenario, for each theme, and for each pair.

    Parameters
    ----------
    plain : scenario and catalogue
        Without any theme.
    alone : iterable of name, (scenario, catalogue)
        The scenario with one theme laid over it, each.
    pairs : iterable of first, second, (scenario, catalogue)
        With two themes laid over it, by their places in ``alone``. What either
        theme alone keeps out stays out.
    """
    scenario, catalogue = plain
    singles = list(alone)
    answers = tuple(_answer((name,), read) for name, read in singles)
    found = {}
    for first, second, (pair, known) in pairs:
        one, other = singles[first][1][0], singles[second][1][0]
        out = both(both(pair.exclude, one.exclude), other.exclude)
        names = (singles[first][0], singles[second][0])
        found[first, second] = _answer(names, (replace(pair, exclude=out), known))
    every = (_answer((), plain), *answers, *found.values())
    used = [each.formula for each in every if each.formula is not None]
    excluding = replace(scenario, exclude=_all_of(singles, scenario.exclude))
    return Themes(
        about=About.of(scenario, catalogue),
        plain=every[0],
        alone=answers,
        pairs=found,
        told=told(used, excluding, catalogue),
    )


def _all_of(singles: Iterable[tuple[str, Read]], exclude: Exclusions) -> Exclusions:
    """Return what some theme keeps out, so that its caution is told."""
    for _, (scenario, _) in singles:
        exclude = both(exclude, scenario.exclude)
    return exclude


def both(first: Exclusions, second: Exclusions) -> Exclusions:
    """Return exclusions that keep out what either of two keeps out.

    Lists in a file laid over another take its place; two themes at once must keep
    both promises.
    """
    cautious = "cautious" in {first.reading, second.reading}
    return Exclusions(
        allergens=tuple(dict.fromkeys((*first.allergens, *second.allergens))),
        reading="cautious" if cautious else "listed",
        ingredients=tuple(dict.fromkeys((*first.ingredients, *second.ingredients))),
        categories=tuple(dict.fromkeys((*first.categories, *second.categories))),
        vegan=first.vegan or second.vegan,
        palm_free=first.palm_free or second.palm_free,
        origins={**second.origins, **first.origins},
    )


def _answer(names: tuple[str, ...], read: Read) -> ThemeAnswer:
    scenario, catalogue = read
    try:
        found = answer(scenario, catalogue)
    except InputError as error:
        return ThemeAnswer(names, None, lacking=tuple(error.problems))
    if isinstance(found, NoFormula):
        rules = smallest_clash(found.found.session)
        return ThemeAnswer(names, None, tuple(rule.sentence for rule in rules))
    title = " + ".join(names) or "plain"
    return ThemeAnswer(names, made(title, found, catalogue))
