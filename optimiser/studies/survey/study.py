"""The survey as a whole: written recipes in, bands, a base and faults out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.law import Zone
from optimiser.domain.recipe import Replies, Span, Written
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem, nearest
from optimiser.explaining.basis import laws
from optimiser.reading.recipes import Knowledge
from optimiser.studies.survey.base import propose_base
from optimiser.studies.survey.faults import (
    MISLEADING,
    Conditions,
    Known,
    faults,
    firmness,
    use_of_class,
    without_watery,
)
from optimiser.studies.survey.grades import grades
from optimiser.studies.survey.normalise import Normaliser
from optimiser.studies.survey.structures import split
from optimiser.studies.survey.summaries import (
    bands,
    category_summaries,
    grainy,
    ingredient_summaries,
    keeping,
    reacting,
    tops,
)
from optimiser.studies.survey.usage import Usage
from optimiser.studies.survey.values import (
    Base,
    Fault,
    Recipe,
    Structure,
    Survey,
    Wishes,
)
from optimiser.studies.survey.windows import windows

__all__ = ["Asked", "survey"]


class Asked(Struct, frozen=True):
    """What the maker wants to know.

    ``product_class`` None looks at all classes, without bands; ``use`` None takes
    the usual use of the class. ``middle`` takes the middle half of the recipes.
    """

    product_class: str | None = None
    structure: str | None = None
    use: str | None = None
    markets: tuple[str, ...] = ()
    zone: str | None = None
    workshop: str | None = None
    middle: bool = False


def survey(
    written: Sequence[Written],
    catalogue: Catalogue,
    knowledge: Knowledge,
    answers: Replies,
    asked: Asked,
) -> Survey:
    """Return what the recipes of a class have in common.

    Raises
    ------
    InputError
        If the class, the structure or the climate asked for is not there.
    """
    named = _with_names_of_their_own(written)
    classes = Counter(each.product_class for each in named)
    product_class = _class(asked.product_class, classes)
    of_class = [w for w in named if product_class in {None, w.product_class}]
    normaliser = Normaliser(catalogue, knowledge, answers)
    recipes = [normaliser.recipe(each) for each in of_class]
    held = Conditions(asked.use, knowledge.usual, _zone(asked, catalogue))
    known = Known(catalogue)
    found = tuple(fault for r in recipes for fault in faults(r, known, held))
    use = asked.use or use_of_class(product_class or "")
    zone = None if held.zone is None else held.zone.name
    structures: tuple[Structure, ...] = ()
    chosen, base = "", None
    firm = _firmness(recipes, known, held.zone)
    if product_class is not None:
        recipes = _without_faulty(recipes, found)
        recipes, structures = _structures(
            recipes, known, knowledge, held.zone, asked.middle
        )
        chosen = _chosen(asked.structure, structures)
        markets, workshop = asked.markets, asked.workshop
        wishes = Wishes(product_class, use, markets, workshop, zone)
        mine = _of_structure(recipes, chosen)
        others = (w for w in named if w.product_class != product_class)
        elsewhere = map(normaliser.recipe, others)  # read for a base only
        usage = Usage(recipes, elsewhere, catalogue, wishes)
        base = _base(mine, structures, usage)
    return Survey(
        product_class=product_class or "",
        files=tuple(dict.fromkeys(each.file for each in named)),
        use=use,
        use_assumed=asked.use is None,
        markets=asked.markets,
        zone=zone,
        workshop=asked.workshop,
        recipes=tuple(recipes),
        classes=dict(classes),
        structures=structures,
        chosen=chosen,
        base=base,
        faults=found,
        problems=tuple(_vain_answers(normaliser, named)),
        storage=None if held.zone is None else held.zone.high,
        firmness=firm,
        priced=_is_priced(base, catalogue, asked),
        law=laws(
            {} if base is None else {x.ingredient: x.percent for x in base.lines},
            Scenario(
                title=product_class or "",
                file="",
                workshop="",
                use=use,
                markets=asked.markets,
                batch_kg=1.0,
                aims=(),
                product=product_class,
            ),
            catalogue,
        ),
        grades=grades([each for each in recipes if each.used], catalogue),
    )


def _firmness(
    recipes: Iterable[Recipe], known: Known, zone: Zone | None
) -> dict[str, Span | None]:
    """Return the firmness of each recipe's lipids in a climate."""
    if zone is None:
        return {}
    return {each.name: firmness(each, known, zone.high) for each in recipes}


def _with_names_of_their_own(written: Sequence[Written]) -> list[Written]:
    """Return recipes, those of one name in several files told apart."""
    counts = Counter(each.name for each in written)
    return [
        each
        if counts[each.name] == 1
        else replace(each, name=f"{each.name} ({each.file})")
        for each in written
    ]


