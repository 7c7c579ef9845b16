"""What a recipe names that no catalogue knows: guessed, and told as a guess.

A recipe of the maker's own is not to stop at a name. One that can be but one thing
("lavender", a slip of spelling) is read so; any other becomes an ingredient of the
maker's own of which nothing is known but its category, where a word in its name tells
that, and not even what it is where none does: how an amount is measured tells nothing.
Both are handed back, to be told and written where they can be put right.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import CATEGORIES, UNKNOWN, Ingredient, Origin
from optimiser.domain.recipe import Match, WrittenLine
from optimiser.errors import Problem
from optimiser.reading.infusions import as_its_oil, infusions
from optimiser.reading.recipes.amounts import amount_and_name
from optimiser.reading.recipes.knowledge import Knowledge, read_knowledge
from optimiser.reading.recipes.names import LEAVES, Matcher, certain
from optimiser.reading.recipes.phrases import is_total
from optimiser.reading.recipes.spellings import tokens
from optimiser.reading.recipes.tables import read_recipe_table

__all__ = ["Strangers", "strangers"]

NOUNS = ("oil", "essential oil", "butter", "wax")  # left out of names that end so
LONGEST = 80  # signs of a name
# What is dried or ground, and petals and leaves. Flakes may be of anything: wax, soap.
GROUND, _GROUND = "powder", frozenset({"blitzed", "crushed", "dried", "ground"})
WIDER = {"butters": "soft butter"}  # categories of recipes that are none of the files'


class Strangers(Struct, frozen=True):
    """What was guessed of a recipe's names, and a catalogue that knows them.

    ``own`` are ingredients of the maker's own, those of which nobody knows what they
    are `UNKNOWN`. ``read_as`` is the ingredient key by written name; ``unclear`` are
    bare names that several may be meant by. ``overruled`` is the ingredient that is
    taught by the written name of an own one: what is taught counts.
    """

    catalogue: Catalogue
    own: tuple[Ingredient, ...] = ()
    read_as: Mapping[str, str] = {}
    unclear: tuple[Problem, ...] = ()
    overruled: Mapping[str, str] = {}


def strangers(
    path: Path, catalogue: Catalogue, folder: Path, workshop: str
) -> Strangers:
    """Return what names of a recipe's table stand for that nothing is known of.

    Nothing is guessed of a table in which no name is known, nor of a name that may be
    several ingredients: that is asked by whoever reads the amounts.
    """
    if path.suffix.casefold() in {".toml", ".json"}:
        return Strangers(catalogue)
    known = read_knowledge(folder, workshop, catalogue, None, [])
    matcher = Matcher(catalogue, known.words, known.taught)
    lines = [
        line
        for recipe in read_recipe_table(path, [], one=True)
        for line in map(_apart, recipe.lines)
        if not is_total(line.name)
    ]
    open_lines = [
        line
        for line in lines
        if catalogue.exact(line.name) is None
        and certain(matcher.match(line.name)) is None
    ]
    if len(open_lines) == len(lines):
        return Strangers(catalogue)
    found = _settled(open_lines, matcher, catalogue, workshop)
    return replace(found, overruled=dict(_overruled(lines, known, catalogue)))


def _overruled(
    lines: list[WrittenLine], known: Knowledge, catalogue: Catalogue
) -> Iterator[tuple[str, str]]:
    """Yield what stands in place of an ingredient that bears the same name."""
    for line in lines:
        own = catalogue.exact(line.name)
        taught = known.taught.get(fold(line.name))
        key = None if taught is None else certain(taught)
        if own is not None and key is not None and own != key:
            yield line.name, key


def _settled(
    lines: list[WrittenLine], matcher: Matcher, catalogue: Catalogue, workshop: str
) -> Strangers:
    own: dict[str, Ingredient] = {}
    read_as: dict[str, str] = {}
    unclear: list[Problem] = []
    for line in lines:
        match = matcher.match(line.name)
        alone = [match.ingredient] if match.ingredient else []
        found = alone or list(_with_a_noun(line.name, match, matcher))
        if len(found) == 1:
            read_as[line.name] = found[0]
        elif found:
            unclear.append(_unclear(line, found, catalogue))
        elif not match.options and matcher.asks_its_oil(line.name):
            continue  # it is asked: what it melts like, and its label, hang on that
        elif not found and _is_stranger(line.name, match):
            taken = {*catalogue.ingredients, *(each.key for each in own.values())}
            oil = catalogue.ingredients.get(matcher.made_in(line.name) or "")
            made = _stranger(line, match, workshop, taken, oil)
            own.setdefault(line.name, made)
    added = {each.key: each for each in own.values()}
    for name, key in read_as.items():
        each = added.get(key) or catalogue.ingredients[key]
        added[key] = replace(each, aliases=(*each.aliases, name))
    every = infusions(
        replace(catalogue, ingredients={**catalogue.ingredients, **added})
    )
    return Strangers(every, tuple(own.values()), read_as, tuple(unclear))


def _unclear(line: WrittenLine, keys: list[str], catalogue: Catalogue) -> Problem:
    names = " or ".join(catalogue.ingredients[key].name for key in keys)
    where, fix = line.origin, "name the one ingredient that it is"
    return Problem(
        f"may be {names}", where.file, where.row, "ingredient", line.name, fix
    )


def _apart(line: WrittenLine) -> WrittenLine:
    """Return a line with its amount in a cell of its own."""
    both = None if line.amount or line.unit else amount_and_name(line.name)
    return line if both is None else replace(line, amount=both[0], name=both[1])


def _with_a_noun(name: str, match: Match, matcher: Matcher) -> Iterator[str]:
    """Yield what a bare name is with the noun that people leave out."""
    if match.options or match.category is not None:
        return
    found = (certain(matcher.match(f"{name} {noun}")) for noun in NOUNS)
    yield from dict.fromkeys(key for key in found if key is not None)


def _is_stranger(name: str, match: Match) -> bool:
    """Whether a name may be that of an ingredient, and of none that is known."""
    letters = sum(each.isalpha() for each in name)
    return (
        not match.options and not match.absent and 3 <= letters <= len(name) <= LONGEST
    )


def _stranger(
    line: WrittenLine,
    match: Match,
    workshop: str,
    taken: set[str],
    oil: Ingredient | None = None,
) -> Ingredient:
    """Return an ingredient of the maker's own; ``oil`` is what it is infused in."""
    origin = Origin(f"workshops/{workshop}/ingredients.csv")
    key = _key(line.name, taken)
    if oil is not None:
        made = Ingredient(key, line.name, None, oil.category, origin)
        return as_its_oil(made, oil)
    category = WIDER.get(match.category or "", match.category)
    if category not in CATEGORIES:
        ground = _GROUND & {*tokens(line.name)} or match.form == LEAVES
        category = GROUND if ground else UNKNOWN
    return Ingredient(key, line.name, None, category, origin)


def _key(name: str, taken: set[str]) -> str:
    """Return a key of small letters, digits and underscores that nothing has yet."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    plain = plain.encode("ascii", "ignore").decode()
    key = re.sub(r"[^a-z0-9]+", "_", plain).strip("_") or "own"
    number, found = 1, key
    while found in taken:
        number += 1
        found = f"{key}_{number}"
    return found
