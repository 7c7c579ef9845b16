"""Ingredients, usage limits and allergens of a catalogue's folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from msgspec import Struct, field
from msgspec.structs import asdict, replace

from optimiser.domain.catalogue import fold
from optimiser.domain.material import (
    ALLERGEN_FLAGS,
    CATEGORIES,
    DISSOLVES,
    EVIDENCE,
    KINDS,
    NONE_IN_IT,
    PARTS,
    AllergenStatus,
    Ingredient,
    UsageLimit,
)
from optimiser.domain.spoken import (
    LISTED_NUTS,
    ONE_NUT,
    TELLING,
    allergen_named,
    market_named,
    unclear_allergen,
)
from optimiser.errors import Problem, alike
from optimiser.reading.folders import Folder, Ground
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, TableRow

__all__ = [
    "AUTHORITIES",
    "CAUTIONS",
    "ingredient_names",
    "read_allergens",
    "read_ingredients",
    "read_limits",
    "status_over",
]

AUTHORITIES = ("EU", "GB", "US", "AU", "CA")
FAMILIES = ("lauric", "cocoa-type", "palm-type", "animal", "other")
STAGES = ("melt", "cool-down", "thicken", "water", "dry")
YES_NO_ASK = ("yes", "no", "ask")
WHOSE = ("supplier", "practice", "opinion")
USES = ("leave-on", "rinse-off", "any")
CAUTIONS = (
    "dust",
    "slips",
    "sun",
    "children",
    "eyes",
    "heat",
    "food-look",
    "sensitiser",
    "broken-skin",
)
INGREDIENTS = Columns(
    "key,name,inci,inci_evidence,category,kind,dissolves,family,aliases,vegan,palm,"
    "stage,cautions,made_in,source,note",
    "inci inci_evidence kind dissolves family aliases vegan palm stage cautions made_in"
    " source note",
)
# A workshop's row about a shared ingredient says only what differs.
OWN_INGREDIENTS = Columns(
    INGREDIENTS.header, " ".join(set(INGREDIENTS.known) - {"key"})
)
LIMITS = Columns(
    "ingredient,whose,use,min_percent,max_percent,of,written_for,market,evidence,"
    "source,note",
    "written_for market source note",
)
ALLERGENS = Columns(
    "ingredient,allergen,EU,GB,US,AU,CA,flag,evidence,source,note",
    "EU GB US AU CA flag evidence source note",
)
VOUCHED = frozenset({"supplier", "measured"})  # evidence of what is not in it
Subject = tuple[str, ...]


class Listed(Struct):
    """The ingredients of a folder, and what its rows call them.

    ``spellings`` are the keys, names and aliases of all rows, those with problems too,
    so that one slip does not make every figure of an ingredient a figure of an unknown
    one; ``whole`` is False if the table, or a key or name, could not be read.
    """

    found: dict[str, Ingredient] = field(default_factory=dict)
    spellings: dict[str, str] = field(default_factory=dict)
    whole: bool = False


def read_ingredients(
    folder: Folder,
    sources: Names | None,
    shared: Mapping[str, Ingredient] | None = None,
) -> Listed:
    """Return the ingredients of a folder, in the order of its rows.

    ``shared`` are those that a workshop's rows lie over, where it is a workshop's.
    """
    under = shared or {}
    columns = OWN_INGREDIENTS if folder.own else INGREDIENTS
    table = folder.table("ingredients.csv", columns)
    if table is None:
        return Listed(whole=folder.own)
    ground = Ground(None, sources, own=True)
    listed = Listed(whole=table.whole)
    for row in table.rows:
        key = row.text("key")
        named = bool(row.text("name")) or key in under
        listed.whole = listed.whole and named and _is_key(key)
        for spelling in (key, row.text("name"), *row.parts("aliases")):
            if spelling:
                listed.spellings.setdefault(spelling, key)
    for row, each in table.each(lambda row: _ingredient(row, ground, under)):
        if each.key in listed.found:
            first = listed.found[each.key].origin.row
            fix = "give each ingredient one row and a key of its own"
            row.say("key", f"is in row {first} already", fix)
        else:
            listed.found[each.key] = each
    return listed


def _ingredient(
    row: TableRow, ground: Ground, under: Mapping[str, Ingredient]
) -> tuple[TableRow, Ingredient] | None:
    """Return a row of ingredients.csv, over that of the same key if there is one."""
    key = row.need("key")
    below = under.get(key or "")
    name = row.need("name") if below is None else row.text("name") or below.name
    category = row.choice("category", CATEGORIES, blank=below is not None)
    if category is None and below is not None and not row.text("category"):
        category = below.category
    kinds = KINDS.get(category or "")
    kind = row.choice("kind", kinds, blank=True) if kinds else None
    dissolves = row.choice("dissolves", DISSOLVES, blank=True)
    family = row.choice("family", FAMILIES, blank=True)
    vegan = row.choice("vegan", YES_NO_ASK, blank=True)
    palm = row.choice("palm", YES_NO_ASK, blank=True)
    stage = row.choice("stage", STAGES, blank=True)
    known = row.choice("inci_evidence", EVIDENCE, blank=True)
    if known and not row.text("inci") and (below is None or below.inci is None):
        wrong = "tells how well an INCI name is known, and there is none"
        row.say("inci_evidence", wrong, "write the name in inci, or leave this blank")
    ground.source(row)
    if key is None or name is None or category is None:
        return None
    if not _is_key(key):
        wrong = "is not a key of small letters, digits and underscores"
        row.say("key", wrong, "write it like cocoa_butter")
    found = Ingredient(
        key,
        name,
        row.text("inci") or None,
        category,
        row.origin,
        family=family,
        aliases=row.parts("aliases"),
        vegan=vegan,
        palm=palm,
        stage=stage,
        cautions=_cautions(row),
        inci_evidence=known or None,
        kind=kind,
        dissolves=dissolves,
        made_in=row.text("made_in") or None,
    )
    return row, found if below is None else _laid_over(found, below)


def _is_key(key: str) -> bool:
    """Whether a text is made of small letters, digits and underscores."""
    return key.isascii() and key.replace("_", "").isalnum() and key == key.lower()


def _laid_over(own: Ingredient, shared: Ingredient) -> Ingredient:
    """Return an ingredient with the maker's own fields over the shared ones.

    A blank keeps what is shared; names and aliases of both stand for it.
    """
    said = {
        name: value for name, value in asdict(own).items() if value not in {None, ()}
    }
    if own.inci is not None and own.inci != shared.inci:
        said["inci_evidence"] = own.inci_evidence
    if own.category != shared.category:
        said["kind"] = own.kind  # kinds are those of a category
    names = dict.fromkeys((*own.aliases, shared.name, *shared.aliases))
    said["aliases"] = tuple(x for x in names if fold(x) != fold(own.name))
    return replace(shared, **said)


def _cautions(row: TableRow) -> tuple[str, ...]:
    """Return the cautions of a row, each checked."""
    found = row.parts("cautions")
    for caution in found:
        if caution not in CAUTIONS:
            wrong = Names.of("caution", CAUTIONS).wrong(caution)
            row.say("cautions", wrong, f"write some of: {'; '.join(CAUTIONS)}")
    return found


def ingredient_names(
    ingredients: Mapping[str, Ingredient],
    spellings: Mapping[str, str],
    problems: list[Problem],
    read: Callable[[str], str | None],
    left_open: Callable[[str], str | None],
) -> Names:
    """Return every spelling of the ingredients, after checking that none is shared.

    Keys, names and aliases must each stand for one ingredient; an INCI name may be
    shared, and then it is no spelling of any. ``spellings`` are those of all rows, also
    of those with problems.
    """
    known: dict[str, str] = {}
    for each in ingredients.values():
        own = [("key", each.key), ("name", each.name)]
        own += [("aliases", alias) for alias in each.aliases]
        for column, spelling in own:
            other = known.setdefault(fold(spelling), each.key)
            if other != each.key:
                problems.append(_shared(each, column, spelling, ingredients[other]))
    inci: dict[str, list[str]] = {}
    for each in ingredients.values():
        if each.inci:
            inci.setdefault(fold(each.inci), []).append(each.key)
    for name, sharing in inci.items():
        if len(sharing) == 1:
            known.setdefault(name, sharing[0])
    shown = list(dict.fromkeys([*ingredients, *spellings.values()]))
    for spelling, key in spellings.items():
        known.setdefault(fold(spelling), key)
    names = [*shown, *_other_names(ingredients)]
    return Names("ingredient", known, names, read, left_open)


def _other_names(ingredients: Mapping[str, Ingredient]) -> Iterator[str]:
    """Yield the names and aliases that are spelt otherwise than the key."""
    for each in ingredients.values():
        for name in (each.name, *each.aliases):
            if fold(name) != fold(each.key):
                yield name


def _shared(each: Ingredient, column: str, found: str, other: Ingredient) -> Problem:
    """Return the problem of a spelling that stands for two ingredients."""
    wrong = f"is a name of {other.name} already ({other.origin})"
    fix = "keep it for one of the two"
    return Problem(wrong, each.origin.file, each.origin.row, column, found, fix)


def read_limits(folder: Folder, ground: Ground) -> dict[Subject, list[UsageLimit]]:
    """Return usage limits by (ingredient, whose, use)."""
    table = folder.table("limits.csv", LIMITS)
    found: dict[Subject, list[UsageLimit]] = {}
    if table is None:
        return found
    for each in table.each(lambda row: _limit(row, ground)):
        found.setdefault((each.ingredient, each.whose, each.use), []).append(each)
    return found


def _limit(row: TableRow, ground: Ground) -> UsageLimit | None:
    """Return a row of limits.csv; percents of ``of``."""
    ingredient = ground.ingredient(row)
    whose, use = row.choice("whose", WHOSE), row.choice("use", USES)
    low = row.number_in("min_percent", 0, 100)
    high = row.number_in("max_percent", 0, 100)
    of = row.choice("of", tuple(PARTS))
    evidence, source = ground.evidence(row), ground.source(row)
    if (whose == "opinion") != bool(row.text("market")):
        wrong = "is for an opinion, and an opinion needs it"
        row.say("market", wrong, "write where a committee gave its opinion, as in EU")
    if not row.text("min_percent") and not row.text("max_percent"):
        row.say("max_percent", "and min_percent are both blank", "write one of them")
    if low is not None and high is not None and low > high:
        row.say("min_percent", "is more than max_percent", "swap the two")
    if ingredient is None or whose is None or use is None or of is None:
        return None
    return UsageLimit(
        ingredient,
        whose,
        use,
        low,
        high,
        of,
        evidence,
        source,
        row.origin,
        row.text("written_for") or None,
        market_named(row.text("market")) or None,
    )


def read_allergens(folder: Folder, ground: Ground) -> dict[Subject, AllergenStatus]:
    """Return allergen statuses by (ingredient, allergen)."""
    table = folder.table("allergens.csv", ALLERGENS)
    found: dict[Subject, AllergenStatus] = {}
    if table is None:
        return found
    for row, each in table.each(lambda row: _allergen(row, ground)):
        subject = (each.ingredient, each.allergen)
        if subject in found:
            wrong = f"is in row {found[subject].origin.row} already for {subject[0]}"
            row.say("allergen", wrong, "give each ingredient and allergen one row")
        else:
            found[subject] = each
    return found


def status_over(own: AllergenStatus, shared: AllergenStatus) -> AllergenStatus:
    """Return an allergen status with the maker's own words over the shared ones."""
    said = {each: word for each, word in own.listed.items() if word is not None}
    flag = own.flag or shared.flag
    if own.flag == NONE_IN_IT and shared.flag not in {None, "unknown"}:
        flag = shared.flag  # a kernel stays one, whoever says that it is on no list
    vouched = flag == NONE_IN_IT  # by a word that no shared source has
    source = own.source or ("" if vouched else shared.source)
    return replace(own, listed={**shared.listed, **said}, flag=flag, source=source)