def _class(asked: str | None, classes: Mapping[str, int]) -> str | None:
    """Return the class as the recipes write it; the only one if none was asked for."""
    if asked is None:
        return next(iter(classes)) if len(classes) == 1 else None
    by_name = {fold(name): name for name in classes}
    found = by_name.get(fold(asked))
    if found is None and set(classes) == {""}:
        return ""
    if found is None:
        wrong = f"is no class of these recipes; {nearest(asked, classes)}"
        there = ", ".join(sorted(each or "(no class)" for each in classes))
        problem = Problem(wrong, found=asked, fix=f"the classes are {there}")
        raise InputError([problem])
    return found


def _zone(asked: Asked, catalogue: Catalogue) -> Zone | None:
    if asked.zone is None:
        return None
    found = catalogue.zone(asked.zone)
    if found is None:
        wrong = f"is no climate zone; {nearest(asked.zone, catalogue.zones)}"
        fix = f"the zones are {'; '.join(each.told for each in catalogue.climates)}"
        raise InputError([Problem(wrong, found=asked.zone, fix=fix)])
    return found


def _structures(
    recipes: Sequence[Recipe],
    known: Known,
    knowledge: Knowledge,
    zone: Zone | None,
    middle: bool,
) -> tuple[list[Recipe], tuple[Structure, ...]]:
    """Return the recipes with their structures, and the structures."""
    groups = split([each for each in recipes if each.used], known.catalogue)
    of = {each.name: name for name, group in groups.items() for each in group}
    usual = knowledge.usual.get("preservative")
    least = None if usual is None else usual.least
    told = [replace(each, structure=of.get(each.name, "")) for each in recipes]
    structures = []
    for name, group in groups.items():
        summaries = ingredient_summaries(group)
        each = Structure(
            name,
            tuple(each.name for each in group),
            category_summaries(group),
            summaries,
            keeping(grainy(bands(group, middle), group), group, least),
            tops(group),
            reacting(summaries, known.catalogue),
            windows(group, known, zone),
        )
        structures.append(each)
    return told, tuple(structures)


def _chosen(asked: str | None, structures: Sequence[Structure]) -> str:
    """Return the structure asked for, or the one with most recipes."""
    names = [each.name for each in structures]
    if asked is None or not names:
        return names[0] if names else ""
    starting = [name for name in names if fold(name).startswith(fold(asked))]
    if len(starting) == 1:
        return starting[0]
    wrong = f"is no structure of these recipes; {nearest(asked, names)}"
    fix = f"the structures are {'; '.join(names)}"
    raise InputError([Problem(wrong, found=asked, fix=fix)])


def _of_structure(recipes: Sequence[Recipe], chosen: str) -> list[Recipe]:
    return [each for each in recipes if each.used and each.structure == chosen]


def _base(
    mine: Sequence[Recipe], structures: Sequence[Structure], usage: Usage
) -> Base | None:
    """Return the base of the chosen recipes; None if none is used."""
    if not mine:
        return None
    structure = next(s for s in structures if s.name == mine[0].structure)
    return propose_base(mine, structure, usage)


def _without_faulty(recipes: Sequence[Recipe], found: Sequence[Fault]) -> list[Recipe]:
    """Return recipes, those marked whose faults bands would learn as their ends.

    One that only holds a little of what parts from its oils counts without that.
    Most must be left without them: else only those go that have too much of something,
    and where most have, all of them count.
    """
    used = {each.name for each in recipes if each.used}
    parts = {each.recipe for each in found if each.kind == "no emulsifier"}
    rest = {x.name: y for x in recipes if x.name in parts and (y := without_watery(x))}
    recipes = [rest.get(each.name, each) for each in recipes]
    found = [f for f in found if f.recipe not in rest or f.kind != "no emulsifier"]
    for kinds in (MISLEADING, MISLEADING & {"much scent", "no emulsifier"}):
        of = {f.recipe: f for f in found if f.kind in kinds and f.recipe in used}
        if 2 * len(of) < len(used):
            return [replace(each, fault=of.get(each.name)) for each in recipes]
    return list(recipes)


def _is_priced(base: Base | None, catalogue: Catalogue, asked: Asked) -> bool:
    """Whether a workshop has a price for all of the base."""
    if base is None or asked.workshop is None:
        return False
    keys = [line.ingredient for line in base.lines]
    return all(catalogue.price_per_kg(key) is not None for key in keys)


def _vain_answers(by: Normaliser, written: Iterable[Written]) -> Iterable[Problem]:
    """Yield answers about recipes or lines that are not there."""
    recipes = {fold(each.name): each for each in written}
    for (name, line), answer in by.answers.items():
        known = recipes.get(name)
        if known is None:
            wrong = f"is no recipe that was read; {nearest(answer.recipe, recipes)}"
            found = answer.recipe
        elif line and line not in {fold(each.name) for each in known.lines}:
            names = [each.name for each in known.lines]
            wrong = f"is no line of {known.name}; {nearest(answer.name, names)}"
            found = answer.name
        else:
            continue
        fix = "write the names as the recipe does"
        yield Problem(
            wrong, answer.origin.file, answer.origin.row, found=found, fix=fix
        )