def _allergen(row: TableRow, ground: Ground) -> tuple[TableRow, AllergenStatus] | None:
    """Return a row of allergens.csv; a blank authority is not known.

    A "no" for every authority ends the asking where somebody who knows vouches for it.
    """
    ingredient, allergen = ground.ingredient(row), row.need("allergen")
    words = {each: row.choice(each, ("yes", "no"), blank=True) for each in AUTHORITIES}
    source = ground.source(row)
    evidence = ground.evidence(row) if row.text("evidence") else None
    flag = row.text("flag") or None
    if flag is not None and flag not in ALLERGEN_FLAGS:
        fix = f"leave it blank, or write one of: {', '.join(ALLERGEN_FLAGS)}"
        row.say("flag", "is not one of the words allowed here", fix)
    named = None if allergen is None else _allergen_named(row, allergen)
    if ingredient is None or named is None:
        return None
    listed = {
        each: None if word is None else word == "yes" for each, word in words.items()
    }
    if flag is None and evidence in VOUCHED and set(words.values()) == {"no"}:
        flag = NONE_IN_IT
    status = AllergenStatus(ingredient, named, listed, flag, source, row.origin)
    return row, status


def _allergen_named(row: TableRow, text: str) -> str | None:
    """Return which allergen a row is about; None where that is unclear, and said so.

    What is no other word for a known one, nor near it, is one of the maker's own.
    """
    found = text if text in TELLING else allergen_named(text, TELLING)
    if found is not None:
        return found
    unclear = unclear_allergen(text)
    if fold(text).removesuffix("s") in LISTED_NUTS:
        unclear = (ONE_NUT, "write tree nut, and in the note which one")
    elif unclear is None and (close := alike(text, TELLING, most=1, least=80.0)):
        fix = f"write {close[0]}; or, for another allergen, a name that is not so near"
        unclear = (f"is near {close[0]}, and no known name of it", fix)
    if unclear is not None:
        row.say("allergen", *unclear)
        return None
    return fold(text)
